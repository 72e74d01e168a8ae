"""How the finished figure stands against wind and against people who push it.

Goes in: mass, feet, silhouettes, anchors. Comes out: a row for each push, with its safety against tipping and sliding
and what the anchors hold. A hint for the engineer responsible, not a proof: local codes set wind speeds, gusts, factors
and anchors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from assembler.catalogue import tables
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.standing import LEAST_ARM_MM, Push, anchor_demand, support_polygon, tip_safety, wind_push
from assembler.figure.exposure import ExposureRow, Silhouette, Standing
from assembler.figure.findings import Finding, Level
from assembler.figure.settings import Base
from assembler.words import say

WIND_SPEEDS_M_S = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
"""Gusts of the table, not means over ten minutes: 15 is a windy day.

By EN 1991-1-4 in open country (terrain II, 2 m up, own sum from memory of the formulas) the gust of 50 years is 31 m/s
where the mean is 25, and 37 m/s where it is 30, as on coasts.
"""

PERSON_PUSH_N = 500.0
"""One person who pushes or leans (common practice, no source)."""

ASKED_SAFETY = 2.0
"""Safety against tipping and sliding in public places (common practice, no source)."""

DRAG = 1.2
"""Coefficient of bluff bodies (from memory; 0.5 to 2 by shape)."""

FRICTION = 0.3
"""Of a base on paving, on the safe side (common practice).

