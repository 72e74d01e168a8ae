"""The figure as planning sees it: parts by number, sets of parts as bits of one integer, who is joined to whom."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np

from assembler.figure.frames import upright_box, upright_point
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.ids import BoltId, JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint, Place
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part, Vector
from assembler.figure.settings import BaseWhen, Settings
from assembler.geometry.sweeps import Solid, solid

PartSet = int
"""Bit k stands for part number k."""

FLOOR_MM = 3.0
"""Vertices this near to the lowest are feet."""


class Floor(NamedTuple):
    """The ground under the work: what is up there, and its height along that, mm."""

    up: Vector
    height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """Everything planning asks of the figure, by part number.

    Parameters
    ----------
    parts, meshes, solids
        In the order of the ids. A solid is None where the mesh is not closed.
    joints
        In the order of their ids.
    pairs
        Part numbers of each joint.
    joined
        For each part the set of parts it has a joint with.
    pierced
        Every bolt with the set of parts that it goes through.
    stacks, bondings
        Hardware by bolt, adhesive by joint.
    base
        Number of the part that is the base, or None.
    settings
        What the shop decides.
    heights
        Memory of lowest and highest points, by part and direction.
    lowest
        Memory of lowest points, by set and direction.
    based
        Parts that are never turned nor reached from below once they stand on the main bench: the base with a mesh, or
        what touches a base without one that comes first.
    """

    parts: tuple[Part, ...]
    meshes: tuple[Mesh, ...]
    solids: Sequence[Solid | None]
    joints: tuple[Joint, ...]
    pairs: tuple[tuple[int, int], ...]
    joined: tuple[PartSet, ...]
    pierced: tuple[tuple[Bolt, PartSet], ...]
    stacks: Mapping[BoltId, Stack]
    bondings: Mapping[JointId, Bonding]
    base: int | None
    settings: Settings
    heights: dict[tuple[int, Vector], tuple[float, float]] = field(default_factory=dict)
    lowest: dict[tuple[PartSet, Vector], float] = field(default_factory=dict)
    based: PartSet = 0

    @property
    def everything(self) -> PartSet:
        """The set of all parts."""
        return (1 << len(self.parts)) - 1

    @property
    def up(self) -> Vector:
        """Unit vector that is up in the finished figure."""
        return self.settings.up

    @property
    def is_base_first(self) -> bool:
        """Whether the figure is built on a base that has a mesh."""
        return self.base is not None and self.settings.base.when is BaseWhen.FIRST

    @property
    def root(self) -> int | None:
        """Number of the part that everything else is built on: the base, where it comes first."""
        return self.base if self.is_base_first else None

    @property
    def sections(self) -> tuple[PartSet, ...]:
        """Parts that travel as one: what shop joints hold together, largest first."""
        shop = [0] * len(self.parts)
        for joint, (a, b) in zip(self.joints, self.pairs, strict=True):
            if joint.made is Place.SHOP:
                shop[a] |= 1 << b
                shop[b] |= 1 << a
        return tuple(sorted(_pieces(self.everything, shop), key=lambda piece: (-piece.bit_count(), piece)))

    def names(self, chosen: PartSet) -> tuple[PartId, ...]:
        """Ids of a set, in their order."""
        return tuple(self.parts[number].id for number in members(chosen))

    def mass_kg(self, chosen: PartSet) -> float:
        """Mass of a set."""
        return float(sum(self.parts[number].mass_kg for number in members(chosen)))

    def centre_mm(self, chosen: PartSet) -> Vector:
        """Centre of mass of a set; of the boxes where nothing weighs anything."""
        numbers = list(members(chosen))
        weights = np.array([max(self.parts[number].mass_kg, 1e-9) for number in numbers])
        centres = np.array([self.parts[number].centre_mm for number in numbers])
        x, y, z = (weights @ centres / weights.sum()).tolist()
        return (x, y, z)

    def box_mm(self, chosen: PartSet) -> tuple[Vector, Vector]:
        """Box around a set."""
        numbers = list(members(chosen))
        low = np.min([self.parts[number].low_mm for number in numbers], axis=0)
        high = np.max([self.parts[number].high_mm for number in numbers], axis=0)
        return (float(low[0]), float(low[1]), float(low[2])), (float(high[0]), float(high[1]), float(high[2]))

    def size_mm(self, chosen: PartSet) -> Vector:
        """Edges of the box around a set as it stands, the third one up."""
        low, high = upright_box(*self.box_mm(chosen), self.up)
        return (high[0] - low[0], high[1] - low[1], high[2] - low[2])

    def stance_mm(self, chosen: PartSet) -> Vector:
        """Centre of mass of a set as it stands: two axes of the plan, and the height above the lowest part of all."""
        low, _ = upright_box(*self.box_mm(self.everything), self.up)
        x, y, z = upright_point(self.centre_mm(chosen), self.up)
        return (x, y, z - low[2])

    def lowest_mm(self, chosen: PartSet, up: Vector) -> float:
        """Height of the lowest point of a set along a direction."""
        key = (chosen, up)
        if key not in self.lowest:
            self.lowest[key] = min(self._heights(number, up)[0] for number in members(chosen))
        return self.lowest[key]

    def highest_mm(self, chosen: PartSet, up: Vector) -> float:
        """Height of the highest point of a set along a direction."""
        return max(self._heights(number, up)[1] for number in members(chosen))

    def _heights(self, number: int, up: Vector) -> tuple[float, float]:
        key = (number, up)
        if key not in self.heights:
            along = self.meshes[number].vertices @ np.asarray(up)
            self.heights[key] = (float(along.min()), float(along.max()))
        return self.heights[key]

    def floor(self, standing: PartSet, up: Vector) -> Floor:
        """The ground under a set that stands with a direction up; under a base, the ground of the whole figure."""
        is_based = self.base is not None and bool(standing >> self.base & 1)
        chosen = self.everything if is_based and up == self.up else standing
        return Floor(up, round(self.lowest_mm(chosen, up), 3))

    def joints_between(self, first: PartSet, second: PartSet) -> tuple[int, ...]:
        """Numbers of the joints with one part in each set."""
        found = []
        for number, (a, b) in enumerate(self.pairs):
            a_bit, b_bit = 1 << a, 1 << b
            if (a_bit & first and b_bit & second) or (a_bit & second and b_bit & first):
                found.append(number)
        return tuple(found)

    def is_on_site(self, first: PartSet, second: PartSet) -> bool:
        """Whether two sets meet at a joint that is made on site."""
        return any(self.joints[number].made is Place.SITE for number in self.joints_between(first, second))

    def bolts_closed(self, moving: PartSet, standing: PartSet) -> tuple[Bolt, ...]:
        """Bolts whose last part arrives when the one set meets the other."""
        both = moving | standing
        found = []
        for bolt, through in self.pierced:
            if through & both == through and through & moving and through & standing:
                found.append(bolt)
        return tuple(found)

    def set_of(self, ids: Iterable[PartId]) -> PartSet:
        """The set with these ids."""
        wanted = set(ids)
        return sum(1 << number for number, part in enumerate(self.parts) if part.id in wanted)

    def pieces(self, chosen: PartSet) -> tuple[PartSet, ...]:
        """Connected pieces of a set by its joints, each as a set, the one with the lowest number first."""
        return _pieces(chosen, self.joined)

    def is_connected(self, chosen: PartSet, ground: PartSet = 0) -> bool:
        """Whether a set hangs together by its joints and by the ground that some of its parts stand on."""
        pieces = self.pieces(chosen)
        return sum(not piece & ground for piece in pieces) + any(piece & ground for piece in pieces) <= 1


def _pieces(chosen: PartSet, joined: Sequence[PartSet]) -> tuple[PartSet, ...]:
    found = []
    left = chosen
    while left:
        piece = edge = left & -left
        while edge:
            grown = 0
            for number in members(edge):
                grown |= joined[number]
            edge = grown & chosen & ~piece
            piece |= edge
        found.append(piece)
        left &= ~piece
    return tuple(found)


def members(chosen: PartSet) -> Iterator[int]:
    """Part numbers of a set, ascending."""
    while chosen:
        lowest = chosen & -chosen
        yield lowest.bit_length() - 1
        chosen ^= lowest


def scene_of(
    parts: Sequence[Part],
    meshes: Mapping[PartId, Mesh],
    joints: Sequence[Joint],
    stacks: Sequence[Stack],
    bondings: Sequence[Bonding],
    settings: Settings,
) -> Scene:
    """The figure as planning sees it; the order of the arguments' entries does not matter."""
    ordered = tuple(sorted(parts, key=lambda part: natural_key(part.id)))
    number_of = {part.id: number for number, part in enumerate(ordered)}
    known = tuple(sorted(joints, key=lambda joint: natural_key(joint.id)))
    pairs = tuple((number_of[joint.parts[0]], number_of[joint.parts[1]]) for joint in known)
    joined = [0] * len(ordered)
    for a, b in pairs:
        joined[a] |= 1 << b
        joined[b] |= 1 << a
    base = settings.base.part
    scene = Scene(
        parts=ordered,
        meshes=tuple(meshes[part.id] for part in ordered),
        solids=tuple(solid(meshes[part.id]) for part in ordered),
        joints=known,
        pairs=pairs,
        joined=tuple(joined),
        pierced=tuple(
            (bolt, sum(1 << number_of[part] for part in set(bolt.through))) for joint in known for bolt in joint.bolts
        ),
        stacks={stack.bolt: stack for stack in stacks},
        bondings={bonding.joint: bonding for bonding in bondings},
        base=number_of.get(base) if base is not None else None,
        settings=settings,
    )
    return replace(scene, based=_based(scene))


def _based(scene: Scene) -> PartSet:
    if scene.base is not None:
        return 1 << scene.base
    base = scene.settings.base
    return on_the_ground(scene) if base.is_stated and base.when is BaseWhen.FIRST else 0


def on_the_ground(scene: Scene) -> PartSet:
    """Parts that touch the ground in the finished figure."""
    floor = scene.lowest_mm(scene.everything, scene.up) + FLOOR_MM
    return sum(1 << k for k in range(len(scene.parts)) if scene.lowest_mm(1 << k, scene.up) <= floor)
