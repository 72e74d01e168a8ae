"""Moments of the plan in words."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from assembler.publishing.days import day_charts
from assembler.publishing.words import load_words
from assembler.publishing.workdays import DAY_MIN, clock_text, day_and_hour, shifts_of
from tests.publishing import sample


def test_pages_take_the_times_of_the_plan() -> None:
    shifts = shifts_of(sample.PLAN)
    for step in sample.PLAN.steps:
        shift = shifts[step.number]
        assert (shift.start, shift.end) == (step.start_min, step.end_min)
        assert shift.free == (step.free_min if step.hold else step.end_min)


@pytest.mark.parametrize(("moment", "day", "text"), [(480, 1, "08:00"), (1440 + 825, 2, "13:45"), (1439.9, 2, "00:00")])
def test_moments_are_said_as_day_and_clock(moment: float, day: int, text: str) -> None:
    found, hour = day_and_hour(moment)
    assert found == day
    assert clock_text(hour) == text


def test_days_on_which_nothing_happens_have_no_panel() -> None:
    shifts = shifts_of(sample.PLAN)
    last = sample.PLAN.steps[-1].number
    later = shifts | {last: replace(shifts[last], start=30 * DAY_MIN + 600.0, end=30 * DAY_MIN + 660.0, free=0.0)}
    text = "".join(chart.body_svg for chart in day_charts(sample.PLAN, later, sample.SETTINGS.crew, load_words()))
    days = [int(day) for day in re.findall(r">Day (\d+)<", text)]
    assert days[-1] == 31
    assert 1 < len(days) < 31
