"""Working hours against minutes counted one by one."""

from __future__ import annotations

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.curing import DayAndNight, hold_minutes
from assembler.engineering.scheduling import Activity, Cure, Network, Stay, Wait, scheduled
from assembler.engineering.workhours import work_hours

MONDAY = datetime.date(2031, 4, 7)
WEEK = work_hours([(8, 17)], days=21, first_day=MONDAY, weekdays=range(5), days_off=[datetime.date(2031, 4, 9)])


def test_weekends_and_days_off_have_no_blocks() -> None:
    days = [block.opens // 1440 for block in WEEK.blocks]
    assert days == [0, 1, 3, 4, 7, 8, 9, 10, 11, 14, 15, 16, 17, 18]
    assert [WEEK.worked(moment) for moment in (0.0, 600.0, 1440.0 + 600.0, 2 * 1440.0)] == [0, 120, 660, 1080]


@given(st.integers(0, 20 * 1440), st.integers(0, 6000))
def test_cure_is_the_sum_of_minutes(closed: int, sheet: int) -> None:
    inside = {minute for block in WEEK.blocks for minute in range(block.opens, block.closes)}
    free = WEEK.free_at(float(closed), float(sheet), 0.75, 0.5)
    whole = int(free)
    done = sum(0.75 if minute in inside else 0.5 for minute in range(closed, whole))
    rest = (free - whole) * (0.75 if whole in inside else 0.5)
    assert done + rest == pytest.approx(sheet)


def test_on_working_days_it_is_the_hold_of_a_page() -> None:
    clock = DayAndNight(opens_min=480.0, closes_min=1020.0, day_share=0.743, night_share=0.5)
    for closed in (480.0, 700.0, 1020.0):
        assert WEEK.free_at(closed, 480.0, 0.743, 0.5) - closed == pytest.approx(hold_minutes(480.0, closed, clock))


def test_work_starts_where_it_fits_without_a_pause() -> None:
    assert WEEK.start(1000.0, 20) == 1000.0
    assert WEEK.start(1001.0, 20) == 1440 + 480
    with pytest.raises(ValueError, match="fit into no shift"):
        WEEK.start(0.0, 541)


def test_work_that_would_end_after_closing_waits_for_the_next_day() -> None:
    jobs = [Activity(name="A", minutes=500), Activity(name="B", minutes=60)]
    found = scheduled(Network(activities=jobs, waits=[Wait(first="A", then="B")], hours=WEEK), horizon_min=5 * 1440)
    assert found.start == {"A": 480, "B": 1440 + 480}


def test_a_hold_is_kept_over_the_night_to_the_minute() -> None:
    # 450 min of the sheet pass from 17:00 to 08:00, 30 more take 40 at 0.75: not before 08:40.
    network = Network(
        activities=[Activity(name="glue", minutes=60, not_before=960), Activity(name="load", minutes=10)],
        cures=[Cure(first="glue", then="load", minutes=480.0, day_share=0.75, night_share=0.5)],
        hours=WEEK,
    )
    found = scheduled(network, horizon_min=5 * 1440)
    assert found.start == {"glue": 960, "load": 1440 + 520}
    assert found.is_proven


def test_places_people_and_arrivals_are_kept() -> None:
    jobs = [Activity(name=name, minutes=100, needs={"people": 1}) for name in "AB"]
    late = [Activity(name="C", minutes=10, needs={"people": 1}, not_before=1440)]
    side = Network(activities=[*jobs, *late], capacity={"people": 2}, hours=WEEK)
    assert scheduled(side, horizon_min=5 * 1440, first=["A", "B"], units=[]).start == {"A": 480, "B": 480, "C": 1920}
    # One place: B may not begin before A has been moved on by C.
    stays = [
        Stay(name="a", resource="place", first="A", last="C"),
        Stay(name="b", resource="place", first="B", last="B"),
    ]
    one = Network(
        activities=[*jobs, *late],
        waits=[Wait(first="A", then="C"), Wait(first="C", then="B")],
        stays=stays,
        capacity={"people": 2, "place": 1},
        hours=WEEK,
    )
    assert scheduled(one, horizon_min=5 * 1440).start["B"] == 1930
