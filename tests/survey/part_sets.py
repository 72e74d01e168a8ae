"""Generated part sets whose joints are known exactly, and the ways in which real meshes differ from them.

Every set is built from manifold3d solids, so areas come from its cross-sections and holes from the drawing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from manifold3d import CrossSection, Manifold

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh

Vector = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class TrueBolt:
    at_mm: Vector
    axis: Vector
    hole_mm: float
    grip_mm: float
    through: tuple[str, ...]
    seats: tuple[str, str] = ("open", "open")


@dataclass(frozen=True, kw_only=True)
class TrueJoint:
    area_mm2: float
    seam_mm: float | None
    bolts: tuple[TrueBolt, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PartSet:
    solids: Mapping[str, Manifold]
    joints: Mapping[frozenset[str], TrueJoint] = field(default_factory=dict)

    def meshes(self) -> dict[PartId, Mesh]:
        return {PartId(name): mesh_of(solid) for name, solid in self.solids.items()}


def mesh_of(solid: Manifold) -> Mesh:
    """As an STL would hold it: single precision."""
    raw = solid.to_mesh()
    vertices = np.asarray(raw.vert_properties, dtype=np.float32)[:, :3].astype(np.float64)
    return Mesh(vertices=vertices, faces=np.asarray(raw.tri_verts, dtype=np.int64))


def noisy(mesh: Mesh, seed: int, sigma_mm: float = 0.05) -> Mesh:
    noise = np.random.default_rng(seed).normal(0.0, sigma_mm, mesh.vertices.shape)
    return Mesh(vertices=mesh.vertices + noise, faces=mesh.faces)


def remeshed(part_set: PartSet, longest_mm: float) -> PartSet:
    """Every edge divided to at most the given length; the shape stays."""
    solids = {name: solid.refine_to_length(longest_mm) for name, solid in part_set.solids.items()}
    return PartSet(solids=solids, joints=part_set.joints)


def turned(part_set: PartSet, degrees: Vector, shift: Vector) -> PartSet:
    """The whole set in another place, with its truth."""
    solids = {name: solid.rotate(degrees).translate(shift) for name, solid in part_set.solids.items()}
    matrix = np.asarray(mesh_of(Manifold.tetrahedron()).vertices)
    moved = np.asarray(mesh_of(Manifold.tetrahedron().rotate(degrees)).vertices)
    rotation = np.linalg.lstsq(matrix, moved, rcond=None)[0].T
    rotation, _ = np.linalg.qr(rotation) if abs(abs(np.linalg.det(rotation)) - 1) > 1e-4 else (rotation, None)

    def bolt(true: TrueBolt) -> TrueBolt:
        at = rotation @ np.array(true.at_mm) + np.array(shift)
        axis = rotation @ np.array(true.axis)
        return TrueBolt(
            at_mm=tuple(at.tolist()),
            axis=tuple(axis.tolist()),
            hole_mm=true.hole_mm,
            grip_mm=true.grip_mm,
            through=true.through,
            seats=true.seats,
        )

    joints = {
        pair: TrueJoint(area_mm2=joint.area_mm2, seam_mm=joint.seam_mm, bolts=tuple(map(bolt, joint.bolts)))
        for pair, joint in part_set.joints.items()
    }
    return PartSet(solids=solids, joints=joints)


def drill(solid: Manifold, places: Sequence[Vector], width_mm: float, low: float, high: float, sides: int) -> Manifold:
    """Vertical holes between two heights; the corners of their polygons lie on the true circle."""
    for x, y, _ in places:
        solid -= Manifold.cylinder(high - low, width_mm / 2, circular_segments=sides).translate((x, y, low))
    return solid


def hexagon_pocket(across_flats_mm: float, low: float, high: float, place: Vector) -> Manifold:
    radius = across_flats_mm / np.sqrt(3.0)
    return Manifold.cylinder(high - low, radius, circular_segments=6).translate((place[0], place[1], low))


def circle_of(count: int, radius: float, height: float, start_deg: float = 7.0) -> list[Vector]:
    angles = np.radians(start_deg + 360.0 * np.arange(count) / count)
    return [(float(radius * np.cos(a)), float(radius * np.sin(a)), height) for a in angles]


def flanged_tubes(
    *,
    levels: int = 3,
    radius: float = 150.0,
    wall: float = 5.0,
    flange: float = 40.0,
    thick: float = 10.0,
    tall: float = 200.0,
    hole: float = 9.0,
    count: int = 6,
    sides: int = 24,
    gap: float = 0.0,
    facets: int = 128,
    is_capped: bool = True,
) -> PartSet:
    """A tower of tubes with inner flanges; the lowest stays open below, so the cavity has an opening in the base."""
    solids: dict[str, Manifold] = {}
    joints: dict[frozenset[str], TrueJoint] = {}

    def round_bar(r: float, low: float, high: float) -> Manifold:
        return Manifold.cylinder(high - low, r, circular_segments=facets).translate((0, 0, low))

    inner = radius - wall
    for level in range(levels):
        low = level * (tall + gap)
        high = low + tall
        body = round_bar(radius, low, high)
        ceiling = high - wall if level == levels - 1 and is_capped else high + 1
        floor = low - 1
        hollow_low = low + thick if level > 0 else floor
        hollow_high = high - thick if level < levels - 1 else ceiling
        body -= round_bar(inner, hollow_low, hollow_high)
        body -= round_bar(inner - flange, floor, ceiling)
        places = circle_of(count, inner - flange / 2, 0.0)
        if level > 0:
            body = drill(body, places, hole, low - 1, low + thick + 1, sides)
        if level < levels - 1:
            body = drill(body, places, hole, high - thick - 1, high + 1, sides)
        solids[f"T{level + 1}"] = body
    polygon = facets / 2 * np.sin(2 * np.pi / facets)
    hole_area = sides / 2 * np.sin(2 * np.pi / sides) * (hole / 2) ** 2
    area = polygon * (radius**2 - (inner - flange) ** 2) - count * hole_area
    seam = 2 * facets * radius * np.sin(np.pi / facets)
    for level in range(levels - 1):
        height = (level + 1) * tall + (level + 0.5) * gap
        names = (f"T{level + 1}", f"T{level + 2}")
        bolts = tuple(
            TrueBolt(at_mm=(x, y, height), axis=(0, 0, 1), hole_mm=hole, grip_mm=2 * thick + gap, through=names)
            for x, y, _ in circle_of(count, inner - flange / 2, 0.0)
        )
        joints[frozenset(names)] = TrueJoint(area_mm2=float(area), seam_mm=float(seam), bolts=bolts)
    return PartSet(solids=solids, joints=joints)


def quartered_tower(*, radius: float = 160.0, tall: float = 180.0, levels: int = 2, hole: float = 6.6) -> PartSet:
    """A capped tower cut into quarters by two upright planes and by levels: four parts meet at each crossing."""
    wall, thick, flange = 6.0, 8.0, 34.0
    solids = _quarters(radius, tall, levels, wall, thick, flange)
    bolts: dict[frozenset[str], list[TrueBolt]] = {}
    for one, two, at, axis in _quarter_bolts(radius - wall - flange / 2, tall, levels):
        tool = Manifold.cylinder(6 * thick, hole / 2, circular_segments=24, center=True)
        tilt = {0: (0.0, 90.0, 0.0), 1: (90.0, 0.0, 0.0), 2: (0.0, 0.0, 0.0)}[int(np.argmax(np.abs(axis)))]
        tool = tool.rotate(tilt).translate(tuple(at))
        solids[one] -= tool
        solids[two] -= tool
        true = TrueBolt(at_mm=tuple(at), axis=tuple(axis), hole_mm=hole, grip_mm=2 * thick, through=(one, two))
        bolts.setdefault(frozenset((one, two)), []).append(true)
    joints = {}
    for pair, listed in bolts.items():
        one, two = (solids[name] for name in listed[0].through)
        area = facing_area(one, two, np.array(listed[0].at_mm), np.array(listed[0].axis))
        joints[pair] = TrueJoint(area_mm2=area, seam_mm=None, bolts=tuple(listed))
    return PartSet(solids=solids, joints=joints)


def _quarters(radius: float, tall: float, levels: int, wall: float, thick: float, flange: float) -> dict[str, Manifold]:
    high, big = tall * levels, 4 * radius
    outer = Manifold.cylinder(high, radius, circular_segments=96)
    cavity = Manifold.cylinder(high - 2 * wall, radius - wall, circular_segments=96).translate((0, 0, wall))
    core = Manifold.cylinder(high - 2 * (wall + flange), radius - wall - flange, circular_segments=96)
    flats = Manifold()
    for level in range(1, levels):
        flats += Manifold.cube((2 * big, 2 * big, 2 * thick), True).translate((0, 0, level * tall))
    solids = {}
    for level in range(levels):
        for quarter in range(4):
            turn = (0.0, 0.0, 90.0 * quarter)
            cell = Manifold.cube((big, big, tall)).rotate(turn).translate((0, 0, level * tall))
            slab = (Manifold.cube((big, thick, big)) + Manifold.cube((thick, big, big))).rotate(turn) + flats
            keep = slab - core.translate((0, 0, wall + flange))
            solids[quarter_name(level, quarter)] = (outer ^ cell) - (cavity - keep)
    return solids


def quarter_name(level: int, quarter: int) -> str:
    return f"Q{level + 1}{'ABCD'[quarter % 4]}"


def _quarter_bolts(reach: float, tall: float, levels: int) -> list[tuple[str, str, np.ndarray, np.ndarray]]:
    found = []
    for level in range(levels):
        for quarter in range(4):
            name = quarter_name(level, quarter)
            angle = np.radians(90.0 * (quarter + 1))
            along, across = np.array([np.cos(angle), np.sin(angle), 0]), np.array([-np.sin(angle), np.cos(angle), 0])
            for share in (0.35, 0.65):
                at = along * reach + np.array([0, 0, (level + share) * tall])
                found.append((name, quarter_name(level, quarter + 1), at, across))
            for degrees in (30.0, 60.0) if level < levels - 1 else ():
                angle = np.radians(90.0 * quarter + degrees)
                at = np.array([np.cos(angle) * reach, np.sin(angle) * reach, (level + 1) * tall])
                found.append((name, quarter_name(level + 1, quarter), at, np.array([0.0, 0, 1])))
    return found


def facing_area(one: Manifold, two: Manifold, at: np.ndarray, normal: np.ndarray, beside: float = 0.01) -> float:
    """Common area of the sections of two solids just beside a plane, `one` lying against the normal."""
    return float((section(one, at - beside * normal, normal) ^ section(two, at + beside * normal, normal)).area())


def section(solid: Manifold, at: np.ndarray, normal: np.ndarray) -> CrossSection:
    """Section of a solid by a plane, in a frame that depends on the normal only."""
    across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    across /= np.linalg.norm(across)
    frame = np.array([across, np.cross(normal, across), normal])
    return solid.transform(np.column_stack((frame, -frame @ at))).slice(0.0)


def seat_zoo(*, sides: int = 24) -> PartSet:
    """Two thick plates with one hole of every kind; the mating plane is z = 0."""
    size, low, high = 400.0, -20.0, 25.0
    below = Manifold.cube((size, size, -low), True).translate((0, 0, low / 2))
    above = Manifold.cube((size, size, high), True).translate((0, 0, high / 2))

    def bar(x: float, y: float, width: float, start: float, end: float) -> Manifold:
        return Manifold.cylinder(end - start, width / 2, circular_segments=sides).translate((x, y, start))

    def add(x: float, hole: float, grip: float, through: tuple[str, str], seats: tuple[str, str]) -> None:
        sign = 1.0 if through == ("below", "above") else -1.0
        bolts.append(
            TrueBolt(at_mm=(x, 0, 0), axis=(0, 0, sign), hole_mm=hole, grip_mm=grip, through=through, seats=seats)
        )

    bolts: list[TrueBolt] = []
    everywhere = low - 1, high + 1
    # plain
    below, above = below - bar(-160, 0, 9, *everywhere), above - bar(-160, 0, 9, *everywhere)
    add(-160, 9, 45, ("below", "above"), ("open", "open"))
    # counterbored above: the head sits there
    below = below - bar(-120, 0, 6.6, *everywhere)
    above = above - bar(-120, 0, 6.6, *everywhere) - bar(-120, 0, 18, 15, high + 1)
    add(-120, 6.6, 35, ("above", "below"), ("open", "open"))
    # nut pocket above
    below = below - bar(-80, 0, 9, *everywhere)
    above = above - bar(-80, 0, 9, *everywhere) - hexagon_pocket(13.3, 14, high + 1, (-80, 0, 0))
    add(-80, 9, 34, ("below", "above"), ("open", "captive"))
    # countersunk above: the head is flush with the outer face
    below = below - bar(-40, 0, 6.6, *everywhere)
    cone = Manifold.cylinder(4.0, 3.3, 7.3, circular_segments=sides).translate((-40, 0, high - 4.0))
    above = above - bar(-40, 0, 6.6, *everywhere) - cone
    add(-40, 6.6, 45, ("above", "below"), ("open", "open"))
    # insert above: blind
    below, above = below - bar(0, 0, 6.6, *everywhere), above - bar(0, 0, 8, -1, 14)
    add(0, 6.6, 20, ("below", "above"), ("open", "insert"))
    # insert below, the screw comes from above
    below, above = below - bar(40, 0, 8, low + 6, 1), above - bar(40, 0, 6.6, *everywhere)
    add(40, 6.6, 25, ("above", "below"), ("open", "insert"))
    # slot above, round below
    slot = CrossSection.hull_points(
        [(80 + dx + 4.5 * np.cos(a), 4.5 * np.sin(a)) for dx in (-4, 4) for a in 2 * np.pi * np.arange(sides) / sides]
    )
    below = below - bar(80, 0, 9, *everywhere)
    above = above - Manifold.extrude(slot, 40).translate((0, 0, -1))
    add(80, 9, 45, ("below", "above"), ("open", "open"))
    # pin on the lower plate in a socket of the upper, a loose dowel, a drain hole without partner
    below, above = below + bar(120, 0, 10, -1, 8), above - bar(120, 0, 10.3, -1, 10)
    below, above = below - bar(160, 0, 8, -10, 1), above - bar(160, 0, 8, -1, 10)
    below = below - bar(0, 100, 12, *everywhere)
    area = facing_area(below, above, np.zeros(3), np.array([0.0, 0, 1]))
    joint = TrueJoint(area_mm2=area, seam_mm=4 * size, bolts=tuple(bolts))
    return PartSet(solids={"below": below, "above": above}, joints={frozenset(("below", "above")): joint})


def three_layers(*, sides: int = 24) -> PartSet:
    """A flange, a plate and a 60 mm timber deck; some bolts go through all three, some through two."""
    low, thick, deck = 8.0, 12.0, 60.0
    top = Manifold.cube((300, 200, low), True).translate((0, 0, thick + low / 2))
    plate = Manifold.cube((300, 200, thick), True).translate((0, 0, thick / 2))
    timber = Manifold.cube((500, 400, deck), True).translate((0, 0, -deck / 2))
    through_all = [(-100.0, -60.0), (100.0, 60.0), (-100.0, 60.0)]
    through_two = [(0.0, 60.0), (0.0, -60.0)]
    for x, y in through_all:
        tool = Manifold.cylinder(200, 5.5, circular_segments=sides, center=True).translate((x, y, 0))
        top, plate, timber = top - tool, plate - tool, timber - tool
    for x, y in through_two:
        tool = Manifold.cylinder(200, 3.3, circular_segments=sides, center=True).translate((x, y, 0))
        top, plate = top - tool, plate - tool
    all_three, two = [], []
    for x, y in through_all:
        all_three.append(
            TrueBolt(
                at_mm=(x, y, 0),
                axis=(0, 0, 1),
                hole_mm=11,
                grip_mm=deck + thick + low,
                through=("deck", "plate", "top"),
            )
        )
    for x, y in through_two:
        two.append(
            TrueBolt(at_mm=(x, y, thick), axis=(0, 0, 1), hole_mm=6.6, grip_mm=thick + low, through=("plate", "top"))
        )
    up = np.array([0.0, 0, 1])
    joints = {
        frozenset(("deck", "plate")): TrueJoint(
            area_mm2=facing_area(timber, plate, np.zeros(3), up), seam_mm=1000.0, bolts=tuple(all_three)
        ),
        frozenset(("plate", "top")): TrueJoint(
            area_mm2=facing_area(plate, top, np.array([0, 0, thick]), up), seam_mm=1000.0, bolts=tuple(two)
        ),
    }
    return PartSet(solids={"deck": timber, "plate": plate, "top": top}, joints=joints)


def tongued_blocks(*, gap: float = 0.0, sides: int = 24) -> PartSet:
    """Two blocks with a step and a tongue, bolted beside the tongue; the gap is along z only."""
    tongue = Manifold.cube((30, 200, 15), True).translate((0, 0, 7.5))
    step = Manifold.cube((60, 200, 10), True).translate((-120, 0, 5))
    lower = Manifold.cube((300, 200, 30), True).translate((0, 0, -15)) + tongue + step
    upper = Manifold.cube((300, 200, 45), True).translate((0, 0, 22.5)) - tongue - step
    places = [(-50.0, 60.0, 0.0), (60.0, 60.0, 0.0), (-50.0, -60.0, 0.0), (60.0, -60.0, 0.0)]
    lower = drill(lower, places, 9.0, -31, 40, sides)
    upper = drill(upper, places, 9.0, -31, 60, sides).translate((0, 0, gap))
    bolts = tuple(
        TrueBolt(at_mm=(x, y, gap / 2), axis=(0, 0, 1), hole_mm=9, grip_mm=75 + gap, through=("lower", "upper"))
        for x, y, _ in places
    )
    hole_area = sides / 2 * np.sin(2 * np.pi / sides) * 4.5**2
    area = 300 * 200 - 4 * hole_area + 200 * (15 - gap) * 2 + 200 * (10 - gap)
    seam = 2 * 300 + 2 * 200 + 4 * (15 - gap) + 2 * (10 - gap)
    joint = TrueJoint(area_mm2=float(area), seam_mm=float(seam), bolts=bolts)
    return PartSet(solids={"lower": lower, "upper": upper}, joints={frozenset(("lower", "upper")): joint})


def plug_and_cone(*, facets: int = 96, is_curved: bool = False) -> PartSet:
    """A conical seat; with `is_curved` a spherical one, so that no face of it is flat."""
    low_r, high_r, tall = 120.0, 80.0, 60.0
    if is_curved:
        plug = Manifold.sphere(140, facets).trim_by_plane((0, 0, 1), 40.0)
    else:
        plug = Manifold.cylinder(tall, low_r, high_r, circular_segments=facets)
    plug += Manifold.cylinder(60, 150, circular_segments=facets).translate((0, 0, -60 + (40 if is_curved else 0)))
    block = Manifold.cylinder(160, 150, circular_segments=facets).translate((0, 0, 40 if is_curved else 0)) - plug
    if is_curved:
        raw = mesh_of(Manifold.sphere(140, facets).trim_by_plane((0, 0, 1), 40.0))
        corners = raw.corners
        areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
        cap = float(areas[np.any(corners[:, :, 2] > 40.001, axis=1)].sum())
        ring = facets / 2 * np.sin(2 * np.pi / facets) * 150**2 - facing_disc(raw, 40.0)
        area = cap + ring
    else:
        wedge = facets / 2 * np.sin(2 * np.pi / facets)
        slant = np.hypot(tall, (low_r - high_r) * np.cos(np.pi / facets))
        cone = facets * np.sin(np.pi / facets) * (low_r + high_r) * slant
        area = cone + wedge * high_r**2 + wedge * (150**2 - low_r**2)
    joint = TrueJoint(area_mm2=float(area), seam_mm=float(2 * facets * 150 * np.sin(np.pi / facets)))
    return PartSet(solids={"plug": plug, "socket": block}, joints={frozenset(("plug", "socket")): joint})


def facing_disc(mesh: Mesh, height: float) -> float:
    """Area of the faces of a mesh that lie at a height."""
    corners = mesh.corners
    flat = np.all(np.abs(corners[:, :, 2] - height) < 1e-3, axis=1)
    return float(
        np.linalg.norm(np.cross(corners[flat, 1] - corners[flat, 0], corners[flat, 2] - corners[flat, 0]), axis=1).sum()
        / 2
    )
