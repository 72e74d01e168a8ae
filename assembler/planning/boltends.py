"""Where are the two ends of a bolt? Measured on the meshes, not taken from half the grip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembler.figure.ids import PartId
from assembler.figure.joints import Bolt, Joint, Seat
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.geometry.holes import BoreProbe
from assembler.planning.scene import Scene

LONGEST_MM = 5.0
"""Beyond the grip: where a seat is looked for, since a grip stated by hand need not be exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of a bolt, as hands and tools find it.

    Parameters
    ----------
    part
        Number of the part that it sits on.
    seat_mm
        Where the outer face of that part meets the axis.
    outward
        Unit vector along the axis, away from the joint.
    kind
        What carries it.
    """

    part: int
    seat_mm: Vector
    outward: Vector
    kind: Seat

    def point(self, beyond_mm: float) -> Vector:
        """A point on the axis beyond the seat."""
        x, y, z = (s + beyond_mm * o for s, o in zip(self.seat_mm, self.outward, strict=True))
        return (x, y, z)


def with_seats(joints: Sequence[Joint], meshes: Mapping[PartId, Mesh]) -> tuple[Joint, ...]:
    """The joints with the seats of every bolt measured on the meshes.

    Everything that follows (access of hands and tools, drawing, plan.json) takes seats from there.
    """
    probes: dict[PartId, BoreProbe] = {}
    for joint in joints:
        for bolt in joint.bolts:
            for part in (bolt.through[0], bolt.through[-1]):
                if part not in probes:
                    probes[part] = BoreProbe(meshes[part])
    return tuple(
        replace(joint, bolts=tuple(replace(bolt, seats_mm=_seats(bolt, probes)) for bolt in joint.bolts))
        for joint in joints
    )


def _seats(bolt: Bolt, probes: Mapping[PartId, BoreProbe]) -> tuple[Vector, Vector]:
    """Both seats; an end that cannot be measured is where the grip puts it."""
    first, last = (_depth_mm(bolt, probes, end) for end in (0, 1))
    if first is None and last is None:
        first = bolt.grip_mm / 2.0
    if first is None:
        first = bolt.grip_mm - (last or 0.0)
    if last is None:
        last = bolt.grip_mm - first
    return _along(bolt, -first), _along(bolt, last)


def _depth_mm(bolt: Bolt, probes: Mapping[PartId, BoreProbe], end: int) -> float | None:
    """How far one end lies from the bond plane; None where it is not seen, or where a thread ends it inside."""
    if bolt.seats[end] is Seat.INSERT:
        return None
    outward = np.asarray(bolt.axis) * (1.0 if end else -1.0)
    probe = probes[bolt.through[-1 if end else 0]]
    return probe.seat_mm(np.asarray(bolt.at_mm), outward, bolt.hole_mm, bolt.grip_mm + LONGEST_MM)


def _along(bolt: Bolt, distance_mm: float) -> Vector:
    x, y, z = (at + distance_mm * along for at, along in zip(bolt.at_mm, bolt.axis, strict=True))
    return (x, y, z)


def ends_of(scene: Scene, bolt: Bolt) -> tuple[End, End]:
    """Both ends of a bolt, in `through[0]` and in `through[-1]`."""
    return _end(scene, bolt, 0), _end(scene, bolt, 1)


def _end(scene: Scene, bolt: Bolt, which: int) -> End:
    part: PartId = bolt.through[-1 if which else 0]
    number = next(n for n, known in enumerate(scene.parts) if known.id == part)
    x, y, z = (value if which else -value for value in bolt.axis)
    return End(part=number, seat_mm=bolt.seat_mm(which), outward=(x, y, z), kind=bolt.seats[which])
