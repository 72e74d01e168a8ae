"""What a whole order costs, and what is said of it while it is looked for.

The search counts each hold by itself; on the calendar holds run side by side. So an order is weighed again as a whole:
minutes until everything has cured, and minutes for turns, props, heavy lifts and awkward movements.
"""

from __future__ import annotations

from assembler.planning.benches import Placed
from assembler.planning.steps import Drafting, draft_steps
from assembler.planning.weights import DEEP_MM, IMPOSSIBLE, NO_PATH, weigh

IN_CALENDAR = ("handling", "holds", "lifts", "side bench")
"""Costs that the calendar holds already."""


def whole_cost_min(draft: Drafting, placed: tuple[Placed, ...]) -> float:
    """Minutes to the end on the calendar, plus those for all that makes work awkward.

    Parameters
    ----------
    draft
        What answers questions.
    placed
        All joinings.
    """
    _, total_min = draft_steps(draft, placed, {}, {}, {})
    awkward = (cost for item in placed for name, cost in item.joining.parts_of_cost if name not in IN_CALENDAR)
    return total_min + sum(awkward) + sum(reach_min(draft, item) for item in placed)


def reach_min(draft: Drafting, item: Placed) -> float:
    """Minutes for bolts that are closed deep inside: what needs a wide opening comes before what narrows it."""
    scene, joining = draft.scene, item.joining
    whole, floor = joining.moving | joining.standing, item.floor(scene)
    deep = 0.0
    for bolt in scene.bolts_closed(joining.moving, joining.standing):
        verdict = draft.hands.verdict(bolt, whole, floor=floor)
        deep += max(0.0, verdict.access.reach_mm - DEEP_MM) / 100.0
    return weigh("reach") * deep


def order_in_words(cost_min: float, placed: tuple[Placed, ...]) -> str:
    """What an order takes, for the user: real minutes only, and what stays impossible in it named instead of weighed.

    Parameters
    ----------
    cost_min
        The whole, as weighed.
    placed
        All joinings.
    """
    joinings = [item.joining for item in placed]
    weights = sum(cost for joining in joinings for name, cost in joining.parts_of_cost if name in IMPOSSIBLE)
    bolts = len({bolt for joining in joinings for bolt in joining.unreachable})
    stuck = sum(name == NO_PATH for joining in joinings for name, _ in joining.parts_of_cost)
    text = f"an order of {cost_min - weights:.0f} minutes, awkward work included"
    if bolts:
        text += f"; {bolts} bolt{'s' if bolts > 1 else ''} out of reach in it"
    if stuck:
        text += f"; {stuck} arrival{'s' if stuck > 1 else ''} without a free way in it"
    return text
