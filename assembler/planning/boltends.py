"""Where are the two ends of a bolt? Measured on the meshes, not taken from half the grip."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from assembler.figure.ids import PartId
from assembler.figure.joints import Bolt, Seat
from assembler.figure.parts import Vector
from assembler.geometry.sweeps import frame_of, surface_hits
from assembler.planning.scene import Scene


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


def ends_of(scene: Scene, bolt: Bolt) -> tuple[End, End]:
    """Both ends of a bolt; seats are measured on the meshes, and half the grip where that fails.

    Parameters
    ----------
    scene, bolt
        The figure and one of its bolts.
    """
    return _end(scene, bolt, 0), _end(scene, bolt, 1)


def _end(scene: Scene, bolt: Bolt, which: int) -> End:
    part: PartId = bolt.through[0 if which == 0 else -1]
    number = next(n for n, known in enumerate(scene.parts) if known.id == part)
    sign = -1.0 if which == 0 else 1.0
    x, y, z = (sign * value for value in bolt.axis)
    outward = (x, y, z)
    depth = _seat_depth(scene, bolt, number, outward)
    at = bolt.at_mm
    seat = (at[0] + x * depth, at[1] + y * depth, at[2] + z * depth)
    return End(part=number, seat_mm=seat, outward=outward, kind=bolt.seats[which])


def _seat_depth(scene: Scene, bolt: Bolt, number: int, outward: Vector) -> float:
    body = scene.solids[number]
    fallback = bolt.grip_mm / 2.0
    if body is None:
        return fallback
    frame = frame_of(outward)
    start_mm, radius = 1.5, bolt.hole_mm / 2.0 + 1.5
    depths = []
    for angle in (2.0 * math.pi * k / 8 + 0.2 for k in range(8)):
        start = (
            np.asarray(bolt.at_mm)
            + radius * (math.cos(angle) * frame[0] + math.sin(angle) * frame[1])
            + start_mm * frame[2]
        )
        hits = surface_hits(body, (float(start[0]), float(start[1]), float(start[2])), outward, bolt.grip_mm + 5.0)
        # Of two parts the ray starts inside the outer one and leaves it first; of three it crosses the middle one.
        chosen = hits[:1] if len(bolt.through) == 2 else hits[-1:]
        depths += [start_mm + hit for hit in chosen if hit > 0.2]
    return float(np.median(depths)) if depths else fallback
