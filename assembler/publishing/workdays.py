"""The plan's times as pages take them: when each step starts, and when its joints are free.

Goes in: a plan with a calendar. Comes out: one `Shift` for each step.
"""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.ids import StepNumber
from assembler.figure.plan import Plan

DAY_MIN = 1440.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """When a step is worked on, in minutes since the midnight before the first day.

    Parameters
    ----------
    start, end
        Of the work.
    free
        When its joints may be loaded; equal to `end` for a step without a hold.
    """

    start: float
    end: float
    free: float


def shifts_of(plan: Plan) -> dict[StepNumber, Shift]:
    """Shift of each step, in the order of the book."""
    return {
        step.number: Shift(start=step.start_min, end=step.end_min, free=max(step.end_min, step.free_min))
        for step in plan.steps
    }


def day_and_hour(moment: float) -> tuple[int, float]:
    """Day (from 1) and hour of the day of a moment, to the minute."""
    day, rest = divmod(round(moment), DAY_MIN)
    return int(day) + 1, rest / 60


def clock_text(hour: float) -> str:
    """An hour of the day as '08:30', to the minute."""
    whole = round(hour * 60)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"
