"""Times of adhesives at other temperatures."""

from __future__ import annotations

import datetime

import pytest

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.curing import DayAndNight, cure_factor, hold_minutes, minutes_at, slow_factor
from assembler.engineering.workhours import work_hours
from assembler.figure.findings import Level
from assembler.figure.joints import Method
from assembler.figure.settings import Climate
from tests.engineering.specimens import joint, settings
from tests.published.reading import json_cases, source

CASES = json_cases("cure_factors.json")


@pytest.mark.parametrize(("at_c", "factor"), sorted(CASES["factors"].items()))
@source("ten-degrees")
def test_cure_factors(at_c: str, factor: float) -> None:
    # C from V2: a reaction doubles for each 10 C more (two manufacturers' glossaries of cure terms).
    assert cure_factor(CASES["sheet_c"], float(at_c)) == pytest.approx(factor, abs=5e-5)


@source("ten-degrees")
def test_pot_life_halves_at_30_c() -> None:
    # V2: 'the pot life quoted at 21 to 23 C is halved at 30 C' (glossary): 0.5 lies between the factors of both ends.
    assert cure_factor(21.0, 30.0) < 0.55
    assert 0.5 < cure_factor(23.0, 30.0) < 0.65


@source("ten-degrees")
def test_no_times_below_the_range() -> None:
    # V2: below about 10 C many systems nearly stop: a stop, not an extrapolation.
    assert minutes_at(60.0, 23.0, 9.9, 10.0, 35.0) is None
    assert minutes_at(60.0, 23.0, 10.0, 10.0, 35.0) == pytest.approx(60 * 2.4623, abs=0.01)


@pytest.mark.parametrize(("at_c", "gel_min", "cure_min"), [(25.0, 10.0, 60.0), (35.0, 5.0, 30.0), (45.0, 2.5, 15.0)])
@source("ten-degrees")
def test_worked_example_of_the_ten_degree_rule(at_c: float, gel_min: float, cure_min: float) -> None:
    # V2: a manufacturer's page on two-part adhesives: gel 10 min and cure 60 min at 25 C; half of both at 35 C, and
    # again at 45 C.
    assert minutes_at(10.0, 25.0, at_c, 0.0, 48.0) == pytest.approx(gel_min)
    assert minutes_at(60.0, 25.0, at_c, 0.0, 48.0) == pytest.approx(cure_min)


@source("ten-degrees")
def test_a_whole_hold_from_the_sheet_to_the_night() -> None:
    # C from V2: the rule at its slow end, halving for each 7 C: 480 min at 23 C, closed at 17:00. 15 h at 16 C do
    # 900 / 2 = 450 of them, the other 30 take 30 x 2^(3/7) = 40.4 min of the day at 20 C: 940.4 min. Fixture: 240 x 2 =
    # 480 min, all by night. Open time counts by day, at 20 C and the rule itself: 25 x 2^0.3 = 30.8 min.
    shop = settings(climate=Climate(shop_c=20.0, night_min_c=16.0))
    (bonding,), findings = bonding_for_joints([joint(method=Method.BONDED)], shop)
    assert bonding.handling_min == pytest.approx(940.4, abs=0.05)
    assert bonding.fixture_min == pytest.approx(480.0, abs=0.05)
    assert bonding.open_min == pytest.approx(30.78, abs=0.005)
    # A day does 540 / 1.3459 + 900 / 2 = 851.2 of the 7200 min: 8.4 days and a piece of the ninth.
    assert 8.4 * 1440 < bonding.full_cure_min < 8.6 * 1440
    assert (bonding.temperature_c, bonding.hold_c) == (20.0, 16.0)
    assert findings == ()


@source("ten-degrees")
def test_no_hold_is_computed_below_the_range() -> None:
    # V2: below about 10 C many systems nearly stop: the times are those at the end of the range, and a stop says so.
    (bonding,), (finding,) = bonding_for_joints(
        [joint(method=Method.BONDED)], settings(climate=Climate(shop_c=20.0, night_min_c=4.0))
    )
    # 17:00 to 08:00 at 10 C: 900 / 2^(13/7) = 248.4 of 480; the other 231.6 at 20 C take x 1.3459 = 311.7 min.
    assert bonding.handling_min == pytest.approx(900.0 + 311.7, abs=0.1)
    assert finding.level is Level.STOP


