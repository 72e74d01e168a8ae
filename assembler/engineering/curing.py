"""Times of an adhesive at the temperature of the parts.

Goes in: minutes of the data sheet and a temperature. Comes out: minutes at that temperature, or None outside the range.
"""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.settings import Adhesive, Settings

DOUBLING_C = 10.0
"""A reaction runs about twice as fast for each 10 degrees more (makers' pages, read second-hand)."""

FACTORS_10_C = (1.5, 2.5)
"""Between which factors makers of adhesives put the same 10 degrees (a maker's page, read second-hand)."""


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


def coldest_c(settings: Settings, recorded_c: float) -> float:
    """What a hold goes by: the temperature that was recorded, or the coldest of a night in the shop."""
    return min(recorded_c, settings.climate.night_min_c)


def handling_min(settings: Settings, recorded_c: float) -> float | None:
    """Minutes to handling strength of parts that were joined at a temperature; None where no time can be given."""
    glue = settings.adhesive
    return minutes_at(glue.handling_min, glue.sheet_c, coldest_c(settings, recorded_c), glue.lowest_c, glue.highest_c)