The CTU Code, appendix 2, gives 0.7 for sawn wood on rough concrete, 0.2 for a plastic pallet on plywood (second-hand).
"""


def on_base(figure: Standing, base: Base) -> Standing:
    """The figure on a base that has no mesh: a box in the middle under its feet; unchanged without one.

    Parameters
    ----------
    figure
        Without that base.
    base
        With `size_mm` (along both axes of the plan, and up) and `mass_kg`.
    """
    length_mm, width_mm, rise_mm = base.size_mm
    if base.part or length_mm <= 0 or width_mm <= 0:
        return figure
    middle = (figure.feet_mm.min(axis=0) + figure.feet_mm.max(axis=0)) / 2.0
    half = np.array([length_mm, width_mm]) / 2.0
    corners = middle + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    whole_kg = figure.mass_kg + base.mass_kg
    centre = (figure.mass_kg * np.asarray(figure.centre_mm) + base.mass_kg * middle) / whole_kg
    return Standing(
        mass_kg=whole_kg,
        centre_mm=(float(centre[0]), float(centre[1])),
        feet_mm=corners,
        height_mm=figure.height_mm + rise_mm,
        sides=tuple(_raised(side, length_mm, width_mm, rise_mm) for side in figure.sides),
    )


def _raised(side: Silhouette, length_mm: float, width_mm: float, rise_mm: float) -> Silhouette:
    """A silhouette on top of a box."""
    across_mm = abs(side.toward[0]) * width_mm + abs(side.toward[1]) * length_mm
    box_mm2 = across_mm * rise_mm
    area_mm2 = side.area_mm2 + box_mm2
    if area_mm2 <= 0:
        return side
    moment = side.area_mm2 * (side.centre_height_mm + rise_mm) + box_mm2 * rise_mm / 2.0
    return replace(side, area_mm2=area_mm2, centre_height_mm=moment / area_mm2)


def exposure_rows(
    figure: Standing, anchors_mm: NDArray[np.float64] | None = None, *, drag: float = DRAG, friction: float = FRICTION
) -> tuple[ExposureRow, ...]:
    """What six winds and one person do to the finished figure, each towards the side where it does most.

    Parameters
    ----------
    figure
        With its base.
    anchors_mm : (n, 2) float64, mm
        Anchors in plan; None where their places are not stated.
    drag, friction
        Coefficients.

    References
    ----------
    0.5 rho v^2 x drag x area; statics of a rigid body on its support polygon; elastic bolt group.
    """
    shoulder_mm = min(figure.height_mm, tables.body_measure("shoulder height").large_mm)
    person = Push(force_n=PERSON_PUSH_N, height_mm=shoulder_mm)
    # The same polygon for every wind.
    figure = replace(figure, feet_mm=support_polygon(figure.feet_mm))
    rows = []
    for speed in (*WIND_SPEEDS_M_S, 0.0):
        cases = [
            _case(figure, wind_push(side.area_mm2, side.centre_height_mm, speed, drag) if speed else person, toward)
            for side in figure.sides
            for toward in (side.toward, (-side.toward[0], -side.toward[1]))
        ]
        rows.append(_worst(figure, cases, anchors_mm, speed, friction))
    return tuple(rows)


class _Case(NamedTuple):
    push: Push
    toward: tuple[float, float]
    safety: float


def _case(figure: Standing, push: Push, toward: tuple[float, float]) -> _Case:
    return _Case(
        push=push,
        toward=toward,
        safety=tip_safety(figure.mass_kg, figure.centre_mm, figure.feet_mm, push, toward),
    )


def _worst(
    figure: Standing, cases: Sequence[_Case], anchors_mm: NDArray[np.float64] | None, wind_m_s: float, friction: float
) -> ExposureRow:
    """The least safe case, with the largest demand on anchors from any side."""
    worst = min(cases, key=lambda case: case.safety)
    largest_n = max(case.push.force_n for case in cases)
    is_line = anchors_mm is None or _breadth_mm(anchors_mm) < LEAST_ARM_MM
    demands = [
        anchor_demand(anchors_mm, figure.mass_kg, figure.centre_mm, case.push, case.toward)
        for case in cases
        if anchors_mm is not None
    ]
    return ExposureRow(
        wind_m_s=wind_m_s,
        force_n=worst.push.force_n,
        moment_nm=worst.push.moment_nm,
        tip_safety=worst.safety,
        slide_safety=friction * figure.mass_kg * GRAVITY_M_S2 / largest_n if largest_n else math.inf,
        anchor_tension_n=None if is_line else max(demand.tension_n or 0.0 for demand in demands),
        anchor_shear_n=max((demand.shear_n for demand in demands), default=None),
    )


def _breadth_mm(anchors_mm: NDArray[np.float64]) -> float:
    """Largest distance of an anchor from the line through their middle along which they lie best; 0 for one or two."""
    arms = anchors_mm - anchors_mm.mean(axis=0)
    _, _, axes = np.linalg.svd(arms, full_matrices=True)
    return float(np.abs(arms @ axes[1]).max())


def exposure_findings(rows: Sequence[ExposureRow], base: Base) -> tuple[Finding, ...]:
    """What is missing to judge how the figure stands, and a warning where one person who leans on it can move it.

    Parameters
    ----------
    rows
        From `exposure_rows`.
    base
        With its anchors.
    """
    person = next((row for row in rows if not row.wind_m_s), None)
    if person is None:
        return ()
    return (*_unknowns(person, base), *_loose(person, base))


def _unknowns(person: ExposureRow, base: Base) -> list[Finding]:
    """Half of a base without a mesh is stated, or anchors that cannot hold a moment from every side."""
    findings = []
    length_mm, width_mm, _ = base.size_mm
    has_size = length_mm > 0 and width_mm > 0
    if not base.part and has_size != (base.mass_kg > 0):
        has, lacks = ("size_mm", "mass_kg") if has_size else ("mass_kg", "size_mm")
        effect = (
            say("finding.base-half-stated-effect.weightless")
            if has_size
            else say("finding.base-half-stated-effect.left_out")
        )
        findings.append(
            Finding(
                level=Level.NOTE,
                code="base-half-stated",
                about=(),
                message=say("finding.base-half-stated", has=has, lacks=lacks, effect=effect),
                remedy=say("remedy.base-half-stated", lacks=lacks),
            )
        )
    if base.anchors_at_mm and person.anchor_tension_n is None:
        findings.append(
            Finding(
                level=Level.WARN,
                code="anchors-in-line",
                about=(),
                message=say("finding.anchors-in-line", count=len(base.anchors_at_mm)),
                remedy=say("remedy.anchors-in-line"),
            )
        )
    return findings


def _loose(person: ExposureRow, base: Base) -> tuple[Finding, ...]:
    if base.anchors or person.safety >= ASKED_SAFETY:
        return ()
    how = say("word.tip" if person.tip_safety <= person.slide_safety else "word.slide")
    message = say(
        "finding.stands-loose", force_n=PERSON_PUSH_N, how=how, safety=max(0.0, person.safety), asked=ASKED_SAFETY
    )
    remedy = say("remedy.stands-loose")
    return (Finding(level=Level.WARN, code="stands-loose", about=(), message=message, remedy=remedy),)
