"""What carries what: support joints, load paths to the ground, and how what stands stands."""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
from scipy.spatial import ConvexHull

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.pushing import least_push_n, shoulder_mm
from assembler.engineering.standing import overhang, tip_angle_deg
from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.figure.plan import Stability, StatedBase
from assembler.geometry.sweeps import frame_of
from assembler.planning.onbolts import carried_on_bolts
from assembler.planning.scene import FLOOR_MM, PartSet, Scene, members
from assembler.words import Said, Text, say

UPRIGHT = 0.5
"""Cosine: a joint whose normal is nearer to the vertical than 60 degrees carries by its face."""

WEDGE = 0.15
"""Rise of two opposite faces together from which a part between them sits like a keystone: 4 degrees each."""

LEVEL = 0.8
"""Cosine: what comes in under such a face has to be slipped in while the upper part is held up."""

SAFE_DEG = 5.0
"""Least tip angle that is left without a prop (common practice, no source)."""


class Fall(NamedTuple):
    """How far the centre of mass lies outside the feet, in which level direction, and the moment about that edge."""

    overhang_mm: float
    toward: Vector
    moment_nm: float


class Support:
    """Load paths of the finished figure, and where its parts touch each other and the ground.

    Parameters
    ----------
    scene
        The figure.
    base
        The base without a mesh that what stands is fixed to; None: its own feet carry it.

    Attributes
    ----------
    ground
        Parts that stand on the ground by themselves: the base, where it comes first; else the lowest ones.
    rank
        For each part its steps from the ground along joints.
    crossed
        For each part the joints (numbers) that its load paths to the ground cross.
    """

    def __init__(self, scene: Scene, base: StatedBase | None = None) -> None:
        self.scene = scene
        self.base = base
        self._lower: dict[tuple[int, Vector], int | None] = {}
        self._contacts: dict[tuple[int, Vector], Points] = {}
        self._feet: dict[tuple[int, Vector], Points] = {}
        self._tips: dict[tuple[PartSet, Vector], float] = {}
        self.ground = self._ground_parts()
        self.rank = _ranks(scene, frozenset(members(self.ground)))
        self.crossed = self._crossed()

    def lower(self, joint: int, up: Vector) -> int | None:
        """Number of the part that carries the other of a joint; None where the face is too steep to say."""
        key = (joint, up)
        if key not in self._lower:
            rise = float(np.dot(self.scene.joints[joint].normal, up))
            first, second = self.scene.pairs[joint]
            self._lower[key] = None if abs(rise) < UPRIGHT else first if rise > 0 else second
        return self._lower[key]

    def contact(self, joint: int, up: Vector) -> Points:
        """Corners of the face with which the upper part of a joint lies on the lower one, (n, 3) mm."""
        key = (joint, up)
        if key not in self._contacts:
            self._contacts[key] = _contact(self.scene, joint, self.lower(joint, up), up)
        return self._contacts[key]

    def feet(self, part: int, up: Vector) -> Points:
        """Lowest points of a part, (n, 3) mm."""
        key = (part, up)
        if key not in self._feet:
            vertices = self.scene.meshes[part].vertices
            heights = vertices @ np.asarray(up)
            self._feet[key] = corners_of(vertices[heights <= heights.min() + FLOOR_MM], up)
        return self._feet[key]

    def tip_deg(self, standing: PartSet, up: Vector) -> float:
        """Tip angle of a set on its lowest points."""
        key = (standing, up)
        if key not in self._tips:
            self._tips[key] = tip_angle_deg(self.touching(standing, up), self.weighed(standing)[1], up)
        return self._tips[key]

    def fall(self, standing: PartSet, up: Vector) -> Fall:
        """How a set whose centre of mass lies outside its feet falls."""
        mass_kg, centre_mm = self.weighed(standing)
        overhang_mm, toward = overhang(self.touching(standing, up), centre_mm, up)
        moment_nm = mass_kg * GRAVITY_M_S2 * overhang_mm / 1000.0
        return Fall(overhang_mm, toward, moment_nm)

    def weighed(self, standing: PartSet) -> tuple[float, Vector]:
        """Mass and centre of mass of a set, its base among it."""
        mass_kg, centre_mm = self.scene.mass_kg(standing), self.scene.centre_mm(standing)
        if self.base is None or min(self.base.size_mm[:2]) <= 0.0:
            return mass_kg, centre_mm
        whole_kg = mass_kg + self.base.mass_kg
        middle = np.asarray(self.base.top_mm) - np.asarray(self.scene.up) * self.base.size_mm[2] / 2.0
        x, y, z = ((mass_kg * np.asarray(centre_mm) + self.base.mass_kg * middle) / whole_kg).tolist()
        return whole_kg, (x, y, z)

    def touching(self, standing: PartSet, up: Vector) -> Points:
        """Where a set, or the base under it, touches the ground, in its plane, (n, 3) mm."""
        if self.base is not None and min(self.base.size_mm[:2]) > 0.0:
            return base_corners(self.base, self.scene.up)
        rise = np.asarray(up)
        feet = [self.feet(number, up) for number in members(standing)]
        floor = min(float((points @ rise).min()) for points in feet)
        touching = np.concatenate([points[points @ rise <= floor + FLOOR_MM] for points in feet])
        return np.asarray(touching - np.outer(touching @ rise - floor, rise))

    def _ground_parts(self) -> PartSet:
        """The base, where it comes first; else the lowest parts that stand by themselves, or simply the lowest."""
        scene = self.scene
        if scene.root is not None:
            return 1 << scene.root
        heights = {
            number: scene.lowest_mm(1 << number, scene.up) for number in range(len(scene.parts)) if number != scene.base
        }
        lowest = min(heights.values())
        low = [number for number, height in heights.items() if height <= lowest + FLOOR_MM]
        firm = [number for number in low if self.tip_deg(1 << number, scene.up) >= SAFE_DEG]
        return sum(1 << number for number in firm or low)

    def _crossed(self) -> tuple[frozenset[int], ...]:
        scene, rank = self.scene, self.rank
        found: list[frozenset[int]] = [frozenset()] * len(scene.parts)
        for part in sorted(range(len(scene.parts)), key=lambda number: (rank[number], number)):
            if self.ground >> part & 1:
                continue
            carriers = self._carriers(part)
            crossed: set[int] = set(carriers)
            for joint in carriers:
                other = _other(scene, joint, part)
                if rank[other] < rank[part]:
                    crossed |= found[other]
            found[part] = frozenset(crossed)
        return tuple(found)

    def _carriers(self, part: int) -> list[int]:
        """Joints that carry a part: those under it, else all that lead towards the ground."""
        scene, rank = self.scene, self.rank
        mine = [number for number, pair in enumerate(scene.pairs) if part in pair]
        lower = {number: self.lower(number, scene.up) for number in mine}
        under = [number for number in mine if lower[number] is not None and lower[number] != part]
        nearer = [number for number in under if rank[_other(scene, number, part)] < rank[part]]
        return nearer or [number for number in mine if rank[_other(scene, number, part)] < rank[part]] or under


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


