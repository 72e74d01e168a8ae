"""How hard a person has to push."""

from __future__ import annotations

import math

import pytest

from assembler.engineering.exposure import FRICTION
from assembler.engineering.pushing import least_push_n, shoulder_mm


def test_a_slim_block_tips_and_a_squat_one_slides() -> None:
    # 100 kg, 400 mm to its edge: it tips at 100 x 9.80665 x 400 / shoulder, if its centre is high enough to tip so.
    slim = math.degrees(math.atan2(200.0, 1000.0))
    force, slides = least_push_n(100.0, 1000.0, slim)
    assert force == pytest.approx(100.0 * 9.80665 * 200.0 / shoulder_mm())
    assert not slides
    force, slides = least_push_n(100.0, 200.0, math.degrees(math.atan2(700.0, 200.0)))
    assert (force, slides) == (pytest.approx(FRICTION * 980.665), True)


def test_what_falls_by_itself_takes_no_push() -> None:
    assert least_push_n(50.0, 500.0, -3.0) == (0.0, False)
