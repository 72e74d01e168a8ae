"""How the finished figure stands against wind and against people who push it.

Goes in: mass, support, projected area. Comes out: a table of pushes with the safety against overturning. A hint for the
engineer responsible, not a proof: local codes set wind speeds, gusts, factors and anchors.
"""

from __future__ import annotations

from dataclasses import dataclass

from assembler.catalogue import tables
from assembler.engineering.standing import Push, overturning_safety, wind_push

WIND_SPEEDS_M_S = (15.0, 20.0, 25.0, 30.0, 35.0)
"""Gusts of the table: 15 is a windy day, 35 a hurricane (common practice, no source)."""

PERSON_PUSH_N = 500.0
"""One person who pushes or leans (common practice, no source)."""

ASKED_SAFETY = 2.0
"""Safety against overturning in public places (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureRow:
    """One push and what it does to a figure that is not anchored.

    Parameters
    ----------
    cause
        'wind of 20 m/s' or 'one person at shoulder height'.
    force_n, moment_nm
        Force, and moment about the base.
    safety
        Moment of the weight over moment of the push.
    """

    cause: str
    force_n: float
    moment_nm: float
    safety: float

    @property
    def needs_anchors(self) -> bool:
        """Whether the weight alone is not enough."""
        return self.safety < ASKED_SAFETY


def exposure_rows(
    mass_kg: float, edge_mm: float, area_mm2: float, centre_height_mm: float, height_mm: float, drag: float = 1.2
) -> tuple[ExposureRow, ...]:
    """Safety against overturning for five winds and one push at shoulder height.

    Parameters
    ----------
    mass_kg
        Of figure and base.
    edge_mm
        Horizontal distance from the centre of mass to the nearest edge of the base.
    area_mm2, centre_height_mm
        Area seen from the side that shows most, and the height of its centre.
    height_mm
        Of the figure: a lower one is pushed at its top.
    drag
        Coefficient; 1.2 for bluff bodies (from memory).
    """
    shoulder_mm = min(height_mm, tables.body_measure("shoulder height").large_mm)
    pushes = [
        (f"wind of {speed:g} m/s", wind_push(area_mm2, centre_height_mm, speed, drag)) for speed in WIND_SPEEDS_M_S
    ]
    pushes.append(("one person at shoulder height", Push(force_n=PERSON_PUSH_N, height_mm=shoulder_mm)))
    return tuple(
        ExposureRow(
            cause=cause,
            force_n=push.force_n,
            moment_nm=push.moment_nm,
            safety=overturning_safety(mass_kg, edge_mm, push),
        )
        for cause, push in pushes
    )
