"""How long a step takes the crew."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.engineering.worktimes import hands, lift_minutes, preparing_minutes, step_minutes
from assembler.figure.joints import Method
from assembler.figure.settings import Crew
from tests.engineering.specimens import joint, ring

CREW = Crew(people=2, prepare_mm2_min=1500.0, dry_fit_min=10.0, spread_mm2_min=15000.0, bolt_min=1.0)
GLUED = joint(ring(3), method=Method.BOLTED_AND_BONDED, bond_area_mm2=11000.0)


def test_a_glued_joint_by_hand() -> None:
    # Dry fit 10, both faces 22 000 mm2 / (1500 x 2) = 7.33; placing 6, second person 3, mixing 5, wiping 5, spreading
    # 11 000 / (15 000 x 2) = 0.37, three bolts 1.5.
    assert preparing_minutes([GLUED], CREW) == pytest.approx(10.0 + 22.0 / 3.0)
    expected = 6.0 + 3.0 + 1.5 + 17.333 + 5.0 + 5.0 + 0.367
    assert step_minutes([GLUED], 3, CREW, people=2, has_prop=False) == pytest.approx(expected, abs=0.001)
    assert step_minutes([GLUED], 3, CREW, people=2, has_prop=True) == pytest.approx(expected + 15.0, abs=0.001)
    assert step_minutes([GLUED], 3, CREW, people=0, has_prop=False) == pytest.approx(expected - 3.0 + 60.0, abs=0.001)


def test_a_dry_joint_takes_placing_lift_and_bolts() -> None:
    dry = replace(GLUED, method=Method.BOLTED)
    assert preparing_minutes([dry], CREW) == 0.0
    assert step_minutes([dry], 4, CREW, people=1, has_prop=False) == pytest.approx(6.0 + 2.0)


def test_hands_and_lifts() -> None:
    assert [hands(Crew(people=people)) for people in (1, 4, 9)] == [1, 4, 4]
    assert [lift_minutes(people) for people in (1, 2, 3, 0)] == [0.0, 3.0, 6.0, 60.0]
