"""Labels: one for each part and bag, and codes that say what is printed."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdf
import segno
from assembler.publishing.labels import (
    PDF,
    QUIET_MODULES,
    bag_labels,
    code_words,
    part_labels,
    square_code,
    write_labels,
)

from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.publishing.source import Earlier
from assembler.publishing.words import load_words
from assembler.recut.changes import LabelChange
from assembler.recut.compare import compare_plans
from tests.publishing import sample
from tests.publishing.conftest import source_of
from tests.recut.test_compare import OLD


def test_each_part_and_each_bag_has_one_label() -> None:
    words = load_words()
    assert [label.id for label in part_labels(sample.PLAN, words)] == [part.id for part in sample.PARTS]
    bags = bag_labels(sample.PLAN, sample.HARDWARE, words)
    assert [label.id for label in bags] == [joint.id for joint in sample.JOINTS if joint.bolts]
    assert bags[0].lines == tuple(
        text.replace(" x ", "\u00a0×\u00a0") for text in ("6 screws M8 x 40", "12 washers M8", "6 nuts M8")
    )


def test_the_code_holds_words_and_differs_from_label_to_label() -> None:
    words = load_words()
    said = [code_words(label, sample.PLAN.figure_name, words) for label in part_labels(sample.PLAN, words)]
    assert said[1] == "Sample hare B | P02 | legs_front.stl | step 1"
    assert len({square_code(text) for text in said}) == len(said)


def test_the_code_can_be_read() -> None:
    """Every module of the code, as the page draws it, is what segno made of the words."""
    text = "Sample hare B | P02 | legs_front.stl | step 1"
    matrix = [[bool(dark) for dark in row] for row in segno.make(text, error="m", micro=False).matrix]
    drawn = [[False] * len(row) for row in matrix]
    for x, y, run in re.findall(r"M(\d+) (\d+)\.5h(\d+)", square_code(text)):
        for place in range(int(run)):
            drawn[int(y) - QUIET_MODULES][int(x) - QUIET_MODULES + place] = True
    assert drawn == matrix


def test_the_sheet_has_all_of_them(tmp_path: Path) -> None:
    _written(tmp_path, sample.PLAN)
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / PDF).pages)
    for name, file in sample.NAMES.items():
        assert text.count(f"{name}{file}") == 1
    for joint in sample.JOINTS:
        assert len(re.findall(rf"bag\n{joint.id}", text)) == bool(joint.bolts)


def _written(folder: Path, plan: Plan, **earlier: Any) -> Mapping[str, PrintedPiece]:
    return write_labels(replace(source_of(folder), plan=plan), folder, Earlier(**earlier))


def test_a_label_keeps_its_revision_until_it_or_what_it_sticks_on_changes(tmp_path: Path) -> None:
    first = _written(tmp_path, sample.PLAN)
    first_file, *others = sample.PLAN.parts
    renamed = replace(sample.PLAN, revision="C", parts=(replace(first_file, file="other.stl"), *others))
    again = others[0].id
    made = LabelChange(kind="part", about=again, action="make", why="reshaped")
    changes = replace(compare_plans(OLD, OLD), labels=(made,))
    second = _written(tmp_path, renamed, changes=changes, printed=first)
    moved = {name.removeprefix("label ") for name, piece in second.items() if piece.revision == "C"}
    assert moved == {first_file.id, again}
    # The one after it: what was made for C is still in force.
    third = _written(tmp_path, replace(renamed, revision="D"), printed=second)
    assert {name: piece.revision for name, piece in third.items()} == {
        name: piece.revision for name, piece in second.items()
    }
    text = "\n".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / PDF).pages)
    assert text.count("Sample hare C") == 2
