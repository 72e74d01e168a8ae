"""The order of an issued plan as a guide: a crew that holds printed pages is not sent another way without need.

Steps of an issued plan and the figure go in. Out: for a set that stands, what the issued plan took off it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from assembler.figure.plan import CarriedBy, Step, StepKind
from assembler.planning.scene import PartSet, Scene, members


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """What was taken off which set.

    Parameters
    ----------
    last
        By what stands after a step, of the parts that the issued plan knows: what came in it.
    known
        Parts that the issued plan knows.
    gaps
        What stood before steps of which all parts are gone by now.
    """

    last: Mapping[PartSet, PartSet] = field(default_factory=dict)
    known: PartSet = 0
    gaps: frozenset[PartSet] = frozenset()

    def off(self, whole: PartSet) -> tuple[tuple[PartSet, ...], ...]:
        """What to try to take off a set: the first choice, then others; nothing where the issued plan does not help.

        Parts that are new since then come off where one came off that is gone: most likely they take its place. Where
        that does not help they may come off at any time, alone or with what they were built into.
        """
        here = whole & self.known
        moving, fresh = self.last.get(here), whole & ~self.known
        singles = [1 << part for part in members(fresh)]
        tiers = []
        if fresh and here in self.gaps:
            tiers.append(singles)
        elif fresh and moving is not None and any(gap & here == gap for gap in self.gaps):
            tiers.append([moving])
        if moving is not None:
            together = [moving | fresh] if fresh and moving.bit_count() > 1 else []
            tiers.append([moving, *singles, *together])
        return tuple(tuple(one for one in tier if one != whole and one & whole == one) for tier in tiers)


def guide_of(scene: Scene, issued: Sequence[Step]) -> Guide:
    """The guide that the steps of an issued plan give.

    Parameters
    ----------
    scene
        The figure as it is now.
    issued
        Its steps, in the order of the book; those that bring nothing in (finish, openings) do not count.
    """
    known = scene.set_of(part for step in issued for part in (*step.moves, *step.onto))
    last: dict[PartSet, PartSet] = {}
    gaps: set[PartSet] = set()
    for step in issued:
        moving = scene.set_of(step.moves)
        standing = scene.set_of(step.onto) & ~moving
        if step.carried_by in (CarriedBy.HANDS, CarriedBy.HOIST):
            # What stood was lifted off and set down on what arrived.
            moving, standing = standing, moving
        if moving and standing and step.kind is not StepKind.OPEN:
            last[moving | standing] = moving
        if step.moves and not moving and step.kind is not StepKind.OPEN:
            gaps.add(standing)
    return Guide(last=last, known=known, gaps=frozenset(gaps))
