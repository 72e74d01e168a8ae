"""How long a step takes the crew."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.engineering.worktimes import (
    bolts_minutes,
    hands,
    lift_minutes,
    preparing_minutes,
    step_minutes,
    wet_minutes,
)
from assembler.figure.joints import Method
from assembler.figure.settings import Crew
from tests.engineering.specimens import joint, ring

CREW = Crew(people=2)
GLUED = joint(ring(3), method=Method.BOLTED_AND_BONDED, bond_area_mm2=11000.0, seam_mm=450.0)


def test_a_glued_joint_by_hand() -> None:
    # Dry fit 6; both faces 22 000 / (4000 x 2) = 2.75; both sides of the seam 900 / (600 x 2) = 0.75. Walking 3, second
    # person 3, mixing 4, spreading 11 000 / (15 000 x 2) = 0.37, closing 2, wiping 450 / (300 x 2) = 0.75; three bolts
    # 250 mm inside, each (0.8 + 2 x 0.3) x 1.25 = 1.75.
    assert preparing_minutes([GLUED], CREW) == pytest.approx(9.5)
    assert wet_minutes([GLUED], CREW) == pytest.approx(4.0 + 11000.0 / 30000.0 + 2.0 + 0.75)
    deep = [250.0] * 3
    assert bolts_minutes(deep, 2, CREW) == pytest.approx(5.25)
    # 3 + 3 + 9.5 + 4 + 0.37 + 2 + 0.75 + 5.25 = 27.87.
    assert step_minutes([GLUED], deep, CREW, people=2, has_prop=False) == 28.0
    assert step_minutes([GLUED], deep, CREW, people=2, has_prop=True) == 36.0
    assert step_minutes([GLUED], deep, CREW, people=0, has_prop=False) == 85.0


def test_a_dry_joint_takes_placing_lift_and_bolts() -> None:
    dry = replace(GLUED, method=Method.BOLTED)
    assert preparing_minutes([dry], CREW) == 0.0
    assert step_minutes([dry], [0.0] * 5, CREW, people=1, has_prop=False) == 10.0


@pytest.mark.parametrize("rate", ["prepare_mm2_min", "mask_mm_min", "spread_mm2_min", "wipe_mm_min"])
def test_each_rate_of_the_shop_counts(rate: str) -> None:
    slow = replace(CREW, **{rate: getattr(CREW, rate) / 20.0})
    assert step_minutes([GLUED], [], slow, people=1, has_prop=False) > step_minutes(
        [GLUED], [], CREW, people=1, has_prop=False
    )


def test_hands_and_lifts() -> None:
    assert [hands(Crew(people=people, team=3)) for people in (1, 3, 9)] == [1, 3, 3]
    assert [lift_minutes(people, CREW) for people in (1, 2, 3, 0)] == [0.0, 3.0, 6.0, 60.0]


def test_four_people_work_at_two_bolts() -> None:
    people = (1, 2, 3, 4, 8)
    found = [bolts_minutes([0.0] * 4, number, CREW) for number in people]
    assert found == pytest.approx([5.6, 5.6, 2.8, 2.8, 2.8])
