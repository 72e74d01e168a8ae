"""hardware.xlsx read back with another library: the same numbers as hardware.csv, the same bytes at any time."""

from __future__ import annotations

import csv
import io
import time
from typing import Any

import openpyxl

from assembler.publishing.spreadsheet import hardware_xlsx
from assembler.publishing.tables import hardware_csv
from assembler.publishing.words import load_words
from assembler.words import built_in
from tests.publishing import sample


def read(data: bytes) -> dict[str, list[tuple[Any, ...]]]:
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book}


def test_the_workbook_says_what_the_csv_says() -> None:
    sheets = read(hardware_xlsx(sample.HARDWARE, sample.BUY, load_words()))
    rows = list(csv.DictReader(io.StringIO(hardware_csv(built_in(), sample.HARDWARE, sample.BUY))))
    assert list(sheets) == ["To buy", "Bags"]
    buy, bags = sheets["To buy"][1:], sheets["Bags"][1:]
    assert [(item, str(count), str(spares), str(packs)) for item, count, spares, _, packs, _ in buy] == [
        (row["item"], row["count"], row["spares"], row["packs"]) for row in rows if row["list"] == "buy"
    ]
    assert all(total == count + spares for _, count, spares, total, _, _ in buy)
    assert [
        (joint, item, f"{length:g}" if length else "", str(count), f"{torque:g}" if torque else "")
        for joint, item, _, _, length, count, torque in bags
    ] == [
        (row["bag"], row["item"], row["length_mm"], row["count"], row["torque_nm"])
        for row in rows
        if row["list"] == "bag"
    ]


def test_the_same_lines_give_the_same_bytes_later() -> None:
    first = hardware_xlsx(sample.HARDWARE, sample.BUY, load_words())
    # Times in a packed file go by two seconds.
    time.sleep(2.1)
    assert hardware_xlsx(sample.HARDWARE, sample.BUY, load_words()) == first


def test_without_hardware_only_the_heads_are_left() -> None:
    assert [len(rows) for rows in read(hardware_xlsx((), (), load_words())).values()] == [1, 1]
