"""Working hours as a line of blocks: when some work can start, and how long has been worked up to a moment.

Moments are minutes since the midnight before day 1. Goes in: shifts, weekdays, days off. Comes out: blocks without a
pause; a step is not handed over from one shift to the next.
"""

from __future__ import annotations

import datetime
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

DAY_MIN = 1440
"""Minutes of a day."""


class NoScheduleError(ValueError):
    """No schedule keeps all waits and hours within the time looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A shift on one day.

    Parameters
    ----------
    opens, closes
        Moments.
    worked
        Working minutes of all blocks before it.
    """

    opens: int
    closes: int
    worked: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkHours:
    """Blocks in their order, none touching the inside of another."""

    blocks: tuple[Block, ...]

    def worked(self, moment_min: float) -> float:
        """Working minutes up to a moment."""
        place = bisect_right(self.blocks, moment_min, key=lambda block: block.opens) - 1
        if place < 0:
            return 0.0
        block = self.blocks[place]
        return block.worked + min(moment_min, block.closes) - block.opens

    def start(self, earliest_min: float, minutes: float) -> float:
        """First moment_min from which some work can be done without a pause.

        Raises
        ------
        NoScheduleError
            If it fits into no block, or into none that is left.
        """
        for block in self.blocks:
            start = max(earliest_min, block.opens)
            if start + minutes <= block.closes:
                return start
        if minutes > self.longest_min():
            raise NoScheduleError(f"{minutes:g} min of work fit into no shift")
        days = max((block.closes for block in self.blocks), default=0) // DAY_MIN + 1
        raise NoScheduleError(f"the work is not done within {days} days")

    def longest_min(self) -> int:
        """Minutes of the longest block."""
        return max((block.closes - block.opens for block in self.blocks), default=0)

    def free_at(self, closed_min: float, sheet_min: float, day_share: float, night_share: float) -> float:
        """Moment at which the cure of what is closed at some moment adds up to minutes of the data sheet.

        Parameters
        ----------
        closed_min
            Moment.
        sheet_min
            At the temperature of the data sheet.
        day_share, night_share
            Minutes of the sheet that pass in a minute inside and outside of the blocks.
        """
        left, now = sheet_min, closed_min
        for block in self.blocks:
            for until, share in ((block.opens, night_share), (block.closes, day_share)):
                if until <= now:
                    continue
                if share * (until - now) >= left:
                    return now + left / share
                left, now = left - share * (until - now), float(until)
        return now + left / night_share


def hours_of(spans: Sequence[tuple[int, int]]) -> WorkHours:
    """Working hours of blocks given by their opening and closing moments, in their order."""
    blocks: list[Block] = []
    worked = 0
    for opens, closes in spans:
        blocks.append(Block(opens=opens, closes=closes, worked=worked))
        worked += closes - opens
    return WorkHours(blocks=tuple(blocks))


def work_hours(
    shifts_h: Sequence[tuple[float, float]],
    *,
    days: int,
    first_day: datetime.date,
    weekdays: Sequence[int],
    days_off: Sequence[datetime.date] = (),
) -> WorkHours:
    """Blocks of so many days.

    Parameters
    ----------
    shifts_h
        From and to, hours of the day, not overlapping.
    days
        Calendar days from day 1.
    first_day
        Its date.
    weekdays
        Monday 0 to Sunday 6.
    days_off
        Dates without work.
    """
    spans, off = [], frozenset(days_off)
    for day in range(days):
        date = first_day + datetime.timedelta(days=day)
        if date.weekday() not in weekdays or date in off:
            continue
        for first_h, last_h in sorted(shifts_h):
            spans.append((day * DAY_MIN + round(first_h * 60), day * DAY_MIN + round(last_h * 60)))
    return hours_of(spans)
