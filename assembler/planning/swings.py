"""Does a turning movement bring a set in where no straight one does? A small search, each movement confirmed exactly.

Tried are turns about the normals of its joints, as of a bayonet, and about the edges of its box, as of a hook, each
followed on the way out by one straight leg. Nothing is proven by finding none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector
from assembler.figure.plan import Move, Swing
from assembler.geometry.sweeps import Solid, overlap, simplified, swung, union
from assembler.planning.scene import PartSet, Scene, members
from assembler.words import Said, say

STEP_DEG = 3.0
"""Between two places at which a turn is looked at; at 300 mm from the axis 16 mm."""

LOOK_DEG = 15.0
"""Between two places from which a straight way on is looked for."""

MOST_DEG = 120.0
STEP_MM = 6.0
FIRST_STEPS_MM = (1.0, 3.0)
CLEAR_MM = 60.0
SIMPLIFY_MM = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingWay:
    """A way in: straight, then turning.

    Parameters
    ----------
    swing
        The closing movement.
    path
        The straight movement before it.
    """

    swing: Swing
    path: tuple[Move, ...]


def swing_way(scene: Scene, moving: PartSet, standing: PartSet, directions: Sequence[Vector]) -> SwingWay | None:
    """The first way in found that ends with a turn; None where none was found, or a mesh is open.

    Parameters
    ----------
    scene
        The figure.
    moving, standing
        The sets.
    directions
        For the straight leg.
    """
    bodies = [scene.solids[number] for number in members(moving)]
    others = [scene.solids[number] for number in members(standing)]
    closed = [simplified(body, SIMPLIFY_MM) for body in bodies if body is not None]
    stands = [simplified(body, SIMPLIFY_MM) for body in others if body is not None]
    if len(closed) < len(bodies) or len(stands) < len(others):
        return None
    piece, depth_mm = union(closed), scene.settings.tolerances.overlap_mm
    span = scene.box_mm(moving | standing)
    reach_mm = float(np.linalg.norm(np.subtract(span[1], span[0])))
    for axis, at in _pivots(scene, moving, standing):
        way = _about(piece, stands, axis, at, directions, reach_mm, depth_mm)
        if way is not None:
            return way
    return None


def _about(
    piece: Solid,
    stands: Sequence[Solid],
    axis: Vector,
    at: Vector,
    directions: Sequence[Vector],
    reach_mm: float,
    depth_mm: float,
) -> SwingWay | None:
    """The way that ends with a turn about an axis: turned out until something is met, then straight."""
    turned_deg = STEP_DEG
    while turned_deg <= MOST_DEG:
        body = swung(piece, axis, at, turned_deg)
        if _is_met(body, stands, np.zeros(3), depth_mm):
            return None
        if turned_deg % LOOK_DEG < 1e-6:
            leg = _away(body, stands, directions, reach_mm, depth_mm)
            if leg is not None:
                return SwingWay(swing=Swing(axis=axis, at_mm=at, degrees=-turned_deg), path=(leg,))
        turned_deg += STEP_DEG
    return None


def _away(
    body: Solid, stands: Sequence[Solid], directions: Sequence[Vector], reach_mm: float, depth_mm: float
) -> Move | None:
    """The movement of assembly whose reverse takes a body away from what stands; None where there is none."""
    for direction in directions:
        along = np.asarray(direction)
        stops = (*FIRST_STEPS_MM, *np.arange(STEP_MM, reach_mm + CLEAR_MM, STEP_MM).tolist())
        if not any(_is_met(body, stands, along * stop, depth_mm) for stop in stops):
            x, y, z = (0.0 - value for value in direction)
            return Move(direction=(x, y, z), travel_mm=math.ceil(reach_mm / 10.0) * 10.0)
    return None


def _is_met(body: Solid, stands: Sequence[Solid], shift: NDArray[np.float64], depth_mm: float) -> bool:
    return any(overlap(body, other, shift).is_collision(depth_mm) for other in stands)


def _pivots(scene: Scene, moving: PartSet, standing: PartSet) -> Iterator[tuple[Vector, Vector]]:
    """Axes, both ways round, with a point: normals of joints and bolts first, then edges of the box."""
    for number in scene.joints_between(moving, standing):
        joint = scene.joints[number]
        for at in (joint.centre_mm, *(bolt.at_mm for bolt in joint.bolts[:2])):
            yield from _both(joint.normal, at)
    low, high = (np.asarray(corner) for corner in scene.box_mm(moving))
    for k in range(3):
        axis = (float(k == 0), float(k == 1), float(k == 2))
        middle = (low + high) / 2.0
        for first in (low, high, middle):
            for second in (low, high, middle):
                point = middle.copy()
                point[(k + 1) % 3], point[(k + 2) % 3] = first[(k + 1) % 3], second[(k + 2) % 3]
                yield from _both(axis, (float(point[0]), float(point[1]), float(point[2])))


def _both(axis: Vector, at: Vector) -> Iterator[tuple[Vector, Vector]]:
    x, y, z = axis
    yield axis, at
    yield (0.0 - x, 0.0 - y, 0.0 - z), at


def swing_words(swing: Swing, up: Vector) -> Said:
    """The turn in words."""
    rise = abs(sum(a * b for a, b in zip(swing.axis, up, strict=True)))
    line = say(f"swing.{'upright' if rise > 0.95 else 'level' if rise < 0.05 else 'sloping'}")
    x, y, z = (round(value) for value in swing.at_mm)
    return say("swing.about", turn_deg=abs(swing.degrees), line=line, x_mm=x, y_mm=y, z_mm=z)
