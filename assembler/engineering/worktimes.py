"""How long the crew works at a step: the same minutes for the search, the calendar and the page.

Goes in: what a step joins, lifts and props, how deep inside its bolts are reached, and the crew's rates. Comes out:
minutes. Every rate is one of [crew] in figure.toml, an assumption until the shop has put its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from assembler.engineering.patterns import TIGHTENING_PASSES
from assembler.figure.joints import Joint
from assembler.figure.settings import Crew

HANDS_AT_JOINT = 4
"""People who can work at one joint without being in each other's way (common practice, no source)."""

INSIDE_MM = 500.0
"""Depth inside the hollow at which work on a bolt takes `inside_factor` times as long (common practice, no source)."""


def hands(crew: Crew) -> int:
    """People who work at one joint at once."""
    return min(crew.people, crew.team)


def bolts_minutes(reaches_mm: Sequence[float], people: int, crew: Crew) -> float:
    """Minutes to fit some bolts finger tight and to tighten them round by round.

    Parameters
    ----------
    reaches_mm
        For each bolt: way of a hand inside the hollow to its farther end; 0 where both ends lie outside.
    people
        At the joint. Two work at one bolt together, head and nut; more than two at two bolts.
    crew
        Rates. Deep inside takes longer, in proportion to the way.
    """
    each_min = crew.bolt_min + len(TIGHTENING_PASSES) * crew.round_min
    slower = math.fsum(1.0 + (crew.inside_factor - 1.0) * reach_mm / INSIDE_MM for reach_mm in reaches_mm)
    return each_min * slower / math.ceil(max(1, min(people, HANDS_AT_JOINT)) / 2)


def lift_minutes(people: int, crew: Crew) -> float:
    """Minutes that a lift takes beside placing the load; 0 people: a hoist."""
    return crew.hoist_min if people == 0 else crew.second_person_min * (people - 1)


def preparing_minutes(joints: Sequence[Joint], crew: Crew) -> float:
    """Minutes of dry fit, abrading, degreasing and masking before the joints of a step are glued.

    Parameters
    ----------
    joints
        Closed in the step; those that are not bonded take none.
    crew
        Its rates. Both faces of a joint are prepared, and both sides of its seam are masked.
    """
    bonded = [joint for joint in joints if joint.method.is_bonded]
    if not bonded:
        return 0.0
    area_mm2 = math.fsum(joint.bond_area_mm2 for joint in bonded)
    seam_mm = math.fsum(joint.seam_mm for joint in bonded)
    return crew.dry_fit_min + (2.0 * area_mm2 / crew.prepare_mm2_min + 2.0 * seam_mm / crew.mask_mm_min) / hands(crew)


def wet_minutes(joints: Sequence[Joint], crew: Crew) -> float:
    """Minutes to mix, spread and close the bonded joints of a step, and to wipe their seams and pull the tape."""
    bonded = [joint for joint in joints if joint.method.is_bonded]
    if not bonded:
        return 0.0
    area_mm2 = math.fsum(joint.bond_area_mm2 for joint in bonded)
    seam_mm = math.fsum(joint.seam_mm for joint in bonded)
    shared = (area_mm2 / crew.spread_mm2_min + seam_mm / crew.wipe_mm_min) / hands(crew)
    return crew.mix_min + shared + crew.close_min


def step_minutes(
    joints: Sequence[Joint], reaches_mm: Sequence[float], crew: Crew, *, people: int, has_prop: bool
) -> float:
    """Minutes of a step in which parts are joined, in full minutes.

    Parameters
    ----------
    joints
        Closed in the step.
    reaches_mm
        Of the bolts fitted in it, see `bolts_minutes`.
    crew
        People and rates.
    people
        At the lift; 0: a hoist.
    has_prop
        Whether what stands has to be propped.

    Returns
    -------
    float
        Walking and placing, lift, prop, preparing, mixing, spreading, closing, bolts, wiping; rounded up. No pause is
        in it.
    """
    dry = crew.fetch_min + lift_minutes(people, crew) + (crew.prop_min if has_prop else 0.0)
    work = preparing_minutes(joints, crew) + wet_minutes(joints, crew) + bolts_minutes(reaches_mm, hands(crew), crew)
    return float(math.ceil(dry + work - 1e-9))
