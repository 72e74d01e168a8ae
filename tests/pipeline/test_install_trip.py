"""From a figure that travels in two sections to its install book, through the command line."""

from __future__ import annotations

import json
import re
from pathlib import Path

import openpyxl
import pytest
from pypdf import PdfReader

from assembler.cli import main
from tests.pipeline.tower import write_tower

_WAY = """
[[passage]]
name = "shop door"
width_mm = 420
height_mm = 500
turn_mm = 420

[vehicle]
length_mm = 2400
width_mm = 1500
height_mm = 1400
payload_kg = 600

[base]
"""
_PLACES = "anchors_at_mm = [[150, 150, -160], [-150, 150, -160], [-150, -150, -160], [150, -150, -160]]"


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tower, bolted only, with a door that takes neither of its positions whole."""
    folder = tmp_path_factory.mktemp("install")
    root = folder / "tower"
    assert main(["survey", str(write_tower(folder / "exports")), str(root)]) == 0
    joints, figure = root / "joints.toml", root / "figure.toml"
    joints.write_text(joints.read_text().replace('method = "bolted and bonded"', 'method = "bolted"'))
    text = figure.read_text().replace("\n[base]\n", _WAY, 1).replace("anchors = 0 ", "anchors = 4 ")
    text = text.replace('anchor_size = ""', 'anchor_size = "M10"').replace("anchors_at_mm = []", _PLACES)
    figure.write_text(text)
    assert main(["book", str(root)]) <= 1
    return root


@pytest.fixture(scope="module")
def pages(project: Path) -> list[str]:
    reader = PdfReader(project / "books" / "draft" / "install-book.pdf")
    return [page.extract_text() for page in reader.pages]


def test_plan_json_says_why_there_are_two_sections(project: Path) -> None:
    plan = json.loads((project / "books" / "draft" / "plan.json").read_text(encoding="utf-8"))
    division = plan["division"]
    assert [section["parts"] for section in division["sections"]] == [["P01", "P02"], ["P03"]]
    assert division["cuts"] == ["J02"]
    assert [step["joints"] for step in plan["steps"] if step["place"] == "site" and step["joints"]] == [["J02"]]
    kinds = [step["kind"] for step in plan["steps"]]
    assert kinds.index("dry fit") < kinds.index("open")


def test_the_book_has_crates_base_steps_and_care(pages: list[str]) -> None:
    whole = "\n".join(pages)
    for said in ("Crate C1 with section S1", "This way up", "Loading", "The way in", "Setting up", "Care plan"):
        assert said in whole, said
    assert len([page for page in pages if page.count("Drilling template")]) == 4
    # Only what is done on site: the trial fit is the shop's.
    assert "Trial fit" not in whole


def test_every_part_and_the_bag_of_the_site_joint_is_packed_once(project: Path) -> None:
    book = openpyxl.load_workbook(project / "books" / "draft" / "hardware.xlsx")
    rows = list(book["In crates"].iter_rows(min_row=2, values_only=True))
    parts = sorted(str(name)[:3] for _, kind, name in rows if kind == "part")
    assert parts == ["P01", "P02", "P03"]
    bags = [(crate, str(name)[:3]) for crate, kind, name in rows if kind == "bag of a site joint"]
    # The light ring travels with the rest, and its bag with it.
    assert bags == [("C1", "J02")]


def test_the_template_is_printed_at_its_true_size(project: Path) -> None:
    """A blue square of 100 mm is 283.46 points wide on the page."""
    reader = PdfReader(project / "books" / "draft" / "install-book.pdf")
    page = next(page for page in reader.pages if "Drilling template" in page.extract_text())
    sizes: set[float] = set()

    def seen(operator: bytes, operands: list[object], matrix: list[float], _: list[float]) -> None:
        if operator == b"re":
            sizes.add(round(abs(float(str(operands[2])) * matrix[0]), 1))

    page.extract_text(visitor_operand_before=seen)
    assert any(size == pytest.approx(100.0 / 25.4 * 72.0, abs=0.2) for size in sizes), sorted(sizes)


def test_check_shows_sections_and_crates(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(project)]) <= 1
    said = capsys.readouterr().out
    assert re.search(r"Sections: 2 \(fewer are impossible", said)
    assert "joined on site: J02" in said
    assert "Crates: 1" in said


def test_a_figure_without_a_way_has_no_install_book(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = tmp_path / "tower"
    main(["survey", str(write_tower(tmp_path / "exports")), str(root)])
    assert main(["book", str(root), "--only", "install"]) == 2
    assert "says nothing of the way to the site" in capsys.readouterr().err
