"""Calendar minutes of the plan as day and hour."""

from __future__ import annotations

from assembler.publishing.source import Source

DAY_MIN = 1440.0


def day_and_hour(minutes: float, day_start_h: float) -> tuple[int, float]:
    """Day (from 1) and hour of the day of a moment of the calendar.

    Parameters
    ----------
    minutes
        Since the start of the first working day; nights count.
    day_start_h
        When the working day starts.
    """
    since_midnight = minutes + day_start_h * 60
    day, rest = divmod(round(since_midnight, 6), DAY_MIN)
    return int(day) + 1, rest / 60


def clock_text(hour: float) -> str:
    """An hour of the day as '08:30', to the minute."""
    whole = round(hour * 60)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"


def days_of(source: Source) -> int:
    """Days from the first to the last step, holds after the last step not counted; at least 1."""
    last = max((step.end_min for step in source.plan.steps), default=0.0)
    return day_and_hour(max(last - 0.001, 0.0), source.settings.crew.day_start_h)[0]
