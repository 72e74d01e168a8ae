"""What does awkward work cost? Every weight of the search in one table, in minutes, each with its unit and its reason.

Work whose time hangs on the order is counted in the minutes that the calendar and the page have for it: all read them
from `engineering.worktimes`, by the rates of the crew. Work at the joints, preparing, glue and bolts, is the same in
every order and not weighed. What is awkward has minutes of its own, on top. What no builder would do for the sake of
minutes weighs more than any minutes saved by it; those weights keep the search off and are never shown as minutes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Weight:
    """What one of a kind costs.

    Parameters
    ----------
    minutes
        Of the whole crew.
    per
        One of what.
    reason
        Why so much. Where no source is named it is common practice.
    """

    minutes: float
    per: str
    reason: str


NO_PATH, UNREACHABLE = "no path", "unreachable bolts"
IMPOSSIBLE = (NO_PATH, UNREACHABLE)
"""Costs that are no work but keep the search off: weights, never to be shown as minutes."""

TABLE: Mapping[str, Weight] = {
    "side bench": Weight(minutes=10.0, per="bench", reason="to set up a bench of its own and clear it"),
    "wiped faces": Weight(
        minutes=20.0, per="bonded face", reason="the movement slides along the glue and wipes it off"
    ),
    "slant": Weight(minutes=4.0, per="slant of 90 degrees", reason="the movement does not meet its face square"),
    "faces": Weight(minutes=4.0, per="face beyond the first", reason="faces that look elsewhere are met at once"),
    "sideways": Weight(minutes=1.0, per="level way", reason="gravity does not help"),
    "legs": Weight(minutes=5.0, per="turn of direction", reason="two movements, one after the other"),
    "by measure": Weight(
        minutes=5.0, per="set joined to nothing that stands", reason="nothing locates it: its place is measured"
    ),
    "bed": Weight(minutes=5.0, per="bed", reason="to lay a piece on sandbags, in a cradle or on blocks"),
    "scaffold": Weight(minutes=600.0, per="stage", reason="what stands falls by itself: no minutes saved are worth it"),
    "under": Weight(minutes=2_000.0, per="step", reason="what hung before it was carried: carriers come first"),
    "carrying": Weight(minutes=0.1, per="kg lifted", reason="the lighter side comes to the heavier one"),
    "hoist called": Weight(minutes=540.0, per="lift", reason="what hands can bring piece by piece calls for no hoist"),
    "raised by hand": Weight(
        minutes=200.0, per="lift", reason="what stands is taken off its place and set down again: wait rather"
    ),
    "raised on stands": Weight(
        minutes=2_000.0, per="lift", reason="people work beside and under a load: no night that it saves is worth it"
    ),
    "loose": Weight(
        minutes=2_000.0,
        per="step",
        reason="part of a ring or limb that could come as one: open, at height, held by hand; no wait is worth it",
    ),
    "reach": Weight(
        minutes=12.0,
        per="bolt and 100 mm beyond what is seen",
        reason="blind work: what needs a wide opening comes before what narrows it, though an hour is lost by it",
    ),
    UNREACHABLE: Weight(minutes=5_000.0, per="bolt", reason="a builder would do nearly anything to reach it"),
    NO_PATH: Weight(minutes=1_000_000.0, per="arrival", reason="it cannot be carried out"),
}

DEEP_MM = 250.0
"""Way of a hand inside a hollow from which work is blind (common practice, no source)."""


def weigh(name: str) -> float:
    """Minutes that one of this kind costs."""
    return TABLE[name].minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Emphasis:
    """What one search counts in another way than the next.

    Parameters
    ----------
    side
        Share of one hold on another bench: work goes on meanwhile. What takes longer there counts in full.
    is_level_shared
        Whether parts of one level, counted in steps from the ground, share one hold: they cure side by side.
    lift_min
        Minutes on top for each lift of what stands on the main bench.
    """

    side: float
    is_level_shared: bool
    lift_min: float = 0.0


EMPHASES = (Emphasis(side=0.25, is_level_shared=False), Emphasis(side=0.5, is_level_shared=True))
"""Each gives an order; the real calendar decides between them."""

GROUNDED_MIN = 200_000.0
"""For each lift of what stands, where bolts stay out of reach in any order: none of them is worth a lift then."""
