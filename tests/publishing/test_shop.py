"""The shop file: labels say what they stick on, matrix and picks lose nothing, the contact sheet shows every joint."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
import segno

from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.publishing.pieces import Printed
from assembler.publishing.shop import (
    QUIET_MODULES,
    STOCK,
    Label,
    bag_labels,
    code_words,
    dated,
    part_labels,
    shop_file,
    square_code,
)
from assembler.publishing.source import Source
from assembler.publishing.words import load_words
from tests.publishing import sample
from tests.publishing.conftest import Written


def labels_of(source: Source, before: Mapping[str, PrintedPiece], again: set[str]) -> tuple[tuple[Label, ...], Printed]:
    printed = Printed(Path("nowhere"), before, source.plan.revision)
    labels = (*part_labels(source), *bag_labels(source))
    return dated(labels, printed, again, source.plan.figure_name, source.words), printed


def test_each_part_and_each_bag_has_one_label(source: Source) -> None:
    assert [label.id for label in part_labels(source)] == [part.id for part in sample.PARTS]
    bags = bag_labels(source)
    glued = {row.joint for row in sample.BONDINGS}
    assert [label.id for label in bags] == [joint.id for joint in sample.JOINTS if joint.bolts or joint.id in glued]
    lines = [line.replace("\u00a0", " ") for line in bags[0].lines]
    assert lines[:3] == ["6 screws M8 × 40", "12 washers M8", "6 nuts M8"]
    assert any(line.endswith("N·m, socket 13 mm") for line in lines)


def test_a_part_label_says_side_mass_step_and_what_not_to_touch(source: Source) -> None:
    parts = tuple(
        replace(part, file=part.file.replace("legs_front", "leg_left")) if part.id == "P02" else part
        for part in sample.PARTS
    )
    label = part_labels(replace(source, plan=replace(sample.PLAN, parts=parts)))[1]
    assert (label.side, label.mass, label.step) == ("left", source.units.mass(parts[1].mass_kg), "1")
    assert "do not touch" in label.warning
    assert label.up is not None
    assert label.picture is not None
    # A name that says nothing of a side gets none: nobody guesses where the front is.
    assert part_labels(source)[0].side == ""


def test_the_code_holds_words_and_differs_from_label_to_label(source: Source) -> None:
    words = load_words()
    said = [code_words(label, sample.PLAN.figure_name, words) for label in part_labels(source)]
    assert said[1] == "Sample hare B | P02 | legs_front | step 1"
    assert len({square_code(text) for text in said}) == len(said)


def test_the_code_can_be_read() -> None:
    """Every module of the code, as the page draws it, is what segno made of the words."""
    text = "Sample hare B | P02 | legs_front | step 1"
    matrix = [[bool(dark) for dark in row] for row in segno.make(text, error="m", micro=False).matrix]
    drawn = [[False] * len(row) for row in matrix]
    for x, y, run in re.findall(r"M(\d+) (\d+)\.5h(\d+)", square_code(text)):
        for place in range(int(run)):
            drawn[int(y) - QUIET_MODULES][int(x) - QUIET_MODULES + place] = True
    assert drawn == matrix


def test_a_label_keeps_its_revision_until_it_or_what_it_sticks_on_changes(source: Source) -> None:
    def planned(plan: Plan) -> Source:
        return replace(source, plan=plan)

    _, first = labels_of(source, {}, set())
    first_part, *others = sample.PLAN.parts
    renamed = replace(sample.PLAN, revision="C", parts=(replace(first_part, file="other.stl"), *others))
    labels, second = labels_of(planned(renamed), first.now, {others[0].id})
    assert {label.id for label in labels if label.revision == "C"} == {first_part.id, others[0].id}
    # The one after it: what was made for C is still in force.
    _, third = labels_of(planned(replace(renamed, revision="D")), second.now, set())
    assert {name: piece.revision for name, piece in third.now.items()} == {
        name: piece.revision for name, piece in second.now.items()
    }


@pytest.mark.parametrize("name", sorted(STOCK))
def test_every_label_lies_on_its_sheet(source: Source, name: str) -> None:
    stock = STOCK[name]
    labels, _ = labels_of(source, {}, set())
    file = shop_file(replace(source, settings=replace(source.settings, labels=name)), labels)
    assert tuple(label for sheet in file.labels for label in sheet) == labels
    assert max(len(sheet) for sheet in file.labels) <= stock.columns * stock.rows
    width, height = (215.9, 279.4) if name == "101.6 x 84.7" else (210.0, 297.0)
    assert stock.left_mm + stock.columns * stock.width_mm + (stock.columns - 1) * stock.gap_mm <= width + 0.1
    assert stock.top_mm + stock.rows * stock.height_mm <= height + 0.1


def test_matrix_and_picks_lose_nothing(source: Source) -> None:
    file = shop_file(source, ())
    assert {bag for bag, _, _ in file.matrix} == {line.joint for line in sample.HARDWARE}
    pieces = sum(float(cell) for _, _, cells in file.matrix for cell in cells if cell)
    assert pieces == sum(line.count for line in sample.HARDWARE)
    rows = [row for _, day in file.days for row in day]
    bags = Counter(bag for row in rows for bag in row.bags.split(", ") if bag)
    assert bags == Counter({line.joint: 1 for line in sample.HARDWARE})
    parts = Counter(name.split()[0] for row in rows for name in row.parts.split(", ") if name)
    assert parts == Counter({part.id: 1 for part in sample.PARTS if source.arrival(part.id)})


def test_a_joint_on_the_contact_sheet_says_from_where_it_is_seen(source: Source) -> None:
    upright = replace(sample.JOINTS[0], normal=(1.0, 0.0, 0.0))
    flat = replace(sample.JOINTS[1], normal=(0.0, 0.0, 1.0))
    plan = replace(sample.PLAN, joints=(upright, flat, *sample.JOINTS[2:]))
    first, second, *_ = shop_file(replace(source, plan=plan), ()).cards
    assert (first.is_upright, second.is_upright) == (True, False)
    assert second.seen == f"seen from below, from {flat.parts[0]}"


def test_the_file_holds_every_label_and_every_joint(all_written: dict[str, Written]) -> None:
    text = "\n".join(all_written["shop"].texts)
    for part in sample.PARTS:
        assert part.id in text
    for joint in sample.JOINTS:
        assert len(re.findall(rf"\b{joint.id}\b", text)) >= 2
