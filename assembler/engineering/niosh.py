"""What one person may lift: the revised lifting equation of NIOSH.

Goes in: where the load is, how often, how it can be held. Comes out: the recommended weight limit with its multipliers.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from assembler.catalogue import tables


class Units(StrEnum):
    """The equation's two sets of constants; they are no exact conversions of each other, so keep to one."""

    METRIC = "cm, kg"
    US = "in, lb"


class Coupling(StrEnum):
    """How well the load can be held."""

    GOOD = "good"
    FAIR = "fair"
    POOR = "poor"


class Duration(StrEnum):
    """How long lifting goes on, with its rest."""

    SHORT = "short"
    MODERATE = "moderate"
    LONG = "long"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Constants:
    load: float
    near: float
    far: float
    origin_height: float
    height_slope: float
    highest: float
    distance_share: float
    shortest: float
    longest: float


_CONSTANTS = {
    Units.METRIC: _Constants(
        load=23.0,
        near=25.0,
        far=63.0,
        origin_height=75.0,
        height_slope=0.003,
        highest=175.0,
        distance_share=4.5,
        shortest=25.0,
        longest=175.0,
    ),
    Units.US: _Constants(
        load=51.0,
        near=10.0,
        far=25.0,
        origin_height=30.0,
        height_slope=0.0075,
        highest=70.0,
        distance_share=1.8,
        shortest=10.0,
        longest=70.0,
    ),
}
_COUPLING = {Coupling.GOOD: (1.0, 1.0), Coupling.FAIR: (0.95, 1.0), Coupling.POOR: (0.9, 0.9)}
_MOST_TURNED_DEG = 135.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightLimit:
    """The recommended weight limit and the multipliers that made it.

    Parameters
    ----------
    limit
        RWL in kg (metric) or lb (US).
    load, horizontal, vertical, distance, asymmetric, frequency, coupling
        LC, HM, VM, DM, AM, FM, CM.
    """

    limit: float
    load: float
    horizontal: float
    vertical: float
    distance: float
    asymmetric: float
    frequency: float
    coupling: float

    def index(self, load: float) -> float:
        """Lifting index: load / limit; infinite where the limit is 0. At most 1 is the aim of design."""
        return load / self.limit if self.limit else float("inf")


def recommended_weight_limit(
    *,
    horizontal: float,
    vertical: float,
    distance: float,
    asymmetry_deg: float = 0.0,
    lifts_min: float = 0.2,
    duration: Duration = Duration.SHORT,
    coupling: Coupling = Coupling.FAIR,
    units: Units = Units.METRIC,
    origin_vertical: float | None = None,
    round_multipliers: bool = False,
) -> WeightLimit:
    """Recommended weight limit RWL = LC x HM x VM x DM x AM x FM x CM.

    Outside the range of a variable its multiplier, and with it the limit, is 0.

    Parameters
    ----------
    horizontal, vertical
        Hands: distance in front of the ankles, height above the floor; cm or in.
    distance
        Vertical travel; cm or in.
    asymmetry_deg
        Turn of the trunk.
    lifts_min
        Lifts a minute; below 0.2 counts as 0.2.
    duration, coupling, units
        See the enumerations.
    origin_vertical
        Height at the origin, which picks the frequency column; `vertical` when not given.
    round_multipliers
        Round each to two places, as the worked examples of the manual do.

    Raises
    ------
    ValueError
        If a length, the turn or the frequency is negative.

    References
    ----------
    Waters, Putz-Anderson, Garg, Applications manual for the revised NIOSH lifting equation, DHHS (NIOSH) 94-110.
    """
    if min(horizontal, vertical, distance, asymmetry_deg, lifts_min) < 0:
        raise ValueError("lengths, turn and frequency of a lift are not negative")
    base = _CONSTANTS[units]
    origin = vertical if origin_vertical is None else origin_vertical
    multipliers = (
        _horizontal(horizontal, base),
        _vertical(vertical, base),
        _distance(distance, base),
        1.0 - 0.0032 * asymmetry_deg if asymmetry_deg <= _MOST_TURNED_DEG else 0.0,
        frequency_multiplier(lifts_min, duration, is_low=origin < base.origin_height),
        _COUPLING[coupling][0 if vertical < base.origin_height else 1],
    )
    if round_multipliers:
        multipliers = tuple(round(value, 2) for value in multipliers)  # type: ignore[assignment]
    limit = base.load
    for value in multipliers:
        limit *= value
    return WeightLimit(
        limit=limit,
        load=base.load,
        horizontal=multipliers[0],
        vertical=multipliers[1],
        distance=multipliers[2],
        asymmetric=multipliers[3],
        frequency=multipliers[4],
        coupling=multipliers[5],
    )


def _horizontal(horizontal: float, base: _Constants) -> float:
    return 0.0 if horizontal > base.far else base.near / max(horizontal, base.near)


def _vertical(vertical: float, base: _Constants) -> float:
    return 0.0 if vertical > base.highest else 1.0 - base.height_slope * abs(vertical - base.origin_height)


def _distance(distance: float, base: _Constants) -> float:
    return 0.0 if distance > base.longest else 0.82 + base.distance_share / max(distance, base.shortest)


def frequency_multiplier(lifts_min: float, duration: Duration, *, is_low: bool) -> float:
    """FM, linear between the rows of the table; 0 above 15 lifts a minute.

    Parameters
    ----------
    lifts_min
        Lifts a minute.
    duration
        Column group.
    is_low
        Whether the hands start below 75 cm (30 in).
    """
    height = "below" if is_low else "from"
    rows = sorted(
        (row.lifts_min, row.multiplier)
        for row in tables.frequency_multipliers()
        if row.height == height and row.duration == duration
    )
    if lifts_min > rows[-1][0]:
        return 0.0
    lifts_min = max(lifts_min, rows[0][0])
    for (low, first), (high, second) in pairwise(rows):
        if lifts_min <= high:
            return first + (second - first) * (lifts_min - low) / (high - low)
    raise AssertionError("unreachable: the rate lies between the rows")


def lifts_a_minute(rate: float, work_min: float) -> float:
    """Frequency over the manual's 15 minutes when lifting goes on at a rate for a part of them.

    Parameters
    ----------
    rate
        Lifts a minute while lifting.
    work_min
        Minutes of lifting in each 15.
    """
    return rate * work_min / 15.0
