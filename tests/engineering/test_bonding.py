"""Adhesive: amounts, clocks, holds."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.bonding import (
    batches,
    bonding_for_joints,
    cartridges,
    closing_minutes,
    handling_min,
    hold_clocks,
    sessions,
    volume_ml,
)
from assembler.engineering.curing import cure_factor, five_temperatures, minutes_at
from assembler.figure.findings import Level
from assembler.figure.joints import Method, Place
from assembler.figure.settings import Climate, Crew
from tests.engineering.specimens import bolt, glue, joint, ring, settings

GLUED = joint(ring(8), method=Method.BOLTED_AND_BONDED)
POSITIVE = st.floats(0.1, 1e6)


@given(POSITIVE, st.floats(0.05, 5.0), st.floats(0.0, 1.0))
def test_twice_the_area_twice_the_volume(area: float, line: float, waste: float) -> None:
    assert volume_ml(2 * area, line, waste) == pytest.approx(2 * volume_ml(area, line, waste))
    assert volume_ml(area, 2 * line, waste) == pytest.approx(2 * volume_ml(area, line, waste))
    assert volume_ml(area, line, waste) == pytest.approx(volume_ml(area, line, 0.0) * (1 + waste))


@given(st.floats(10.0, 34.0), st.floats(0.01, 1.0))
def test_hotter_is_shorter(at_c: float, more_c: float) -> None:
    cool, warm = (minutes_at(60.0, 23.0, temp, 10.0, 35.0) for temp in (at_c, at_c + more_c))
    assert cool is not None
    assert warm is not None
    assert warm < cool


@given(st.floats(-10.0, 40.0), st.floats(-10.0, 40.0), st.floats(-10.0, 40.0))
def test_cure_factors_chain(first: float, second: float, third: float) -> None:
    assert cure_factor(first, second) * cure_factor(second, third) == pytest.approx(cure_factor(first, third))


def test_only_bonded_joints_get_adhesive() -> None:
    joints = [GLUED, joint(id="J02"), joint(id="J03", method=Method.DRY), joint(id="J04", method=Method.BONDED)]
    bondings, findings = bonding_for_joints(joints, settings())
    assert [bonding.joint for bonding in bondings] == ["J01", "J04"]
    assert findings == ()


def test_open_time_at_the_part_and_hold_over_the_night() -> None:
    (bonding,), _ = bonding_for_joints([GLUED], settings(climate=Climate(shop_c=23.0, night_min_c=13.0)))
    assert bonding.open_min == pytest.approx(25.0)
    # Closed at 17:00: 15 h at 13 C do 900 / 2^(10/7) = 334.3 of the 480 min, the other 145.7 pass at 23 C.
    assert bonding.handling_min == pytest.approx(900.0 + 145.7, abs=0.1)


def test_a_hold_of_two_hours_may_begin_in_the_evening() -> None:
    quick = glue(handling_min=120.0, fixture_min=30.0)
    cold = Climate(shop_c=23.0, night_min_c=13.0)
    (bonding,), _ = bonding_for_joints([GLUED], settings(adhesive=quick, climate=cold))
    assert bonding.handling_min == pytest.approx(120.0 * 2.0 ** (10.0 / 7.0))
    assert bonding.hold_c == 13.0


def test_the_earliest_clock_time_is_told_for_three_closings() -> None:
    # 20 C by day passes at 1 / 1.346, 16 C by night at half speed. Closed at 08:00, 9 h do 401.2 of 480 min, the rest
    # takes 157.6 min of the night: 19:38. Closed at 12:30: 200.6, then 558.8 min of the night: 02:19. Closed at 17:00:
    # 450 in the night, the rest takes 40.4 min of the day: 08:41.
    clocks = hold_clocks(Place.SHOP, settings(climate=Climate(shop_c=20.0, night_min_c=16.0)))
    assert clocks == (("08:00", "19:38"), ("12:30", "02:19 +1"), ("17:00", "08:41 +1"))


def test_site_joints_are_held_over_the_nights_of_the_site() -> None:
    site = replace(GLUED, made=Place.SITE)
    climate = Climate(shop_c=20.0, night_min_c=16.0, site_c=15.0, night_site_c=12.0)
    (bonding,), findings = bonding_for_joints([site], settings(climate=climate))
    assert (bonding.hold_c, bonding.temperature_c) == (12.0, 15.0)
    assert "site-night-not-stated" not in {finding.code for finding in findings}
    # The shop's own joints keep the shop's nights.
    (indoors,), _ = bonding_for_joints([GLUED], settings(climate=climate))
    assert indoors.hold_c == 16.0


def test_a_site_night_that_nobody_stated_is_a_stop() -> None:
    site = replace(GLUED, made=Place.SITE)
    _, findings = bonding_for_joints([site], settings())
    (finding,) = [finding for finding in findings if finding.code == "site-night-not-stated"]
    assert finding.level is Level.STOP
    assert "night_site_c" in finding.remedy
    _, indoors = bonding_for_joints([GLUED], settings())
    assert indoors == ()


def test_a_cold_night_on_site_is_a_stop_of_its_own() -> None:
    site = replace(GLUED, made=Place.SITE)
    _, findings = bonding_for_joints([site], settings(climate=Climate(site_c=15.0, night_site_c=4.0)))
    (finding,) = [finding for finding in findings if finding.code == "night-too-cold-to-cure"]
    assert "falls to 4 C" in finding.message


def test_site_joints_take_the_temperature_of_the_site() -> None:
    (bonding,), _ = bonding_for_joints([replace(GLUED, made=Place.SITE)], settings(climate=Climate(site_c=13.0)))
    assert bonding.temperature_c == 13.0
    assert bonding.open_min == pytest.approx(50.0)


@pytest.mark.parametrize(("site_c", "code"), [(5.0, "too-cold-to-glue"), (40.0, "too-hot-to-glue")])
def test_outside_the_range_is_a_stop(site_c: float, code: str) -> None:
    _, findings = bonding_for_joints([replace(GLUED, made=Place.SITE)], settings(climate=Climate(site_c=site_c)))
    found = next(finding for finding in findings if finding.code == code)
    assert found.level is Level.STOP
    assert f"{site_c:g} C" in found.message
    assert "10 to 35 C" in found.message


def test_a_cold_night_is_a_stop() -> None:
    _, findings = bonding_for_joints([GLUED], settings(climate=Climate(shop_c=20.0, night_min_c=6.0)))
    assert [finding.code for finding in findings] == ["night-too-cold-to-cure"]
    assert "keep the joint at 10 C or warmer" in findings[0].remedy


def test_too_little_open_time_says_how_many_people_would_do() -> None:
    slow = settings(crew=Crew(people=1, spread_mm2_min=2000.0, bolt_min=2.0), climate=Climate(shop_c=23.0))
    _, findings = bonding_for_joints([GLUED], slow)
    (finding,) = findings
    # 40000 / 2000 + 2 + 8 x (2 + 2 x 0.3) = 42.8 min for one; 32.8 for two; 19.1 for three at two bolts, within 25.
    assert finding.level is Level.STOP
    assert "1 people need 43 min" in finding.message
    assert "25 min" in finding.message
    assert finding.remedy.startswith("3 people, ")


def test_a_joint_that_no_crew_closes_in_time_is_to_be_split() -> None:
    huge = replace(GLUED, bond_area_mm2=4e6)
    _, findings = bonding_for_joints([huge], settings(climate=Climate(shop_c=23.0)))
    (finding,) = findings
    assert finding.remedy.startswith("split the joint's work, ")


def test_the_working_life_limits_too() -> None:
    thick = settings(adhesive=glue(open_min=25.0, working_life_min=5.0), climate=Climate(shop_c=23.0))
    _, findings = bonding_for_joints([GLUED], thick)
    assert "the working life at 23 C is 5 min" in findings[0].message


def test_bolts_squeeze_a_bond_without_spacer() -> None:
    _, findings = bonding_for_joints([GLUED], settings(adhesive=glue(spacer="", strength_mpa=0.0)))
    assert {finding.code for finding in findings} == {"bond-line-squeezed", "bond-strength-not-stated"}
    _, findings = bonding_for_joints([joint(method=Method.BONDED)], settings(adhesive=glue(spacer="")))
    assert findings == ()


@given(st.integers(1, 4), st.floats(1e3, 1e6), st.integers(0, 40))
def test_more_hands_are_never_slower(people: int, area: float, bolts: int) -> None:
    crew = Crew()
    assert closing_minutes(area, bolts, people + 1, crew) <= closing_minutes(area, bolts, people, crew)
    assert closing_minutes(area, bolts, 4, crew) == closing_minutes(area, bolts, 9, crew)


def test_cartridges_and_batches() -> None:
    assert cartridges([], 400.0) == 0
    assert cartridges([399.0, 1.0], 400.0) == 1
    assert cartridges([399.0, 1.1], 400.0) == 2
    crew = Crew(people=2, spread_mm2_min=10000.0)
    assert batches(0.0, 30.0, crew) == 0
    assert batches(600000.0, 30.0, crew) == 1
    assert batches(600001.0, 30.0, crew) == 2


def test_a_nozzle_rests_between_joints_that_are_far_apart_in_time() -> None:
    assert sessions([], 30.0) == 0
    assert sessions([0.0, 20.0, 45.0], 30.0) == 1
    # The third comes 31 minutes after the second, and the last the next morning.
    assert sessions([1500.0, 0.0, 20.0, 51.0], 30.0) == 3


def test_five_temperatures_span_the_range() -> None:
    rows = five_temperatures(glue())
    assert [row.temp_c for row in rows] == [10.0, 16.0, 22.0, 29.0, 35.0]
    for cold, warm in zip(rows, rows[1:], strict=False):
        assert cold.open_min > warm.open_min
        assert cold.handling_min > warm.handling_min
    assert rows[0].open_min == pytest.approx(minutes_at(25.0, 23.0, 10.0, 10.0, 35.0))


def test_a_bolt_more_takes_longer() -> None:
    few = joint([bolt()], method=Method.BOLTED_AND_BONDED)
    (one,), _ = bonding_for_joints([few], settings())
    (many,), _ = bonding_for_joints([GLUED], settings())
    assert many.needed_min - one.needed_min == pytest.approx(7 * (0.8 + 2 * 0.3))


def test_a_recorded_hold_goes_by_the_nights_of_its_place() -> None:
    stated = settings(climate=Climate(night_min_c=16.0, night_site_c=12.0))
    at = datetime.datetime(2031, 4, 7, 16, 0)
    shop, site = (handling_min(place, stated, 23.0, at) for place in (Place.SHOP, Place.SITE))
    assert shop is not None
    assert site is not None
    assert site > shop
    cold = replace(stated, climate=Climate(night_min_c=16.0, night_site_c=-5.0))
    assert handling_min(Place.SHOP, cold, 23.0, at) == shop
    assert handling_min(Place.SITE, cold, 23.0, at) is None
