"""Where do stands go under what is lifted? Sets, the way in and the height in; trestles at free places of its feet out.

A stand takes a foot of what is lifted that nothing comes near which goes in below. Where those feet do not carry it,
there are none: then a hoist holds it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from assembler.engineering.standing import tip_angle_deg
from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.figure.plan import Move, Stand
from assembler.planning.scene import FLOOR_MM, PartSet, members
from assembler.planning.support import SAFE_DEG, Support

CLEAR_MM = 5.0
"""What goes in keeps this far from where a stand touches the work (common practice, no source)."""

_ROUND = np.radians(np.arange(45.0, 405.0, 45.0))
"""Sides of the work on which a stand is looked for: the four corners, then the four sides between them."""


def stands_under(
    support: Support, moving: PartSet, standing: PartSet, up: Vector, path: Sequence[Move], rise_mm: float
) -> tuple[Stand, ...]:
    """Four stands, or eight where four do not carry it, under what is lifted; none where its free feet do not carry it.

    Parameters
    ----------
    support
        The figure, with its feet.
    moving, standing
        What goes in, and what is lifted for it.
    up
        What is up on the bench.
    path
        Movements of what goes in, in their order.
    rise_mm
        How far it is lifted.
    """
    frame, scene = plan_frame(up), support.scene
    feet = np.concatenate([support.feet(number, up) for number in members(standing)]) @ frame.T
    feet = feet[feet[:, 2] <= feet[:, 2].min() + FLOOR_MM]
    vertices = np.concatenate([scene.meshes[number].vertices for number in members(moving)]) @ frame.T
    shifts = [frame @ np.asarray(leg.direction) * leg.travel_mm for leg in path]
    free = feet[np.logical_not(_is_met(feet[:, :2], vertices[:, :2], shifts))]
    if len(free) < 3:
        return ()
    middle = frame @ np.asarray(scene.centre_mm(standing))
    for sides in (_ROUND[::2], np.concatenate([_ROUND[::2], _ROUND[1::2]])):
        reach = (free[:, :2] - middle[:2]) @ np.array([np.cos(sides), np.sin(sides)])
        chosen = free[sorted(set(np.argmax(np.round(reach, 3), axis=0).tolist()))]
        x, y, z = middle.tolist()
        if len(chosen) > 2 and tip_angle_deg(chosen, (x, y, z), (0.0, 0.0, 1.0)) >= SAFE_DEG:
            return tuple(_stand(point, frame, feet[:, 2].min() - rise_mm) for point in chosen)
    return ()


def parts_on(support: Support, stands: Sequence[Stand], standing: PartSet, up: Vector) -> PartSet:
    """Parts of what is lifted that a stand is under."""
    places = np.array([stand.at_mm for stand in stands]).reshape(-1, 1, 3)
    return sum(
        1 << number
        for number in members(standing)
        if bool(np.any(np.linalg.norm(support.feet(number, up) - places, axis=2) < CLEAR_MM))
    )


def _stand(point: Points, frame: Points, ground_mm: float) -> Stand:
    x, y, z = (point @ frame).tolist()
    return Stand(at_mm=(x, y, z), height_mm=float(point[2] - ground_mm))


def _is_met(feet: Points, outline: Points, shifts: Sequence[Points]) -> NDArray[np.bool_]:
    """Which feet lie over what goes in, in its place or on its way, seen from above."""
    is_met = np.zeros(len(feet), dtype=np.bool_)
    behind = np.zeros(2)
    for shift in (np.zeros(3), *reversed(shifts)):
        swept = np.concatenate([outline - behind, outline - behind - shift[:2]])
        behind = behind + shift[:2]
        sides = ConvexHull(swept).equations
        is_met |= (feet @ sides[:, :2].T + sides[:, 2]).max(axis=1) < CLEAR_MM
    return is_met
