"""The change sheet: what stands on it is what differs, on A4 and on Letter, and nothing runs off the page."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import PartId
from assembler.figure.pictures import Picture
from assembler.figure.settings import Settings
from assembler.projectfiles.planfile import as_written
from assembler.publishing.changesheet import PDF, change_page, change_sheet_html, write_change_sheet
from assembler.publishing.pdf import Typesetter
from assembler.publishing.pieces import page_style, page_templates
from assembler.publishing.words import load_words
from assembler.recut.changes import Changes
from assembler.recut.compare import compare_plans
from assembler.recut.numbering import keep_numbers
from tests.publishing import sample
from tests.recut.test_compare import NUT, OLD, SCREW, SPLIT, WASHER
from tests.recut.tower import Recipe, plan


@pytest.fixture(scope="module")
def split() -> Changes:
    """The second tube of the tower was cut in two."""
    return compare_plans(OLD, as_written(keep_numbers(plan(SPLIT), OLD)))


@pytest.fixture(scope="module")
def settings() -> Settings:
    return sample.SETTINGS


def test_the_page_says_what_differs_and_nothing_else(split: Changes) -> None:
    page = change_page(split, load_words())
    assert (page.pages_out, page.pages_in) == (("1", "2"), ("1a", "1b", "2"))
    assert [(row.name, row.what, row.is_to_do) for row in page.parts] == [("P02 into P07 and P08", "split", True)]
    assert [(row.name, row.what) for row in page.joints] == [
        ("J01", "gone"),
        ("J02", "gone"),
        ("J06", "new"),
        ("J07", "new"),
        ("J08", "new"),
    ]
    assert [(row.name, row.what) for row in page.steps] == [
        ("1", "dropped"),
        ("1a", "new"),
        ("1b", "new"),
        ("2", "changed"),
    ]
    assert [(row.amount, row.item) for row in page.buy] == [("6 ×", SCREW), ("6 ×", NUT), ("12 ×", WASHER)]
    assert page.give_back == ()
    assert [(row.name, row.what) for row in page.bags] == [
        ("J01", "empty"),
        ("J02", "empty"),
        ("J06", "make up"),
        ("J07", "make up"),
        ("J08", "make up"),
    ]
    assert {(row.name, row.what, row.lines) for row in page.labels} == {
        ("J06–J08", "make", ("bag labels",)),
        ("J01, J02", "take off", ("bag labels",)),
        # P01 is first needed in step 1a now: its label says so.
        ("P01, P07, P08", "make", ("part labels",)),
        ("P02", "take off", ("part labels",)),
    }
    assert page.same["parts"] == "P01, P03–P06"
    assert page.effective == (
        ("1a", "B", True),
        ("1b", "B", True),
        ("2", "B", True),
        *((number, "A", False) for number in "34567"),
    )


def test_a_book_without_changes_says_so() -> None:
    page = change_page(compare_plans(OLD, as_written(plan(Recipe(revision="B")))), load_words())
    assert page.lead == ("Nothing differs from revision A.",)
    told = (page.parts, page.joints, page.bolts, page.steps, page.buy, page.give_back, page.bags, page.labels)
    assert told == ((),) * 8


@pytest.mark.parametrize(("sheet", "size_pt"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_sheet_is_whole_and_tagged(
    split: Changes, settings: Settings, tmp_path: Path, sheet: str, size_pt: tuple[int, int]
) -> None:
    settings = replace(settings, sheet=sheet)
    style = page_style(page_templates(load_words(), None), sheet, "", "")
    assert Typesetter(base=tmp_path, style=style).pages(change_sheet_html(split, settings)).misfits == ()
    path = write_change_sheet(split, settings, tmp_path)
    assert path == tmp_path / PDF
    reader = PdfReader(path)
    assert tuple(round(float(value)) for value in reader.pages[0].mediabox[2:]) == size_pt
    text = " ".join(word for page in reader.pages for word in page.extract_text().split())
    for said in ("What has changed: B against A", "P02 into P07 and P08", "1a", "take off", SCREW):
        assert said in text
    assert "DRAFT" not in text
    catalogue = reader.trailer["/Root"]
    assert "/StructTreeRoot" in catalogue
    assert catalogue["/MarkInfo"]["/Marked"]
    assert reader.metadata is not None
    assert reader.metadata.title == "Tower – Change sheet, revision B"


def test_a_draft_says_so_on_every_page(split: Changes, settings: Settings, tmp_path: Path) -> None:
    pages = PdfReader(write_change_sheet(split, settings, tmp_path, is_draft=True)).pages
    assert all("DRAFT" in page.extract_text() for page in pages)


def test_parts_are_shown_as_they_were_and_as_they_are(split: Changes, settings: Settings, tmp_path: Path) -> None:
    for name in ("was.png", "now.png"):
        Image.new("RGB", (40, 40), "white").save(tmp_path / name)

    def picture(file: str, part: str) -> Picture:
        return Picture(file=file, width_px=40, height_px=40, alt=f"Part {part}.")

    html = change_sheet_html(
        split,
        settings,
        was={PartId("P02"): picture("was.png", "P02")},
        now={PartId("P07"): picture("now.png", "P07"), PartId("P01"): picture("now.png", "P01")},
    )
    assert html.index("P02 before") < html.index("P07 now")
    # A part that did not change is not shown.
    assert "P01 now" not in html


def test_a_finding_about_steps_alone_has_no_empty_name_before_it(split: Changes) -> None:
    props = Finding(level=Level.NOTE, code="props", about=("step 2", "step 3"), message="2 steps need a prop")
    page = change_page(replace(split, findings_new=(props,)), load_words())
    assert [row.lines[0] for row in page.findings if "prop" in row.lines[0]] == ["2 steps need a prop"]
