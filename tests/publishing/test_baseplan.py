"""The drilling template is as large as what it stands for, and every anchor is on it once."""

from __future__ import annotations

import re

import numpy as np
import pytest

from assembler.publishing.baseplan import CHECK_MM, TILE_MM, Anchor, Ground, plan_view, tiles
from assembler.publishing.installmarks import MARKS, mark
from assembler.publishing.source import load_words

WORDS = load_words(None)
GROUND = Ground(
    size_mm=(1110.0, 1110.0),
    anchors=(
        Anchor(name="A1", left_mm=100.0, front_mm=140.0),
        Anchor(name="A2", left_mm=1010.0, front_mm=140.0),
        Anchor(name="A3", left_mm=1010.0, front_mm=970.0),
        Anchor(name="A4", left_mm=104.0, front_mm=145.0),
    ),
)


def _circles(svg: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="6"', svg)]


def test_every_anchor_stands_on_one_sheet_at_its_true_place() -> None:
    found = {}
    for tile in tiles(GROUND, WORDS):
        column, row = (int(number) - 1 for number in tile.name.removeprefix("T").split("-"))
        assert (tile.drawing.width_mm, tile.drawing.height_mm) == TILE_MM
        for x, y in _circles(tile.drawing.body_svg):
            place = (column * TILE_MM[0] + x, row * TILE_MM[1] + TILE_MM[1] - y)
            found[place] = tile.name
    wanted = sorted((one.left_mm, one.front_mm) for one in GROUND.anchors)
    assert np.array(sorted(found)) == pytest.approx(np.array(wanted))


def test_sheets_without_an_anchor_are_left_out() -> None:
    assert [tile.name for tile in tiles(GROUND, WORDS)] == ["T1-1", "T7-1", "T7-5"]


def test_the_square_of_the_check_is_100_mm_and_covers_no_anchor() -> None:
    for tile in tiles(GROUND, WORDS):
        ((x, y, wide, high),) = re.findall(
            r'<rect x="([\d.]+)" y="([\d.]+)" width="(100\.0)" height="(100\.0)"', tile.drawing.body_svg
        )
        assert float(wide) == float(high) == CHECK_MM
        for at_x, at_y in _circles(tile.drawing.body_svg):
            inside = float(x) <= at_x <= float(x) + CHECK_MM and float(y) <= at_y <= float(y) + CHECK_MM
            assert not inside


def test_the_plan_has_each_dimension_once() -> None:
    svg = plan_view(GROUND, WORDS).body_svg
    numbers = re.findall(r">(\d+)</text>", svg)
    assert sorted(numbers, key=int) == ["100", "104", "140", "145", "970", "1010"]


def test_every_mark_is_drawn_and_named() -> None:
    names = [mark(name, WORDS).alt for name in MARKS]
    assert len(set(names)) == len(MARKS)
    assert all(mark(name, WORDS).body_svg.startswith("<") for name in MARKS)
