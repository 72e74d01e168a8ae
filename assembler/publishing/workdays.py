"""The plan laid on the shop's working hours: when each step starts, and when its joints are free.

The plan's calendar knows the order and the waits, but no nights. Here work stops at the end of the day, holds go on.
Goes in: a plan and the crew's hours. Comes out: one `Shift` for each step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembler.figure.ids import StepNumber
from assembler.figure.plan import Plan, Step
from assembler.figure.settings import Crew

DAY_MIN = 1440.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """When a step is worked on, in minutes since the midnight before the first day.

    Parameters
    ----------
    start, end
        Of the work. A step longer than what is left of a day starts on the next; one longer than a day ends on a later
        one, with the nights between.
    free
        When its joints may be loaded; equal to `end` for a step without a hold.
    """

    start: float
    end: float
    free: float


def shifts_of(plan: Plan, crew: Crew) -> dict[StepNumber, Shift]:
    """Shift of each step: the steps one after another by their planned starts, holds kept, within working hours.

    Parameters
    ----------
    plan
        Steps with `start_min`, `minutes`, `after`, holds and gates. Steps that start together keep the
        order of the book.
    crew
        `day_start_h`, `day_end_h`; one crew works on one step at a time.

    Returns
    -------
    dict
        In the order of the book. Weekends and holidays are not known.
    """
    places = {step.number: place for place, step in enumerate(plan.steps)}
    done: dict[StepNumber, Shift] = {}
    now = crew.day_start_h * 60
    for step in sorted(plan.steps, key=lambda step: (step.start_min, places[step.number])):
        earliest = max([now, *_waits(plan, step, done)])
        start, end = _worked(earliest, step.minutes, crew)
        done[step.number] = Shift(start=start, end=end, free=end + (step.hold.minutes if step.hold else 0.0))
        now = end
    return {step.number: done[step.number] for step in plan.steps}


def _waits(plan: Plan, step: Step, done: Mapping[StepNumber, Shift]) -> list[float]:
    """Moments that a step has to wait for."""
    ends = [done[name].end for name in step.after if name in done]
    gates = [done[gate.step].free for gate in step.gates if gate.step in done]
    holds = [
        done[other.number].free
        for other in plan.steps
        if other.hold and step.number in other.hold.before and other.number in done
    ]
    return ends + gates + holds


def _worked(earliest: float, minutes: float, crew: Crew) -> tuple[float, float]:
    """Start and end of some work that may not start before a moment."""
    opening, closing = crew.day_start_h * 60, crew.day_end_h * 60
    day, clock = divmod(earliest, DAY_MIN)
    clock = max(clock, opening)
    if clock + min(minutes, closing - opening) > closing + 1e-6:
        day, clock = day + 1, opening
    start = day * DAY_MIN + clock
    left = minutes
    while left > closing - clock + 1e-6:
        left -= closing - clock
        day, clock = day + 1, opening
    return start, day * DAY_MIN + clock + left


def cured_at(plan: Plan, shifts: Mapping[StepNumber, Shift]) -> float | None:
    """Moment at which the last bonded joint is fully cured, as `Shift` counts; None where nothing is bonded."""
    ends = [shifts[step.number].end + row.full_cure_min for step in plan.steps for row in step.adhesive]
    return max(ends, default=None)


def day_and_hour(moment: float) -> tuple[int, float]:
    """Day (from 1) and hour of the day of a moment, to the minute."""
    day, rest = divmod(round(moment), DAY_MIN)
    return int(day) + 1, rest / 60


def clock_text(hour: float) -> str:
    """An hour of the day as '08:30', to the minute."""
    whole = round(hour * 60)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"


def days_of(shifts: Mapping[StepNumber, Shift]) -> int:
    """Days from the first to the last step, holds after the last step not counted; at least 1."""
    last = max((shift.end for shift in shifts.values()), default=0.0)
    return day_and_hour(max(last - 0.001, 0.0))[0]