@source("ten-degrees")
def test_no_time_is_computed_above_the_range() -> None:
    # The same rule at the other end: 40 C counts as 35, 25 x 2^-1.2 = 10.88 min of open time, and a stop says so.
    (bonding,), (finding,) = bonding_for_joints(
        [joint(method=Method.BONDED)], settings(climate=Climate(shop_c=40.0, night_min_c=20.0))
    )
    assert bonding.open_min == pytest.approx(10.88, abs=0.005)
    assert finding.level is Level.STOP


@source("ten-degrees")
def test_the_slow_end_is_slower_than_what_makers_give() -> None:
    # V2: a maker gives 1.5 to 2.5 for 10 C. 480 min at 16 C instead of 23: at most x 2.5^0.7 = 912 min; halving for
    # each 7 C gives 960. Above the sheet's temperature the slow end is the one that gains least.
    assert 480.0 * cure_factor(23.0, 16.0, 2.5) == pytest.approx(911.6, abs=0.2)
    assert 480.0 * slow_factor(23.0, 16.0) == pytest.approx(960.0)
    assert slow_factor(23.0, 33.0) == pytest.approx(2.0 ** (-10.0 / 13.0))


@source("ten-degrees")
@pytest.mark.parametrize(
    ("closed_h", "by_hand"), [(3.0, 712.5), (8.0, 636.0), (14.0, 852.0), (17.0, 937.5), (22.0, 825.0)]
)
def test_the_sum_over_day_and_night_by_hand(closed_h: float, by_hand: float) -> None:
    # C: 480 min of the sheet; from 08:00 to 17:00 at 4/5 of its speed, by night at half. Closed at 08:00: the 540 min
    # of the day do 432, the other 48 take 96: 636. 14:00: 180 do 144, 336 take 672: 852. 17:00: 900 do 450, 30 take
    # 37.5 of the next day: 937.5. 22:00: 600 do 300, 180 take 225: 825. 03:00: 300 do 150, 330 take 412.5: 712.5.
    clock = DayAndNight(opens_min=480.0, closes_min=1020.0, day_share=0.8, night_share=0.5)
    assert hold_minutes(480.0, closed_h * 60.0, clock) == pytest.approx(by_hand)


@source("ten-degrees")
@pytest.mark.parametrize(
    ("sheet_min", "closed_min", "free_min"),
    [
        # C: working days Thursday 4 and Friday 5, 08:00 to 17:00, at 4/5 of the sheet's speed, else at half. Friday
        # 14:00: 180 min do 144, the other 336 take 672, all by night since nobody works on Saturday: 04:12.
        (480.0, 1440.0 + 840.0, 2 * 1440.0 + 252.0),
        # Friday 17:00: 960 min by night and on Saturday: 09:00, where a working Saturday would give 08:37.
        (480.0, 1440.0 + 1020.0, 2 * 1440.0 + 540.0),
        # Thursday 17:00: 450 of 1400 by night, 432 on Friday, 518 take 1036: Saturday 10:16.
        (1400.0, 1020.0, 2 * 1440.0 + 616.0),
    ],
)
def test_a_hold_over_days_on_which_nobody_works(sheet_min: float, closed_min: float, free_min: float) -> None:
    thursday = datetime.date(2031, 4, 10)
    week = work_hours([(8.0, 17.0)], days=3, first_day=thursday, weekdays=range(5))
    assert week.free_at(closed_min, sheet_min, 0.8, 0.5) == pytest.approx(free_min)


@source("ten-degrees")
def test_one_temperature_gives_the_rule_itself() -> None:
    clock = DayAndNight(opens_min=480.0, closes_min=1020.0, day_share=0.5, night_share=0.5)
    assert hold_minutes(480.0, 600.0, clock) == pytest.approx(960.0)


@source("ten-degrees")
def test_a_day_that_opens_a_moment_after_midnight_is_one_that_opens_at_midnight() -> None:
    """So short a night no longer moves the clock where minutes are added up."""
    holds = [
        hold_minutes(4000.0, 600.0, DayAndNight(opens_min=opens, closes_min=1020.0, day_share=1.0, night_share=0.5))
        for opens in (0.0, 1e-300)
    ]
    # 420 min of day and 210 of night on the first, 1020 and 210 on two more, 910 on the fourth.
    assert holds == pytest.approx([3 * 1440.0 + 910.0 - 600.0] * 2)
