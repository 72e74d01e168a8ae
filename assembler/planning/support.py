"""What carries what: support joints, load paths to the ground, and how what stands stands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from assembler.engineering.standing import tip_angle_deg
from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.figure.plan import Stability
from assembler.geometry.sweeps import frame_of
from assembler.planning.scene import PartSet, Scene, members

UPRIGHT = 0.5
"""Cosine: a joint whose normal is nearer to the vertical than 60 degrees carries by its face."""

FLOOR_MM = 3.0
"""Vertices this near to the lowest are feet."""

SAFE_DEG = 5.0
"""Least tip angle that is left without a prop (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Support:
    """Load paths of the finished figure.

    Parameters
    ----------
    rank
        For each part its steps from the ground along joints.
    below
        For each joint the number of its carrying part, or None where the face is too steep to say.
    crossed
        For each part the joints (numbers) that its load paths to the ground cross.
    touching
        For each joint whose face carries the corners of that face, (n, 3) mm; none for others.
    feet
        For each part its lowest points, (n, 3) mm.
    """

    rank: tuple[int, ...]
    below: tuple[int | None, ...]
    crossed: tuple[frozenset[int], ...]
    touching: tuple[Points, ...]
    feet: tuple[Points, ...]


def support_of(scene: Scene) -> Support:
    """Load paths of the finished figure, from its joints and its ground parts."""
    below = tuple(_lower_part(scene, number) for number in range(len(scene.joints)))
    ground = _ground(scene)
    rank = _ranks(scene, ground)
    crossed: list[frozenset[int]] = [frozenset()] * len(scene.parts)
    for part in sorted(range(len(scene.parts)), key=lambda number: (rank[number], number)):
        if part in ground:
            continue
        carriers = _carriers(scene, part, below, rank)
        found: set[int] = set(carriers)
        for joint in carriers:
            other = _other(scene, joint, part)
            if rank[other] < rank[part]:
                found |= crossed[other]
        crossed[part] = frozenset(found)
    touching = tuple(_contact(scene, number, lower) for number, lower in enumerate(below))
    feet = tuple(_feet(scene, number) for number in range(len(scene.parts)))
    return Support(rank=rank, below=below, crossed=tuple(crossed), touching=touching, feet=feet)


def _lower_part(scene: Scene, number: int) -> int | None:
    rise = float(np.dot(scene.joints[number].normal, scene.up))
    first, second = scene.pairs[number]
    if abs(rise) < UPRIGHT:
        return None
    return first if rise > 0 else second


def _ground(scene: Scene) -> frozenset[int]:
    if scene.root is not None:
        return frozenset((scene.root,))
    heights = {
        number: float(np.asarray(mesh.vertices @ np.asarray(scene.up)).min())
        for number, mesh in enumerate(scene.meshes)
        if number != scene.base
    }
    lowest = min(heights.values())
    return frozenset(number for number, height in heights.items() if height <= lowest + FLOOR_MM)


def _ranks(scene: Scene, ground: frozenset[int]) -> tuple[int, ...]:
    rank = [len(scene.parts)] * len(scene.parts)
    edge = sorted(ground)
    for part in edge:
        rank[part] = 0
    while edge:
        following = []
        for part in edge:
            for other in members(scene.joined[part]):
                if rank[other] > rank[part] + 1:
                    rank[other] = rank[part] + 1
                    following.append(other)
        edge = sorted(set(following))
    return tuple(rank)


def _carriers(scene: Scene, part: int, below: tuple[int | None, ...], rank: tuple[int, ...]) -> list[int]:
    """Joints that carry a part: those under it, else all that lead towards the ground."""
    mine = [number for number, pair in enumerate(scene.pairs) if part in pair]
    under = [number for number in mine if below[number] is not None and below[number] != part]
    nearer = [number for number in under if rank[_other(scene, number, part)] < rank[part]]
    return nearer or [number for number in mine if rank[_other(scene, number, part)] < rank[part]] or under


def _other(scene: Scene, joint: int, part: int) -> int:
    first, second = scene.pairs[joint]
    return second if first == part else first


def _feet(scene: Scene, number: int) -> Points:
    vertices = scene.meshes[number].vertices
    heights = vertices @ np.asarray(scene.up)
    return corners_of(vertices[heights <= heights.min() + FLOOR_MM], scene.up)


def corners_of(points: Points, up: Vector) -> Points:
    """Corners of the outline of points seen from above, (m, 3); the points themselves where they span no area."""
    flat = points @ frame_of(up)[:2].T
    if len(points) < 4 or np.linalg.matrix_rank(flat - flat[0], tol=1e-6) < 2:
        return points
    return np.asarray(points[ConvexHull(flat).vertices])


def _contact(scene: Scene, number: int, lower: int | None) -> Points:
    """Corners of the face with which the upper part of a joint lies on the lower one."""
    if lower is None:
        return np.empty((0, 3))
    joint = scene.joints[number]
    upper = next(part for part in scene.pairs[number] if part != lower)
    vertices = scene.meshes[upper].vertices
    off_plane = np.abs((vertices - np.asarray(joint.centre_mm)) @ np.asarray(joint.normal))
    return corners_of(vertices[off_plane <= FLOOR_MM / 2.0], scene.up)


def is_carried(scene: Scene, support: Support, moving: PartSet, standing: PartSet) -> bool:
    """Whether something that stands is under what arrives."""
    for number in scene.joints_between(moving, standing):
        lower = support.below[number]
        if lower is not None and standing >> lower & 1:
            return True
    return False


def tip_deg(scene: Scene, support: Support, standing: PartSet) -> float:
    """Tip angle of a set on its lowest points."""
    up = np.asarray(scene.up)
    feet = [support.feet[number] for number in members(standing)]
    floor = min(float((points @ up).min()) for points in feet)
    touching = np.concatenate([points[points @ up <= floor + FLOOR_MM] for points in feet])
    flat = touching - np.outer(touching @ up - floor, up)
    return tip_angle_deg(flat, scene.centre_mm(standing), scene.up)


def stability_of(
    scene: Scene, support: Support, moving: PartSet, standing: PartSet, *, is_on_bench: bool = False
) -> Stability:
    """How the set stands once the moving parts have joined it.

    A piece on a bench of its own may lie in a cradle: there only tipping counts.
    """
    angle = tip_deg(scene, support, standing | moving)
    if is_on_bench:
        reason = "" if angle >= SAFE_DEG else "does not stand by itself: bed it on sandbags or in a cradle"
        return Stability(tip_deg=angle, needs_prop=bool(reason), reason=reason)
    if angle < SAFE_DEG:
        reason = f"tips at {angle:.1f} degrees" if angle >= 0 else "falls: its centre of mass is not over its feet"
        return Stability(tip_deg=angle, needs_prop=True, reason=reason)
    reason = prop_reason(scene, support, moving, standing)
    return Stability(tip_deg=angle, needs_prop=bool(reason), reason=reason)


def prop_reason(scene: Scene, support: Support, moving: PartSet, standing: PartSet) -> str:
    """Why what arrives has to be held after its step; empty when it stays by itself.

    Tightened bolts hold a joint that is not bonded; of a bonded one they count only where the shop works on bolts.
    """
    fresh = scene.joints_between(moving, standing)
    joints = [scene.joints[number] for number in fresh]
    is_held = any(joint.bolts and (not joint.method.is_bonded or scene.settings.work_on_bolts) for joint in joints)
    if is_held:
        return ""
    until = "until the joint is free" if any(joint.method.is_bonded for joint in joints) else "until it is held"
    if not is_carried(scene, support, moving, standing):
        return f"hangs on its joint: hold or prop it {until}"
    if rest_deg(scene, support, moving, standing) < 0.0:
        return f"leans over its joint: prop it {until}"
    return ""


def rest_deg(scene: Scene, support: Support, moving: PartSet, standing: PartSet) -> float:
    """Tip angle of what arrives on the faces that carry it, as if the joints were dry."""
    touching = []
    for number in scene.joints_between(moving, standing):
        lower = support.below[number]
        if lower is None or not standing >> lower & 1:
            continue
        touching.append(support.touching[number])
    points = np.concatenate(touching) if touching else np.empty((0, 3))
    if not len(points):
        return 90.0
    return tip_angle_deg(points, scene.centre_mm(moving), scene.up)
