"""Stands go under free feet of what is lifted, where these carry it."""

from __future__ import annotations

import pytest

from assembler.figure.plan import Move
from assembler.planning.scene import scene_of
from assembler.planning.stands import stands_under
from assembler.planning.support import Support
from tests.planning import figures
from tests.specimens import box

UP = (0.0, 0.0, 1.0)


@pytest.mark.parametrize(("shift_mm", "count"), [(0.0, 4), (350.0, 0)])
def test_feet_that_do_not_carry_what_is_lifted_get_no_stands(shift_mm: float, count: int) -> None:
    # The shell weighs 10.6 litres of walls, its load 24 of 400 x 300 x 200 mm: moved by 350 mm it draws the centre of
    # mass to 24 / 34.6 x 350 = 243 mm, 7 mm from the edge at 250: 7 mm over more than 400 mm are less than 5 degrees.
    made = figures.floor_on_site()
    made.solids["P03"] = box((shift_mm - 200, -150, 500), (shift_mm + 200, 150, 700))
    scene = scene_of(**made.given)
    path = [Move(direction=UP, travel_mm=50.0)]
    assert len(stands_under(Support(scene), 0b010, 0b101, UP, path, 50.0)) == count


def test_a_foot_over_the_way_in_gets_no_stand() -> None:
    # First up, far away, then in across the corner at -250, -200: what lies over the second leg is met as well.
    scene = scene_of(**figures.floor_on_site().given)
    half = 0.5**0.5
    path = [Move(direction=UP, travel_mm=50.0), Move(direction=(half, half, 0.0), travel_mm=900.0)]
    straight = stands_under(Support(scene), 0b010, 0b101, UP, path[:1], 50.0)
    across = stands_under(Support(scene), 0b010, 0b101, UP, path, 50.0)
    corner = (-250.0, -200.0)
    assert [corner in {stand.at_mm[:2] for stand in stands} for stands in (straight, across)] == [True, False]
