"""Which of several orders is done soonest? The real calendar decides, and neighbours change places where that helps.

The search counts each hold by itself; on the calendar holds run side by side. So an order is weighed again as a whole:
minutes until everything has cured, and minutes for turns, props, heavy lifts and awkward movements.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assembler.planning.benches import Placed, benches
from assembler.planning.joining import Build, Joining
from assembler.planning.scene import PartSet
from assembler.planning.search import Search
from assembler.planning.steps import Drafting, draft_steps
from assembler.planning.weights import DEEP_MM, IMPOSSIBLE, NO_PATH, weigh

IN_CALENDAR = ("handling", "holds", "lifts", "side bench")
"""Costs that the calendar holds already."""

MOST_TRIALS = 60
"""Changes of places that are tried, so that time stays in bounds for large figures."""

WORTH_MIN = 0.5
"""Gain that is worth a change of places."""


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


def improved(draft: Drafting, whole: PartSet, say: Callable[[str], None]) -> tuple[tuple[Placed, ...], float]:
    """The order of a search with neighbours on the main bench exchanged as long as the whole gets cheaper.

    Parameters
    ----------
    draft
        With the search.
    whole
        What is built.
    say
        Takes a line of text.

    Returns
    -------
    tuple
        The joinings, and their cost in minutes.
    """
    search = draft.search
    placed = benches(search, whole)
    best = whole_cost_min(draft, placed)
    target = placed[-1].target if placed else whole
    target = max((item.target for item in placed if item.bench == 1), key=PartSet.bit_count, default=target)
    if target not in search.built or not any(search.scene.bondings):
        return placed, best
    trials = MOST_TRIALS
    is_better = True
    while is_better and trials > 0:
        is_better = False
        for place in range(len(search.built[target].joinings) - 1):
            kept = search.built[target]
            changed = _exchanged(search, kept, place, target)
            if changed is None or trials <= 0:
                continue
            trials -= 1
            search.settle(target, changed)
            tried = benches(search, whole)
            cost = whole_cost_min(draft, tried)
            if cost < best - WORTH_MIN:
                placed, best, is_better = tried, cost, True
            else:
                search.settle(target, kept)
    say(f"planning: {order_in_words(best, placed)}")
    return placed, best


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


def _exchanged(search: Search, build: Build, place: int, target: PartSet) -> Build | None:
    """A build with two neighbouring arrivals exchanged; None where that cannot be."""
    first, second = build.joinings[place], build.joinings[place + 1]
    earlier = search.tried(second.moving, first.standing, target, is_main=True)
    if earlier is None:
        return None
    later = search.tried(first.moving, first.standing | second.moving, target, is_main=True)
    if later is None:
        return None
    joinings: tuple[Joining, ...] = (*build.joinings[:place], earlier, later, *build.joinings[place + 2 :])
    return replace(build, joinings=joinings, cost_min=sum(joining.cost_min for joining in joinings))
