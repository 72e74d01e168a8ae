"""A step as drawing is handed it: all that its pictures show, and nothing else.

In: a plan, its meshes, what the pages say that pictures show too. Out: `DrawnStep`s. The key of a picture is the hash
of such a record, so that nothing that drawing reads can be missing from the key.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from assembler.figure.hardware import Bonding, HardwareLine, Stack
from assembler.figure.ids import BenchId, BoltId, JointId, PartId, StepNumber
from assembler.figure.joints import Joint
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Vector
from assembler.figure.plan import (
    Access,
    CarriedBy,
    Hold,
    Move,
    Plan,
    Stand,
    StatedBase,
    Step,
    StepKind,
    Swing,
    View,
)

UPRIGHT: Vector = (0.0, 0.0, 1.0)
"""Up in the frame of the figure."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """What the pages of a book say that its pictures show too.

    Parameters
    ----------
    tightening
        Bolts of each joint in the order of tightening; a joint that is missing shows numbers of bolts instead.
    marks
        By step: words behind the references of parts that a re-cut changed.
    issued
        By step: its view in the book that the crew holds, which is kept while it serves.
    """

    tightening: Mapping[JointId, Sequence[BoltId]] = field(default_factory=dict)
    marks: Mapping[StepNumber, Mapping[PartId, str]] = field(default_factory=dict)
    issued: Mapping[StepNumber, View] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Solid:
    """A part with the digest of its mesh; empty where it has none."""

    part: PartId
    digest: str
    is_printed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnStep:
    """All that the pictures of a step draw on; fields that `Step` has too mean the same.

    Parameters
    ----------
    was_up
        What was up on the bench before the step.
    set_up
        Parts that a step without movement brings to its bench.
    records
        Joints that the step closes, or whose bolts it fits.
    tightening
        Bolts of these joints in the order of tightening.
    marks
        Words behind the references of its parts.
    solids
        All parts that may be seen.
    base
        The base without a mesh that what stands is on; None: there is none, or it does not stand on it yet.
    stands
        Under what is lifted on stands.
    """

    number: StepNumber
    title: str
    kind: StepKind
    up: Vector
    was_up: Vector
    moves: tuple[PartId, ...]
    onto: tuple[PartId, ...]
    set_up: tuple[PartId, ...]
    path: tuple[Move, ...]
    swing: Swing | None
    joints: tuple[JointId, ...]
    hardware: tuple[HardwareLine, ...]
    stacks: tuple[Stack, ...]
    adhesive: tuple[Bonding, ...]
    hold: Hold | None
    access: tuple[Access, ...]
    records: tuple[Joint, ...]
    tightening: Mapping[JointId, tuple[BoltId, ...]]
    marks: Mapping[PartId, str]
    solids: tuple[Solid, ...]
    base: StatedBase | None
    stands: tuple[Stand, ...]

    @property
    def closed(self) -> tuple[Joint, ...]:
        """The joints that it closes, in its own order."""
        known = {joint.id: joint for joint in self.records}
        return tuple(known[joint] for joint in self.joints if joint in known)

    @property
    def partners(self) -> set[PartId]:
        """Parts that it joins."""
        return {part for joint in self.closed for part in joint.parts}

    @property
    def parts(self) -> tuple[PartId, ...]:
        """All parts that may be seen and have a mesh."""
        return tuple(solid.part for solid in self.solids if solid.digest)

    @property
    def close_up(self) -> DrawnStep:
        """The step without what stands in the background: all that its details show."""
        if self.kind is StepKind.TURN:
            return self
        near = {*self.moves, *self.set_up, *self.partners, *_pierced(self.records, self.stacks)}
        return replace(
            self,
            title="",
            onto=(),
            marks={},
            solids=tuple(solid for solid in self.solids if solid.part in near),
            base=None,
            stands=(),
        )


class Solids:
    """The parts of a figure by their digests.

    Parameters
    ----------
    plan, meshes
        What is drawn.
    """

    def __init__(self, plan: Plan, meshes: Mapping[PartId, Mesh]) -> None:
        self._digests = {part: mesh_digest(mesh) for part, mesh in meshes.items() if len(mesh.faces)}
        self.bought = frozenset(part.id for part in plan.parts if not part.is_printed)

    @property
    def known(self) -> tuple[PartId, ...]:
        """Parts that have a mesh."""
        return tuple(sorted(self._digests))

    def of(self, parts: Iterable[PartId]) -> tuple[Solid, ...]:
        """Parts in the order of their ids."""
        return tuple(
            Solid(part=part, digest=self._digests.get(part, ""), is_printed=part not in self.bought)
            for part in sorted(set(parts))
        )


def drawn_steps(plan: Plan, solids: Solids, notes: Notes | None = None) -> tuple[DrawnStep, ...]:
    """Every step of a plan as it is drawn."""
    notes = notes or Notes()
    up: dict[BenchId, Vector] = {}
    standing: dict[BenchId, set[PartId]] = {}
    drawn = []
    for step in plan.steps:
        stood = standing.setdefault(step.bench, set())
        set_up = () if step.moves else tuple(part for part in step.onto if part not in stood)
        drawn.append(_drawn(step, plan, solids, notes, up.get(step.bench, UPRIGHT), set_up))
        up[step.bench] = step.up
        stood |= {*step.moves, *step.onto}
    return tuple(drawn)


def _drawn(
    step: Step, plan: Plan, solids: Solids, notes: Notes, was_up: Vector, set_up: tuple[PartId, ...]
) -> DrawnStep:
    fitted = {stack.bolt for stack in step.stacks}
    # Where a value came from is on a page, not in a picture; so is which steps a hold keeps waiting.
    records = tuple(
        replace(joint, origins={})
        for joint in plan.joints
        if joint.id in step.joints or any(bolt.id in fitted for bolt in joint.bolts)
    )
    partners = {part for joint in records if joint.id in step.joints for part in joint.parts}
    seen = {*step.moves, *step.onto, *partners, *_pierced(records, step.stacks)}
    return DrawnStep(
        number=step.number,
        title=step.title,
        kind=step.kind,
        up=step.up,
        was_up=was_up,
        moves=step.moves,
        onto=step.onto,
        set_up=set_up,
        path=step.path,
        swing=step.swing,
        joints=step.joints,
        hardware=step.hardware,
        stacks=step.stacks,
        adhesive=step.adhesive,
        hold=replace(step.hold, before=()) if step.hold else None,
        access=step.access,
        records=records,
        tightening={joint: tuple(notes.tightening[joint]) for joint in step.joints if joint in notes.tightening},
        marks={part: word for part, word in notes.marks.get(step.number, {}).items() if part in seen},
        solids=solids.of(seen),
        base=plan.base if step.carried_by is CarriedBy.BASE else None,
        stands=step.stands,
    )


def _pierced(joints: Iterable[Joint], stacks: Iterable[Stack]) -> set[PartId]:
    """Parts that the bolts of some stacks go through."""
    fitted = {stack.bolt for stack in stacks}
    return {part for joint in joints for bolt in joint.bolts if bolt.id in fitted for part in bolt.through}
