"""Who lifts what: one person by the lifting equation, a team by a stated rule, above that a hoist.

Goes in: mass, centre, size, crew. Comes out: a `Lift` with people and the rule in words. Any numbers here are
guidance for planning, not a risk assessment; heavier or awkward lifts are for a licensed rigger.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assembler.catalogue import tables
from assembler.engineering.niosh import (
    Coupling,
    Duration,
    Units,
    WeightLimit,
    frequency_multiplier,
    lifts_a_minute,
    recommended_weight_limit,
)
from assembler.figure.parts import Vector
from assembler.figure.plan import Lift
from assembler.figure.settings import Crew
from assembler.words import Said, say

__all__ = [
    "Coupling",
    "Duration",
    "Units",
    "WeightLimit",
    "frequency_multiplier",
    "Grip",
    "grip",
    "lift_for",
    "lifts_a_minute",
    "person_limit",
    "recommended_weight_limit",
    "team_limit_kg",
]

BENCH_CM = 75.0
"""Height at which a part is picked up: a bench (common practice, no source)."""

NEAR_CM = 25.0
"""Hands of a team member, who stands at an edge of the load (least value of the equation)."""

FAR_CM = 63.0
"""Farther from the body than this the equation allows no lift (Applications manual, p. 8, read second-hand)."""

PLATFORM_MM = 1400.0
"""Centres higher than this are worked from a platform (common practice, no source)."""

LONG_MM = 1200.0
"""A load longer than this takes two people whatever it weighs (common practice, no source)."""


EQUATION_EXCLUDES = (
    "one hand only",
    "kneeling or seated",
    "cramped places",
    "loads that shift",
    "slippery floors",
    "carrying, pushing and pulling",
    "more than eight hours",
    "air far from 19 to 26 C",
)
"""Where the lifting equation does not hold, for the page (Applications manual, p. 6, read second-hand)."""


def person_limit(centre_height_mm: float, width_mm: float, *, is_team: bool) -> WeightLimit:
    """Limit for one person who lifts from a bench to a place in the figure, in kg.

    The lower of both ends counts, because a part is put down with care. No handles: poor coupling. Rarely: at most
    one lift in five minutes, no more than an hour.

    Parameters
    ----------
    centre_height_mm
        Of the load at its place; above what hands reach a platform is assumed.
    width_mm
        Of the load, horizontally, across the one who lifts. One person holds it in front of the body; in a team each
        stands at an edge.
    is_team
        Whether others lift too.

    References
    ----------
    Applications manual for the revised NIOSH lifting equation: H = 20 + W/2 cm when unmeasured (p. 8), both ends with
    significant control (p. 21).
    """
    there_cm = min(max(centre_height_mm / 10.0, 0.0), PLATFORM_MM / 10.0)
    reach_cm = NEAR_CM if is_team else max(NEAR_CM, 20.0 + width_mm / 20.0)
    distance_cm = abs(there_cm - BENCH_CM)
    ends = (
        recommended_weight_limit(
            horizontal=reach_cm,
            vertical=height_cm,
            distance=distance_cm,
            coupling=Coupling.POOR,
            origin_vertical=BENCH_CM,
        )
        for height_cm in (BENCH_CM, there_cm)
    )
    return min(ends, key=lambda end: end.limit)


def team_limit_kg(person_kg: float, people: int) -> float:
    """What a team may lift: the stated share of the sum; 0 for teams larger than the rule covers.

    Parameters
    ----------
    person_kg
        What each can lift.
    people
        Team size.

    References
    ----------
    UK HSE guidance L23: two people two thirds, three people half of the sum.
    """
    for row in tables.team_shares():
        if row.people == people:
            return people * person_kg * row.share
    return 0.0


def lift_for(mass_kg: float, centre_mm: Vector, size_mm: Vector, crew: Crew, floor_mm: float = 0.0) -> Lift:
    """People that a lift takes, with the rule; 0 people means a hoist and a licensed rigger.

    Parameters
    ----------
    mass_kg
        Of what moves.
    centre_mm
        Its centre of mass at its place, third coordinate up.
    size_mm
        Its box, third edge up.
    crew
        How many are there, and the shop's own limit for one person if it has one.
    floor_mm
        Height of the floor in the same frame.
    """
    height_mm = centre_mm[2] - floor_mm
    width_mm, length_mm = sorted(size_mm[:2])
    longest_mm = max(length_mm, size_mm[2])
    # Somebody has to hand it up to a platform.
    is_handed_up = height_mm > PLATFORM_MM
    takes_two = longest_mm > LONG_MM or is_handed_up
    limits: list[Said] = []
    limit_kg = 0.0
    for row in tables.team_shares():
        people = row.people
        if people > max(1, crew.people):
            break
        person_kg = crew.lift_one_kg or person_limit(height_mm, width_mm, is_team=people > 1).limit
        limit_kg = math.floor(10.0 * team_limit_kg(person_kg, people)) / 10.0
        limits.append(say("lift.limit", limit_kg=limit_kg, persons=_persons(people)))
        if mass_kg <= limit_kg and not (people == 1 and takes_two):
            why = _reason(people, person_kg, crew)
            rule = say(
                "lift.hands",
                mass_kg=mass_kg,
                limit_kg=limit_kg,
                persons=_up(_persons(people), is_handed_up),
                why=why,
            )
            return Lift(mass_kg=mass_kg, centre_mm=centre_mm, people=people, rule=rule)
    why = say("lift.why_above", limit=limits[-1])
    if not limit_kg:
        why = say("lift.why_far", load_mm=width_mm, far_cm=FAR_CM)
    elif mass_kg <= limit_kg:
        long = say("lift.long", long_mm=LONG_MM) if longest_mm > LONG_MM else say("lift.handed_up")
        why = say("lift.why_two", long=long)
    rule = say("lift.hoist", mass_kg=mass_kg, why=_up(why, is_handed_up))
    return Lift(mass_kg=mass_kg, centre_mm=centre_mm, people=0, rule=rule)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grip:
    """Where to take hold of a load.

    Parameters
    ----------
    is_long
        Whether it has a long side, to be held left and right of it; else at two opposite sides.
    rise_mm
        Centre of mass above its lower end: hands go no lower.
    aside_mm
        Centre of mass beside the middle of its box.
    is_lopsided
        Whether that is enough to be felt: more than a tenth of its width.
    """

    is_long: bool
    rise_mm: float
    aside_mm: float
    is_lopsided: bool


def grip(centre_mm: Vector, low_mm: Vector, high_mm: Vector, up: Vector = (0.0, 0.0, 1.0)) -> Grip:
    """Where to take hold of a load: at two sides, level with its centre of mass or above it.

    Parameters
    ----------
    centre_mm
        Centre of mass.
    low_mm, high_mm
        Corners of its box, in the same frame.
    up
        Unit vector; the box is measured along the axis nearest to it and the two others.
    """
    upright = max(range(3), key=lambda axis: abs(up[axis]))
    across = [axis for axis in range(3) if axis != upright]
    lower_mm = low_mm[upright] if up[upright] > 0 else high_mm[upright]
    widths = [high_mm[axis] - low_mm[axis] for axis in across]
    aside_mm = max(abs(centre_mm[axis] - (low_mm[axis] + high_mm[axis]) / 2.0) for axis in across)
    return Grip(
        is_long=max(widths) > 1.5 * min(widths),
        rise_mm=abs(centre_mm[upright] - lower_mm),
        aside_mm=aside_mm,
        is_lopsided=aside_mm > 0.1 * max(widths),
    )


def _up(what: Said, is_handed_up: bool) -> Said:
    return say("lift.from_platform", what=what) if is_handed_up else what


def _persons(people: int) -> Said:
    return say("lift.one_person") if people == 1 else say("lift.people", people=people)


def _reason(people: int, person_kg: float, crew: Crew) -> Said:
    own = say("lift.by_shop") if crew.lift_one_kg else say("lift.by_equation")
    if people == 1:
        return own
    share = say("word.two_thirds") if people == 2 else say("word.half")
    return say("lift.share", share=share, people=people, person_kg=person_kg, own=own)
