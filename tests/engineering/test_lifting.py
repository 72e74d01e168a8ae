"""People for a lift."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.lifting import (
    Coupling,
    Duration,
    Units,
    frequency_multiplier,
    grip,
    lift_for,
    person_limit,
    recommended_weight_limit,
    team_limit_kg,
)
from assembler.figure.settings import Crew

CENTRE, SIZE = (0.0, 0.0, 900.0), (400.0, 400.0, 400.0)


def _limit(**changes: object) -> float:
    task: dict[str, object] = {"horizontal": 30.0, "vertical": 75.0, "distance": 30.0}
    return recommended_weight_limit(**(task | changes)).limit  # type: ignore[arg-type]


@given(st.floats(0.0, 60.0), st.floats(0.1, 10.0))
def test_farther_is_less(reach: float, more: float) -> None:
    assert _limit(horizontal=reach + more) <= _limit(horizontal=reach)


@given(st.floats(0.0, 100.0), st.floats(0.0, 50.0))
def test_away_from_knuckle_height_is_less(above: float, more: float) -> None:
    assert _limit(vertical=75.0 + above + more) <= _limit(vertical=75.0 + above)
    assert _limit(vertical=max(0.0, 75.0 - above - more)) <= _limit(vertical=max(0.0, 75.0 - above))


@given(st.floats(0.0, 14.0), st.floats(0.0, 2.0), st.sampled_from(list(Duration)))
def test_more_often_is_less(rate: float, more: float, duration: Duration) -> None:
    for is_low in (True, False):
        often = frequency_multiplier(rate + more, duration, is_low=is_low)
        assert 0.0 <= often <= frequency_multiplier(rate, duration, is_low=is_low) <= 1.0


def test_outside_the_range_nothing_is_lifted() -> None:
    for changes in (
        {"horizontal": 63.1},
        {"vertical": 175.1},
        {"distance": 175.1},
        {"asymmetry_deg": 135.1},
        {"lifts_min": 15.1},
    ):
        assert _limit(**changes) == 0.0
    assert recommended_weight_limit(horizontal=64.0, vertical=75.0, distance=25.0).index(1.0) == float("inf")


def test_negative_inputs_are_refused() -> None:
    with pytest.raises(ValueError, match="not negative"):
        _limit(horizontal=-1.0)


def test_metric_and_us_agree_but_for_rounding_of_their_constants() -> None:
    metric = _limit(horizontal=40.0, vertical=50.0, distance=60.0, coupling=Coupling.POOR)
    us = recommended_weight_limit(
        horizontal=40 / 2.54, vertical=50 / 2.54, distance=60 / 2.54, coupling=Coupling.POOR, units=Units.US
    ).limit
    assert us * 0.45359237 == pytest.approx(metric, rel=0.03)


def test_a_light_part_takes_one_and_a_heavier_one_more() -> None:
    crew = Crew(people=3)
    people = [lift_for(mass, CENTRE, SIZE, crew).people for mass in (5.0, 18.0, 29.0, 60.0)]
    assert people == [1, 2, 3, 0]


def test_what_is_too_heavy_takes_a_hoist() -> None:
    lift = lift_for(60.0, CENTRE, SIZE, Crew(people=2))
    assert lift.people == 0
    assert "hoist, licensed rigger" in str(lift.rule)
    assert "for 2 people" in str(lift.rule)


def test_the_crew_limits_the_team() -> None:
    assert lift_for(18.0, CENTRE, SIZE, Crew(people=1)).people == 0
    assert lift_for(18.0, CENTRE, SIZE, Crew(people=2)).people == 2
    assert lift_for(60.0, CENTRE, SIZE, Crew(people=9)).people == 0


def test_a_long_part_takes_two_whatever_it_weighs() -> None:
    assert lift_for(2.0, CENTRE, (200.0, 1500.0, 200.0), Crew(people=2)).people == 2


def test_the_shops_own_limit_beats_the_equation() -> None:
    lift = lift_for(11.0, CENTRE, SIZE, Crew(people=2, lift_one_kg=10.0))
    assert lift.people == 2
    assert "limit 13.3 kg for 2 people" in str(lift.rule)
    assert "the shop's own limit" in str(lift.rule)


def test_high_places_are_worked_from_a_platform() -> None:
    assert "from a platform" in str(lift_for(5.0, (0.0, 0.0, 1900.0), SIZE, Crew()).rule)
    assert "from a platform" not in str(lift_for(5.0, (0.0, 0.0, 1900.0), SIZE, Crew(), floor_mm=1000.0).rule)


def test_wide_parts_are_held_farther_away() -> None:
    narrow = person_limit(900.0, 100.0, is_team=False).limit
    wide = person_limit(900.0, 700.0, is_team=False).limit
    assert wide < narrow
    # H = 20 + 70 / 2 = 55 cm against the least of 25 cm.
    assert wide / narrow == pytest.approx(25.0 / 55.0)


@given(st.floats(1.0, 40.0))
def test_teams_lift_more_but_each_less(person_kg: float) -> None:
    one, two, three = (team_limit_kg(person_kg, people) for people in (1, 2, 3))
    assert one < two < three
    assert one > two / 2 > three / 3


def test_where_to_take_hold() -> None:
    square = grip((0.0, 0.0, 180.0), (-200.0, -200.0, 0.0), (200.0, 200.0, 400.0))
    assert (square.is_long, square.rise_mm, square.is_lopsided) == (False, 180.0, False)
    lopsided = grip((150.0, 0.0, 180.0), (-400.0, -100.0, 0.0), (400.0, 100.0, 400.0))
    assert (lopsided.is_long, lopsided.aside_mm, lopsided.is_lopsided) == (True, 150.0, True)


def test_a_load_that_is_turned_over_is_held_from_its_other_end() -> None:
    hung = grip((0.0, 0.0, 180.0), (-200.0, -200.0, 0.0), (200.0, 200.0, 400.0), (0.0, 0.0, -1.0))
    assert hung.rise_mm == 220.0
    lying = grip((150.0, 0.0, 180.0), (-400.0, -100.0, 0.0), (400.0, 100.0, 400.0), (1.0, 0.0, 0.0))
    assert lying.rise_mm == 550.0


def test_somebody_hands_it_up_to_a_platform() -> None:
    high = (0.0, 0.0, 1900.0)
    assert lift_for(2.0, high, SIZE, Crew(people=2)).people == 2
    alone = lift_for(2.0, high, SIZE, Crew(people=1))
    assert alone.people == 0
    assert "handed up, which takes two people, and one is there" in str(alone.rule)