def _other(scene: Scene, joint: int, part: int) -> int:
    first, second = scene.pairs[joint]
    return second if first == part else first


def stated_base(support: Support) -> StatedBase | None:
    """The base of figure.toml that has no mesh, under the middle of the figure's feet; None where none is stated."""
    scene = support.scene
    base = scene.settings.base
    if base.part or not base.is_stated:
        return None
    frame = plan_frame(scene.up)
    feet = np.concatenate([support.feet(number, scene.up) for number in range(len(scene.parts))]) @ frame.T
    feet = feet[feet[:, 2] <= feet[:, 2].min() + 1.0]
    across = (feet.min(axis=0) + feet.max(axis=0)) / 2.0
    x, y, z = (np.array([across[0], across[1], feet[:, 2].min()]) @ frame).tolist()
    return StatedBase(size_mm=base.size_mm, mass_kg=base.mass_kg, top_mm=(x, y, z))


def base_corners(base: StatedBase, up: Vector) -> Points:
    """Corners of the underside of a stated base, (4, 3) mm, frame of the mesh files."""
    length_mm, width_mm, rise_mm = base.size_mm
    x, y, rise = plan_frame(up)
    middle = np.asarray(base.top_mm) - rise * rise_mm
    ends = ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5))
    return np.array([middle + a * length_mm * x + b * width_mm * y for a, b in ends])


def corners_of(points: Points, up: Vector) -> Points:
    """Corners of the outline of points seen from above, (m, 3); the points themselves where they span no area."""
    flat = points @ frame_of(up)[:2].T
    if len(points) < 4 or np.linalg.matrix_rank(flat - flat[0], tol=1e-6) < 2:
        return points
    return np.asarray(points[ConvexHull(flat).vertices])


def _contact(scene: Scene, number: int, lower: int | None, up: Vector) -> Points:
    if lower is None:
        return np.empty((0, 3))
    joint = scene.joints[number]
    upper = next(part for part in scene.pairs[number] if part != lower)
    vertices = scene.meshes[upper].vertices
    off_plane = np.abs((vertices - np.asarray(joint.centre_mm)) @ np.asarray(joint.normal))
    return corners_of(vertices[off_plane <= FLOOR_MM / 2.0], up)


def is_carried(support: Support, moving: PartSet, standing: PartSet, up: Vector) -> bool:
    """Whether something that stands, or the ground, is under what arrives."""
    if _on_ground(support.scene, moving, standing, up):
        return True
    for number in support.scene.joints_between(moving, standing):
        lower = support.lower(number, up)
        if lower is not None and standing >> lower & 1:
            return True
    return is_wedged(support.scene, moving, standing, up)


