"""Moments of the plan in words."""

from __future__ import annotations

import pytest

from assembler.publishing.workdays import clock_text, day_and_hour, shifts_of
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
