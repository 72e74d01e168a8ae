"""How long the crew works at a step: the same minutes for the search, the calendar and the page.

Goes in: what a step joins, lifts and props, and the crew's rates. Comes out: minutes. All rates are assumptions that a
shop replaces by its own; those that figure.toml does not hold are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.engineering.bonding import HANDS_AT_JOINT
from assembler.figure.joints import Joint
from assembler.figure.settings import Crew

STEP_MIN = 6.0
"""To fetch and place what moves (common practice, no source)."""

MIX_MIN = 5.0
"""To fit a nozzle, purge it and mix (common practice, no source)."""

WIPE_MIN = 5.0
"""To wipe off the squeeze-out and pull the tape of a joint (common practice, no source)."""

PROP_MIN = 15.0
"""To set a prop (common practice, no source)."""

TWO_PEOPLE_MIN = 3.0
"""For each person more than one at a lift: they have to come together (common practice, no source)."""

HOIST_MIN = 60.0
"""To rig a hoist, lift and unrig (common practice, no source)."""


def lift_minutes(people: int) -> float:
    """Minutes that a lift takes beside placing the load; 0 people: a hoist."""
    return HOIST_MIN if people == 0 else TWO_PEOPLE_MIN * (people - 1)


def preparing_minutes(joints: Sequence[Joint], crew: Crew) -> float:
    """Minutes of dry fit, abrading, degreasing and masking before the joints of a step are glued.

    Parameters
    ----------
    joints
        Closed in the step; those that are not bonded take none.
    crew
        Its rates; both faces of a joint are prepared.
    """
    bonded = [joint for joint in joints if joint.method.is_bonded]
    if not bonded:
        return 0.0
    area_mm2 = sum(joint.bond_area_mm2 for joint in bonded)
    return crew.dry_fit_min + 2.0 * area_mm2 / (crew.prepare_mm2_min * hands(crew))


def step_minutes(joints: Sequence[Joint], bolts: int, crew: Crew, *, people: int, has_prop: bool) -> float:
    """Minutes of a step in which parts are joined.

    Parameters
    ----------
    joints
        Closed in the step.
    bolts
        Fitted in it.
    crew
        People and rates.
    people
        At the lift; 0: a hoist.
    has_prop
        Whether what stands has to be propped.

    Returns
    -------
    float
        Placing, lift, prop, preparing, mixing, spreading, bolts, wiping. No pause is in it.
    """
    bonded = [joint for joint in joints if joint.method.is_bonded]
    area_mm2 = sum(joint.bond_area_mm2 for joint in bonded)
    wet = MIX_MIN + WIPE_MIN * len(bonded) + area_mm2 / (crew.spread_mm2_min * hands(crew)) if bonded else 0.0
    dry = STEP_MIN + lift_minutes(people) + (PROP_MIN if has_prop else 0.0) + bolts * crew.bolt_min / hands(crew)
    return dry + preparing_minutes(joints, crew) + wet


def hands(crew: Crew) -> int:
    """People who work at one joint at once."""
    return max(1, min(crew.people, HANDS_AT_JOINT))