def is_wedged(scene: Scene, moving: PartSet, standing: PartSet, up: Vector) -> bool:
    """Whether what arrives sits between two steep faces that narrow downwards, like a keystone."""
    rises, normals = [], []
    for number in scene.joints_between(moving, standing):
        first, _ = scene.pairs[number]
        normal = np.asarray(scene.joints[number].normal) * (1.0 if standing >> first & 1 else -1.0)
        normals.append(normal)
        rises.append(float(normal @ np.asarray(up)))
    return any(
        float(normals[k] @ normals[m]) < -0.5 and min(rises[k], rises[m]) > 0.0 and rises[k] + rises[m] > WEDGE
        for k in range(len(normals))
        for m in range(k + 1, len(normals))
    )


def goes_under(support: Support, moving: PartSet, standing: PartSet, up: Vector) -> bool:
    """Whether what arrives is to carry something that stands already, by a face that is clearly level."""
    scene = support.scene
    for number in scene.joints_between(moving, standing):
        lower = support.lower(number, up)
        if lower is not None and moving >> lower & 1 and abs(float(np.dot(scene.joints[number].normal, up))) > LEVEL:
            return True
    return False


def _on_ground(scene: Scene, moving: PartSet, standing: PartSet, up: Vector) -> list[int]:
    """Arriving parts that come to lie on the ground or the bench."""
    floor = scene.lowest_mm(moving | standing, up) + FLOOR_MM
    return [number for number in members(moving) if scene.lowest_mm(1 << number, up) <= floor]


def stability_of(
    support: Support, moving: PartSet, standing: PartSet, up: Vector, *, is_on_bench: bool = False
) -> Stability:
    """How the set stands once the moving parts have joined it.

    A piece on a bench of its own may lie in a cradle.
    """
    angle = support.tip_deg(standing | moving, up)
    if angle < SAFE_DEG and is_on_bench:
        return Stability(tip_deg=angle, needs_prop=True, reason=say("prop.bed"))
    if angle < 0.0:
        fall = support.fall(standing | moving, up)
        falls = say("prop.falls", overhang_mm=fall.overhang_mm, until=_until(support.scene))
        return Stability(
            tip_deg=angle,
            needs_prop=True,
            reason=falls,
            is_prop_kept=True,
            overhang_mm=fall.overhang_mm,
            toward=fall.toward,
            moment_nm=fall.moment_nm,
        )
    push_n, slides = (0.0, False) if is_on_bench else _push(support, standing | moving, up, angle)
    if angle < SAFE_DEG:
        tips = say("prop.tips", tip_deg=angle, until=_until(support.scene))
        return Stability(
            tip_deg=angle, needs_prop=True, reason=tips, is_prop_kept=True, push_n=push_n, push_slides=slides
        )
    reason = prop_reason(support, moving, standing, up)
    return Stability(tip_deg=angle, needs_prop=bool(reason), reason=reason, push_n=push_n, push_slides=slides)


def _push(support: Support, standing: PartSet, up: Vector, tip_deg: float) -> tuple[float, bool]:
    """What one person's push at shoulder height has to be to move a set; 0 where the set is not that high."""
    rise = np.asarray(up)
    mass_kg, centre_mm = support.weighed(standing)
    ground_mm = float((support.touching(standing, up) @ rise).min())
    low, high = support.scene.box_mm(standing)
    top_mm = max(float(np.dot(corner, rise)) for corner in itertools.product(*zip(low, high, strict=True)))
    if top_mm - ground_mm < shoulder_mm():
        return 0.0, False
    return least_push_n(mass_kg, float(np.dot(centre_mm, rise)) - ground_mm, tip_deg)


def _until(scene: Scene) -> Said:
    return say("prop.until_anchored") if scene.settings.base.anchors else say("prop.kept")


def prop_reason(support: Support, moving: PartSet, standing: PartSet, up: Vector) -> Text:
    """Why what arrives has to be held after its step; empty when it stays by itself.

    Tightened bolts hold a joint that is not bonded; of a bonded one they count only where the shop works on bolts and
    they carry what arrives.
    """
    scene = support.scene
    fresh = scene.joints_between(moving, standing)
    joints = [scene.joints[number] for number in fresh]
    if any(joint.bolts and not joint.method.is_bonded for joint in joints):
        return ""
    if any(carried_on_bolts(scene, number, moving, up) for number in fresh):
        return ""
    is_curing = any(joint.method.is_bonded for joint in joints)
    until = say("prop.until_free") if is_curing else say("prop.until_later")
    if not is_carried(support, moving, standing, up):
        return say("prop.hangs", until=until)
    if rest_deg(support, moving, standing, up) < 0.0:
        return say("prop.leans", until=until)
    return ""


def rest_deg(support: Support, moving: PartSet, standing: PartSet, up: Vector) -> float:
    """Tip angle of what arrives on the faces that carry it, as if the joints were dry."""
    scene = support.scene
    touching = [support.feet(number, up) for number in _on_ground(scene, moving, standing, up)]
    for number in scene.joints_between(moving, standing):
        lower = support.lower(number, up)
        if lower is None or not standing >> lower & 1:
            continue
        touching.append(support.contact(number, up))
    points = np.concatenate(touching) if touching else np.empty((0, 3))
    if not len(points):
        return 90.0
    return tip_angle_deg(points, scene.centre_mm(moving), up)
