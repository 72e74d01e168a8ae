"""Times of an adhesive at the temperature of the parts.

Goes in: minutes of the data sheet and a temperature, or the temperatures of day and night. Comes out: minutes at that
temperature, or None outside the range; and how long a hold lasts that begins at some hour of the day.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from assembler.engineering.workhours import DAY_MIN
from assembler.figure.settings import Adhesive

DOUBLING_C = 10.0
"""A reaction runs about twice as fast for each 10 degrees more (makers' pages, read second-hand)."""

HALVING_C = (7.0, 13.0)
"""By how many degrees a reaction doubles, at the least and at the most: the page prints the slow end.

A maker's page gives factors of 1.5 to 2.5 for 10 degrees (read second-hand); 7 and 13 degrees are 2.7 and 1.7.
"""


def cure_factor(sheet_c: float, at_c: float, rate: float = 2.0) -> float:
    """What the times of the data sheet are multiplied by at another temperature: 2^((sheet - T) / 10).

    Parameters
    ----------
    sheet_c, at_c
        Temperature of the sheet's times, and of the parts.
    rate
        How much faster the reaction runs for 10 degrees more.
    """
    return float(rate ** ((sheet_c - at_c) / DOUBLING_C))


def minutes_at(minutes: float, sheet_c: float, at_c: float, lowest_c: float, highest_c: float) -> float | None:
    """Minutes at a temperature, or None where the rule must not be used: do not glue.

    Parameters
    ----------
    minutes
        Of the data sheet, at `sheet_c`.
    sheet_c, at_c
        Temperature of the sheet's times, and of the parts.
    lowest_c, highest_c
        Range in which the rule holds; its ends are inside.
    """
    if not lowest_c <= at_c <= highest_c:
        return None
    return minutes * cure_factor(sheet_c, at_c)


def within_range_c(temp_c: float, adhesive: Adhesive) -> float:
    """The temperature of the adhesive's range that is nearest: what times are printed for when parts are outside it."""
    return min(max(temp_c, adhesive.lowest_c), adhesive.highest_c)


def slow_factor(sheet_c: float, at_c: float) -> float:
    """What the times of the data sheet are multiplied by at the safe end: the larger of 2^((sheet - T) / 7 or 13)."""
    return max(float(2.0 ** ((sheet_c - at_c) / halving_c)) for halving_c in HALVING_C)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayAndNight:
    """How fast an adhesive cures over the hours of a working day.

    Parameters
    ----------
    opens_min, closes_min
        When it is warm: the working hours, minutes of the day.
    day_share, night_share
        Minutes of the data sheet that pass in a minute inside and outside of them.
    """

    opens_min: float
    closes_min: float
    day_share: float
    night_share: float


def day_and_night(adhesive: Adhesive, day_c: float, night_c: float, opens_min: float, closes_min: float) -> DayAndNight:
    """Rates at the safe end; a temperature outside the range of the adhesive counts as its nearest end.

    Parameters
    ----------
    adhesive
        With its sheet's temperature and range.
    day_c, night_c
        Inside and outside working hours.
    opens_min, closes_min
        Of the working hours, minutes of the day.
    """
    rates = [1.0 / slow_factor(adhesive.sheet_c, within_range_c(at_c, adhesive)) for at_c in (day_c, night_c)]
    return DayAndNight(opens_min=opens_min, closes_min=closes_min, day_share=rates[0], night_share=rates[1])


def hold_minutes(sheet_min: float, closed_min: float, clock: DayAndNight) -> float:
    """Minutes until the cure adds up to the data sheet's minutes, closed at some minute of the day.

    Parameters
    ----------
    sheet_min
        Of the data sheet, at its temperature.
    closed_min
        Minute of the day.
    clock
        Rates; every day is a working day.
    """
    done, now, day = 0.0, closed_min, math.floor(closed_min / DAY_MIN)
    while True:
        # Up to its opening a day is night. Ends are worked out anew each day: a sum might stand still.
        for ends, rate in ((clock.opens_min, clock.night_share), (clock.closes_min, clock.day_share)):
            span = day * DAY_MIN + ends - now
            if span <= 0.0:
                continue
            if done + rate * span >= sheet_min:
                return now + (sheet_min - done) / rate - closed_min
            done, now = done + rate * span, now + span
        day += 1


@cache
def longest_hold(sheet_min: float, clock: DayAndNight) -> float:
    """The longest hold of all that begin within working hours, minute by minute."""
    closings = (*range(math.ceil(clock.opens_min), math.ceil(clock.closes_min)), clock.closes_min)
    return max(hold_minutes(sheet_min, closed_min, clock) for closed_min in closings)


@dataclass(frozen=True, slots=True, kw_only=True)
class TemperatureRow:
    """Times of an adhesive at one temperature.

    Parameters
    ----------
    temp_c
        Of the parts.
    open_min, working_life_min, fixture_min, handling_min, full_cure_min
        At that temperature.
    """

    temp_c: float
    open_min: float
    working_life_min: float
    fixture_min: float
    handling_min: float
    full_cure_min: float


def five_temperatures(adhesive: Adhesive) -> tuple[TemperatureRow, ...]:
    """The adhesive's times at five temperatures across its range, coldest first: paper does not know the weather.

    Parameters
    ----------
    adhesive
        With times and range. The temperatures are spread evenly from the lowest to the highest, in whole degrees
        where the range is 8 degrees or more.
    """
    low, high = adhesive.lowest_c, adhesive.highest_c
    # A narrow range needs tenths, or two of the five would be the same.
    digits = 0 if high - low >= 8.0 else 1
    temperatures = (low, *(round(low + (high - low) * quarter / 4.0, digits) for quarter in (1, 2, 3)), high)
    rows = []
    for temp_c in temperatures:
        factor = cure_factor(adhesive.sheet_c, temp_c)
        rows.append(
            TemperatureRow(
                temp_c=temp_c,
                open_min=adhesive.open_min * factor,
                working_life_min=adhesive.working_life_min * factor,
                fixture_min=adhesive.fixture_min * factor,
                handling_min=adhesive.handling_min * factor,
                full_cure_min=adhesive.full_cure_min * factor,
            )
        )
    return tuple(rows)
