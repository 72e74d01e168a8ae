"""The plan on the working hours, against a check minute by minute."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.figure.ids import StepNumber
from assembler.figure.plan import Hold, Plan, Step
from assembler.figure.settings import Crew
from assembler.publishing.workdays import clock_text, day_and_hour, days_of, shifts_of
from tests.publishing import sample

CREW = Crew(day_start_h=8.0, day_end_h=17.0)


def chain(minutes: list[int], holds: list[int]) -> Plan:
    """Steps one after another, each held by the one before."""
    steps: list[Step] = []
    for place, (work, hold) in enumerate(zip(minutes, holds, strict=True)):
        steps.append(
            replace(
                sample.STEPS[0],
                number=StepNumber(str(place + 1)),
                minutes=float(work),
                start_min=float(place),
                after=(StepNumber(str(place)),) if place else (),
                gates=(),
                hold=Hold(minutes=float(hold), joints=(), before=(StepNumber(str(place + 2)),), reason="")
                if hold
                else None,
            )
        )
    return replace(sample.PLAN, steps=tuple(steps))


def worked_minutes(start: float, end: float) -> int:
    """Minutes of the working day between two moments, counted one by one."""
    return sum(1 for minute in range(round(start), round(end)) if 480 <= minute % 1440 < 1020)


@given(st.lists(st.tuples(st.integers(1, 1300), st.sampled_from([0, 30, 240, 1500])), min_size=1, max_size=6))
def test_work_stays_in_working_hours_and_after_holds(pairs: list[tuple[int, int]]) -> None:
    plan = chain([work for work, _ in pairs], [hold for _, hold in pairs])
    shifts = list(shifts_of(plan, CREW).values())
    for step, shift in zip(plan.steps, shifts, strict=True):
        assert 480 <= shift.start % 1440 < 1020
        assert worked_minutes(shift.start, shift.end) == step.minutes
        assert shift.free - shift.end == (step.hold.minutes if step.hold else 0)
    for earlier, later in zip(shifts, shifts[1:], strict=False):
        assert later.start >= earlier.free


def test_a_step_that_does_not_fit_the_day_starts_on_the_next() -> None:
    first, second = shifts_of(chain([500, 60], [0, 0]), CREW).values()
    assert (first.start, first.end) == (480, 980)
    assert (second.start, second.end) == (1440 + 480, 1440 + 540)


def test_a_hold_runs_through_the_night() -> None:
    first, second = shifts_of(chain([500, 60], [240, 0]), CREW).values()
    assert first.free == 1220
    assert second.start == 1440 + 480


def test_a_step_longer_than_a_day_ends_on_a_later_one() -> None:
    (shift,) = shifts_of(chain([600], [0]), CREW).values()
    assert shift.end == 1440 + 480 + 60
    assert days_of({StepNumber("1"): shift}) == 2


def test_no_steps_take_one_day() -> None:
    assert days_of({}) == 1


@pytest.mark.parametrize(("moment", "day", "text"), [(480, 1, "08:00"), (1440 + 825, 2, "13:45"), (1439.9, 2, "00:00")])
def test_moments_are_said_as_day_and_clock(moment: float, day: int, text: str) -> None:
    found, hour = day_and_hour(moment)
    assert found == day
    assert clock_text(hour) == text
