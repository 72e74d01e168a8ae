"""Which bolt a hole was made for: clearance holes of ISO 273, inch holes recognised.

Goes in: a measured diameter. Comes out: size, series and deviation, or None.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assembler.catalogue import tables
from assembler.catalogue.records import ClearanceHole
from assembler.words import Text, both, say

HOLE_TOLERANCE_MM = 0.3
"""Largest difference between a hole and its series: modellers round 8.4 to 8.5, or add for print (common practice)."""

LEAST_CLEARANCE_MM = 0.1
"""A hole with less over the thread's diameter does not pass the bolt (common practice, no source)."""

INCH_TOLERANCE_MM = 0.05
"""How near an inch hole has to be met before it is called one: noise of the survey."""

METRIC_DOUBT_MM = 0.12
"""A hole nearer than this to a metric series is metric, however near an inch hole lies."""

_Entry = tuple[float, int, int, str, float]
"""Distance, choice of the size, rank of the fit, size, deviation."""

_FITS = ("medium", "fine", "coarse")


@dataclass(frozen=True, slots=True, kw_only=True)
class HoleMatch:
    """The bolt that a hole was made for.

    Parameters
    ----------
    size
        'M8'; of an inch hole '5/16 in'.
    fit
        'fine', 'medium' or 'coarse' series.
    deviation_mm
        Hole less table value.
    rivals
        Other sizes whose holes are within the tolerance too, nearest first.
    """

    size: str
    fit: str
    deviation_mm: float
    rivals: tuple[str, ...] = ()


def size_from_hole(hole_mm: float) -> HoleMatch | None:
    """Metric bolt size that a clearance hole was made for, or None when none is near.

    A hole between two series of one size belongs to that size, however far from both.

    Nearest table value first; a tie goes to first-choice sizes, then to the medium series, then to the fine one (so a
    hole of 21 mm is M20 fine, not M18 coarse, and names M18 as its rival).

    Parameters
    ----------
    hole_mm
        Diameter of the true circle.

    References
    ----------
    ISO 273:1979, table of clearance holes.
    """
    threads = {row.size: row for row in tables.threads()}
    found = sorted(
        (round(abs(hole_mm - table_mm), 2), threads[row.size].choice, _FITS.index(fit), row.size, hole_mm - table_mm)
        for row, fit, table_mm in _entries(tables.clearance_holes())
        if hole_mm >= threads[row.size].diameter_mm + LEAST_CLEARANCE_MM
    )
    near = [entry for entry in found if entry[0] <= HOLE_TOLERANCE_MM] or _between_series(hole_mm, found)
    if not near:
        return None
    _, _, fit_rank, size, deviation = near[0]
    rivals = dict.fromkeys(entry[3] for entry in near if entry[3] != size)
    return HoleMatch(size=size, fit=_FITS[fit_rank], deviation_mm=deviation, rivals=tuple(rivals))


def _between_series(hole_mm: float, found: list[_Entry]) -> list[_Entry]:
    """The nearest entry, where the holes next below and above belong to one size: 9.5 mm is M8; else nothing."""
    below = max((entry for entry in found if entry[4] >= 0), key=lambda entry: (-entry[0], entry[3]), default=None)
    above = min((entry for entry in found if entry[4] < 0), key=lambda entry: (entry[0], entry[3]), default=None)
    return found[:1] if below and above and below[3] == above[3] else []


def inch_size_from_hole(hole_mm: float) -> HoleMatch | None:
    """Inch bolt that a hole was made for, when it meets an inch hole and no metric one as closely.

    Parameters
    ----------
    hole_mm
        Diameter of the true circle.

    References
    ----------
    ASME B18.2.8, close, normal and loose fits, as printed in Machinery's Handbook, 31st ed.
    """
    found = sorted(
        (round(abs(hole_mm - table_mm), 3), _FITS.index(fit), row.size, hole_mm - table_mm)
        for row, fit, table_mm in _entries(tables.inch_holes())
    )
    off, fit_rank, size, deviation = found[0]
    metric = size_from_hole(hole_mm)
    if off > INCH_TOLERANCE_MM or (metric is not None and abs(metric.deviation_mm) < METRIC_DOUBT_MM):
        return None
    return HoleMatch(size=size, fit=_FITS[fit_rank], deviation_mm=deviation)


def neighbours(hole_mm: float) -> Text:
    """The holes next below and above, for a finding."""
    entries = sorted((table_mm, row.size, fit) for row, fit, table_mm in _entries(tables.clearance_holes()))
    below = [entry for entry in entries if entry[0] <= hole_mm]
    above = [entry for entry in entries if entry[0] > hole_mm]
    return both(
        say("word.hole_of_series", size=size, fit=say(f"word.{fit}"), hole_mm=table_mm)
        for table_mm, size, fit in below[-1:] + above[:1]
    )


def _entries(rows: tuple[ClearanceHole, ...]) -> Iterator[tuple[ClearanceHole, str, float]]:
    for row in rows:
        yield row, "fine", row.fine_mm
        yield row, "medium", row.medium_mm
        yield row, "coarse", row.coarse_mm
