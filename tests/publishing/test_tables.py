"""hardware.csv and hardware.xlsx read back: one meaning a row, sums agree, nothing is lost, LibreOffice opens both."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from assembler.publishing.source import Source
from assembler.publishing.supplies import Supply, supply_rows, to_buy
from assembler.publishing.tables import COLUMNS, hardware_csv, hardware_xlsx
from assembler.publishing.words import load_words
from tests.publishing import sample


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def sheets_of(data: bytes) -> dict[str, list[tuple[Any, ...]]]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book}


@pytest.fixture(scope="module")
def supplies(source: Source) -> tuple[Supply, ...]:
    return supply_rows(source)


def test_bags_and_spares_add_up_to_what_is_bought(supplies: tuple[Supply, ...]) -> None:
    rows = rows_of(hardware_csv(supplies))
    figure: Counter[str] = Counter()
    spare: Counter[str] = Counter()
    for row in rows:
        if row["unit"] == "pieces" and row["standard"]:
            name = f"{row['item']} {row['standard']}"
            figure[name] += int(row["count"] or 0)
            spare[name] += int(row["spare"] or 0)
    bought = {row.item.partition(" - ")[0]: row for row in sample.BUY}
    assert figure == {name: row.count for name, row in bought.items()}
    assert spare == {name: row.spares for name, row in bought.items()}


def test_every_bag_names_its_step_its_tool_and_its_torque(supplies: tuple[Supply, ...]) -> None:
    rows = [row for row in rows_of(hardware_csv(supplies)) if row["bag"] == row["joint"] != ""]
    assert {row["bag"] for row in rows} == {line.joint for line in sample.HARDWARE}
    for row in rows:
        (step,) = [step.number for step in sample.STEPS if row["joint"] in step.joints]
        assert row["step"] == step
        assert row["grade"]
        if row["item"].startswith("Hexagon head screw"):
            assert row["tool"] == "socket 13 mm"
            assert float(row["torque_nm"]) > 0
            assert float(row["length_mm"]) > 0


def test_adhesive_and_what_is_used_up_stand_in_it(supplies: tuple[Supply, ...]) -> None:
    rows = rows_of(hardware_csv(supplies))
    doses = {row["joint"]: float(row["count"]) for row in rows if row["unit"] == "ml" and row["joint"]}
    assert doses.keys() == {row.joint for row in sample.BONDINGS}
    assert all(row.volume_ml <= doses[row.joint] < row.volume_ml + 1 for row in sample.BONDINGS)
    named = {row["item"] for row in rows}
    assert {"Mixing nozzle", "Masking tape", "Abrasive", "Degreaser and wipes"} <= named
    assert {row.name for row in sample.SETTINGS.finish if row.coverage_m2_l > 0} <= named


def test_the_order_of_the_input_does_not_matter(source: Source) -> None:
    turned = replace(source, hardware=sample.HARDWARE[::-1], bondings=sample.BONDINGS[::-1])
    assert hardware_csv(supply_rows(turned)) == hardware_csv(supply_rows(source))


def test_without_supplies_only_the_heads_are_left() -> None:
    assert hardware_csv(()) == ",".join(COLUMNS) + "\n"
    assert [len(rows) for rows in sheets_of(hardware_xlsx((), load_words())).values()] == [1, 1, 1]


def test_the_workbook_has_all_rows_by_bag_by_step_and_to_buy(supplies: tuple[Supply, ...]) -> None:
    sheets = sheets_of(hardware_xlsx(supplies, load_words()))
    assert list(sheets) == ["By bag", "By step", "To buy"]
    assert Counter(row[0] for row in sheets["By bag"][1:]) == Counter(row.bag for row in supplies if row.bag)
    assert Counter(row[0] for row in sheets["By step"][1:]) == Counter(row.step for row in supplies if row.step)
    bought = sheets["To buy"][1:]
    assert len(bought) == len(to_buy(supplies))
    head = sheets["To buy"][0]
    for row in bought:
        cells = dict(zip(head, row, strict=True))
        assert cells["Total"] == (cells["Count"] or 0) + (cells["Spare"] or 0)


def test_the_same_rows_give_the_same_bytes_later(supplies: tuple[Supply, ...]) -> None:
    first = hardware_xlsx(supplies, load_words())
    # Times in a packed file go by two seconds.
    time.sleep(2.1)
    assert hardware_xlsx(supplies, load_words()) == first


def test_libreoffice_opens_both(supplies: tuple[Supply, ...], tmp_path: Path) -> None:
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("LibreOffice is not installed: nobody has opened the tables with it")
    (tmp_path / "hardware.csv").write_text(hardware_csv(supplies), encoding="utf-8")
    (tmp_path / "book.xlsx").write_bytes(hardware_xlsx(supplies, load_words()))
    for file, name in (("hardware.csv", "hardware.ods"), ("book.xlsx", "book.ods")):
        subprocess.run(
            [office, "--headless", "--convert-to", "ods", "--outdir", tmp_path, tmp_path / file],
            check=True,
            timeout=120,
            capture_output=True,
            env={"HOME": str(tmp_path), "PATH": "/usr/bin:/bin"},
        )
        assert (tmp_path / name).stat().st_size > 1000
