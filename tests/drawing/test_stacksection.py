"""The section through a bolt: its numbers are those of the stack, its parts lie in order, its words stay apart."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from assembler.drawing.details import flange_thickness
from assembler.drawing.explode import Axis, axes_of
from assembler.drawing.overlay import text_width
from assembler.drawing.stacksection import Flanges, pieces_of, stack_section
from assembler.drawing.style import SECTION_MM, pixels, px
from tests.drawing.specimens import skittle

NAMES = ("flange of P01", "flange of P03")
EVEN = Flanges(head_mm=8.0, nut_mm=8.0, is_measured=True)


@pytest.fixture
def axis() -> Axis:
    return axes_of(skittle().drawn[2])[0]


def test_pieces_touch_and_end_where_the_protrusion_begins(axis):
    pieces = pieces_of(skittle().drawn[2], axis, EVEN, NAMES)
    assert [piece.kind for piece in pieces] == ["head", "washer", "flange", "bond line", "flange", "washer", "nut"]
    for before, after in zip(pieces, pieces[1:], strict=False):
        assert before.end_mm == pytest.approx(after.start_mm)
    bond = next(piece for piece in pieces if piece.kind == "bond line")
    assert bond.end_mm - bond.start_mm == pytest.approx(axis.stack.grip_mm - 16.0)
    washers_grip_nut = 2 * 1.8 + 16.3 + 6.8
    assert pieces[-1].end_mm == pytest.approx(washers_grip_nut)
    assert axis.stack.length_mm - pieces[-1].end_mm == pytest.approx(axis.stack.protrusion_mm)


def test_no_bond_line_where_the_grip_has_none_and_no_nut_on_an_insert(axis):
    plain = replace(axis, stack=replace(axis.stack, grip_mm=16.0, washers=1, nut=""))
    kinds = [piece.kind for piece in pieces_of(skittle().drawn[2], plain, EVEN, NAMES)]
    assert kinds == ["head", "washer", "flange", "flange"]


def test_numbers_on_the_picture_are_those_of_the_stack(axis):
    svg, scale = stack_section(skittle().drawn[2], axis, EVEN, "J03", NAMES)
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", svg)
    assert {"grip 16.3", "length 30", "protrusion 3.3", "bond line 0.3", "flange of P01 8.0", "J03"} <= set(texts)
    assert f"{scale} on A4, mm" in texts
    assert scale == "1 : 1"
    halved, _ = stack_section(skittle().drawn[2], axis, replace(EVEN, is_measured=False), "J03", NAMES)
    assert ">flange of P01</text>" in halved


def test_scale_is_true(axis):
    svg, _ = stack_section(skittle().drawn[2], axis, EVEN, "J03", NAMES)
    sizes = re.findall(r'<rect x="[^"]*" y="[^"]*" width="([\d.]+)" height="([\d.]+)"', svg)
    shank = (pytest.approx(px(8.0), abs=0.1), pytest.approx(px(30.0), abs=0.1))
    assert sum((float(wide), float(tall)) == shank for wide, tall in sizes) == 1


TEXT = re.compile(
    r'<text x="([\d.-]+)" y="([\d.-]+)" font-family="[^"]*" font-size="([\d.]+)" text-anchor="(\w+)"'
    r"[^>]*?(rotate\(-90[^>]*)?>([^<]*)<"
)


def _box(
    x: float, y: float, size: float, anchor: str, is_upright: bool, text: str
) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of a line of text."""
    wide = text_width(text, size)
    if is_upright:
        assert anchor == "middle"
        return (x - 0.75 * size, y - wide / 2.0, x, y + wide / 2.0)
    left = x - {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
    return (left, y - 0.75 * size, left + wide, y)


@pytest.mark.parametrize("length", [16.0, 30.0, 90.0, 160.0])
def test_words_stay_apart_inside_and_large_enough(axis, length):
    grip = length - 14.0
    long = replace(axis, stack=replace(axis.stack, length_mm=length, grip_mm=grip, protrusion_mm=3.6))
    flanges = Flanges(head_mm=grip - 5.0, nut_mm=4.7, is_measured=True)
    svg, _ = stack_section(skittle().drawn[2], long, flanges, "J03, J04, J05", ("flange, head", "flange, nut"))
    width, height = pixels(SECTION_MM)
    found = TEXT.findall(svg)
    assert len(found) == svg.count("<text")
    boxes = [_box(float(x), float(y), float(size), anchor, bool(up), t) for x, y, size, anchor, up, t in found]
    for index, (left, top, right, bottom) in enumerate(boxes):
        assert left >= 0.0
        assert top >= 0.0
        assert right <= width
        assert bottom <= height
        for other in boxes[index + 1 :]:
            assert right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top


@pytest.mark.parametrize("head", [0, 1])
def test_flanges_reach_from_the_bond_plane_to_the_seats(axis, head):
    # A deck of 60 mm below, a flange of 12 mm above: the bond plane is not half way.
    seats = ((0.0, 0.0, -60.0), (0.0, 0.0, 12.0))
    bolt = replace(axis.bolt, at_mm=(0.0, 0.0, 0.0), axis=(0.0, 0.0, 1.0), grip_mm=72.0, seats_mm=seats)
    found = flange_thickness(replace(axis, bolt=bolt, head_at_mm=seats[head], nut_at_mm=seats[1 - head]))
    assert found.is_measured
    assert (found.head_mm, found.nut_mm) == ((60.0, 12.0) if head == 0 else (12.0, 60.0))
    assert not flange_thickness(replace(axis, bolt=replace(bolt, seats_mm=None))).is_measured
