"""The finished sheet: nothing that is drawn is lost, the key figure lies on white, coordinates follow."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from assembler.drawing.composition import LEAST_MM, composed
from assembler.drawing.overlay import text_width, wrapped
from assembler.drawing.style import px

SHEET = (900, 1400)
PLACES = st.tuples(st.integers(0, 1100), st.integers(0, 700), st.integers(30, 300), st.integers(30, 200))


def sheet_with(blots) -> np.ndarray:
    raster = np.full((*SHEET, 3), 255, dtype=np.uint8)
    for number, (x, y, wide, tall) in enumerate(blots, start=1):
        raster[y : y + tall, x : x + wide] = number
    return raster


@settings(max_examples=8)
@given(st.lists(PLACES, min_size=1, max_size=4), st.booleans())
def test_all_that_is_drawn_stays_and_the_key_covers_none_of_it(blots, has_key):
    raster = sheet_with(blots)
    key = np.full((400, 300, 3), 77, dtype=np.uint8) if has_key else None
    made = composed(raster, [], key, 60.0)
    for number in range(1, len(blots) + 1):
        before = np.argwhere((raster == number).all(axis=2))
        after = np.argwhere((made.raster == number).all(axis=2))
        assert np.array_equal(before + [made.shift_px[1], made.shift_px[0]], after)
    if has_key:
        x, y = made.key_px
        assert (made.raster[y : y + 400, x : x + 300] == 77).all()
        assert int((made.raster == 77).all(axis=2).sum()) == 400 * 300
    assert (made.raster[made.foot_px :] == 255).all()


def test_boxes_over_the_raster_are_kept_clear_of_the_key():
    raster = sheet_with([(600, 300, 200, 200)])
    over = [(20.0, 20.0, 1380.0, 880.0)]
    made = composed(raster, over, np.full((400, 300, 3), 77, dtype=np.uint8), 0.0)
    left = made.key_px[0] - made.shift_px[0]
    assert left >= 1380.0 or left + 300 <= 20.0


def test_a_small_scene_is_not_blown_up():
    made = composed(sheet_with([(600, 400, 30, 30)]), [], None, 0.0)
    assert made.raster.shape[0] >= px(LEAST_MM[1])
    assert made.raster.shape[1] >= px(LEAST_MM[0])


@given(st.lists(st.text("abcdefgh", min_size=1, max_size=9), min_size=1, max_size=12))
def test_wrapped_lines_keep_all_words_and_fit(words):
    lines = wrapped(" ".join(words), 30.0, 300.0)
    assert " ".join(lines).split() == words
    assert all(text_width(line, 30.0, bold=True) <= 300.0 for line in lines if " " in line)
