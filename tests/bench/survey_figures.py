"""Sculpted shells cut by oblique planes, with all that a shop builds into its flanges, and the truth about them.

The shells are noise displaced balls or marching-cubes surfaces, so no skin is regular; everything flat, every hole and
every number comes from the drawing or from sections that manifold3d cuts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
import trimesh
from manifold3d import CrossSection, Manifold, Mesh, OpType
from numpy.typing import NDArray
from skimage.measure import marching_cubes

from tests.survey.part_sets import PartSet, TrueBolt, TrueJoint, section

Array = NDArray[np.float64]

WALL_MM, FLANGE_MM = 6.0, 38.0


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """What a generated figure is made of.

    Parameters
    ----------
    seed
        Of the lumps and of the places of the holes.
    cuts
        Planes: a point and a normal each.
    radius_mm, edge_mm
        Of the ball; edge of the skin's triangles.
    thick_mm
        Of the flange on the side against the normal and on the other.
    hole_mm, sides
        Clearance holes, and corners of their circle.
    spacing_mm
        Between holes along a flange.
    kinds
        What stands at the places in turn: plain, counterbore, countersink, insert, captive, slot, pin, drain.
    tilt_deg
        Angle of the holes to the normal of their flange.
    gap_mm
        Modelled bond line.
    is_voxel
        Whether the shell comes from marching cubes.
    is_spotfaced
        Whether seats square on tilted holes are cut into the flanges.
    """

    seed: int = 0
    cuts: Sequence[tuple[Sequence[float], Sequence[float]]] = (((0, 0, 0), (0.2, 0.3, 1.0)),)
    radius_mm: float = 180.0
    edge_mm: float = 9.0
    thick_mm: tuple[float, float] = (9.0, 11.0)
    hole_mm: float = 9.0
    sides: int = 32
    spacing_mm: float = 90.0
    kinds: Sequence[str] = ("plain",)
    tilt_deg: float = 0.0
    gap_mm: float = 0.0
    is_voxel: bool = False
    is_spotfaced: bool = False


def lumps(direction: Array, seed: int, depth: float = 0.12) -> Array:
    """Factor of the radius in each direction: a sum of smooth waves, about 1."""
    random = np.random.default_rng(seed)
    total = np.zeros(len(direction))
    for octave, (count, pitch) in enumerate(((6, 2.0), (8, 4.5), (10, 10.0))):
        axes = random.normal(size=(count, 3))
        axes /= np.linalg.norm(axes, axis=1)[:, None]
        phase = random.uniform(0, 2 * np.pi, count)
        total += np.sin(direction @ axes.T * pitch + phase).sum(axis=1) / np.sqrt(count) / 2.2**octave
    return 1.0 + depth * total / 1.6


def as_manifold(vertices: Array, faces: NDArray[np.int64]) -> Manifold:
    solid = Manifold(Mesh(vert_properties=np.asarray(vertices, np.float32), tri_verts=np.asarray(faces, np.uint32)))
    assert not solid.is_empty(), solid.status()
    return solid


def shell_bodies(recipe: Recipe) -> tuple[Manifold, Manifold, Manifold]:
    """Skin, cavity and the core that the flanges leave open."""
    depths = (0.0, WALL_MM, WALL_MM + FLANGE_MM)
    if recipe.is_voxel:
        return tuple(_voxel_body(recipe, depth) for depth in depths)  # type: ignore[return-value]
    divisions = max(2, round(np.log2(1.1 * recipe.radius_mm / recipe.edge_mm)) + 1)
    ball = trimesh.creation.icosphere(subdivisions=min(divisions, 7))
    direction = np.asarray(ball.vertices)
    radius = recipe.radius_mm * lumps(direction, recipe.seed)
    return tuple(  # type: ignore[return-value]
        as_manifold(direction * (radius - depth)[:, None], ball.faces) for depth in depths
    )


def _voxel_body(recipe: Recipe, depth: float) -> Manifold:
    reach = 1.35 * recipe.radius_mm
    ticks = np.arange(-reach, reach, recipe.edge_mm)
    grid = np.stack(np.meshgrid(ticks, ticks, ticks, indexing="ij"), axis=-1).reshape(-1, 3)
    distance = np.linalg.norm(grid, axis=1)
    surface = recipe.radius_mm * lumps(grid / np.maximum(distance, 1e-9)[:, None], recipe.seed)
    surface_field = (surface - depth - distance).reshape((len(ticks),) * 3)
    vertices, faces, *_ = marching_cubes(surface_field, 0.0, gradient_direction="ascent")
    solid = as_manifold(vertices * recipe.edge_mm - reach, faces)
    return solid if solid.volume() > 0 else as_manifold(vertices * recipe.edge_mm - reach, faces[:, ::-1])


def frame_of(normal: Array) -> Array:
    across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    across /= np.linalg.norm(across)
    return np.array([across, np.cross(normal, across), normal])


def placed(solid: Manifold, at: Array, axis: Array) -> Manifold:
    """A solid modelled along z from the origin, stood on a point along an axis."""
    frame = frame_of(axis / np.linalg.norm(axis))
    return solid.transform(np.column_stack((frame.T, at)))


def half_space(at: Array, normal: Array, size: float = 2000.0) -> Manifold:
    return placed(Manifold.cube((size, size, size), True).translate((0, 0, size / 2)), at, normal)


def slab(at: Array, normal: Array, low: float, high: float, size: float = 2000.0) -> Manifold:
    cube = Manifold.cube((size, size, high - low), True).translate((0, 0, (low + high) / 2))
    return placed(cube, at, normal)


def sculpted(recipe: Recipe) -> PartSet:
    """The figure with its truth; parts are named by the sides of the cuts they lie on."""
    skin, cavity, core = shell_bodies(recipe)
    planes = [(np.array(p, float), np.array(n, float) / np.linalg.norm(n)) for p, n in recipe.cuts]
    cells: dict[str, Manifold] = {"": skin}
    for at, normal in planes:
        half = recipe.gap_mm / 2
        cells = {
            name + letter: solid ^ half_space(at + sign * half * normal, sign * normal)
            for name, solid in cells.items()
            for letter, sign in (("a", -1.0), ("b", 1.0))
        }
    slabs = Manifold.batch_boolean(
        [slab(at, normal, -recipe.thick_mm[0], recipe.thick_mm[1]) for at, normal in planes], OpType.Add
    )
    keep = (slabs ^ cavity) - core
    solids = {
        name: (solid - cavity) + (solid ^ keep) for name, solid in cells.items() if (solid - cavity).volume() > 2000
    }
    bolts: dict[frozenset[str], list[TrueBolt]] = {}
    places = [
        (number, *place)
        for number in range(len(planes))
        for place in _places(recipe, planes, number, core, cavity, solids)
    ]
    for turn, (number, one, two, at) in enumerate(places):
        kind = recipe.kinds[turn % len(recipe.kinds)]
        _build(recipe, kind, solids, (one, two), at, planes[number][1], bolts, turn)
    joints = {}
    for number, (at, normal) in enumerate(planes):
        for one in solids:
            two = one[:number] + "b" + one[number + 1 :]
            if one[number] == "a" and two in solids:
                area, seam = area_and_seam(solids[one], solids[two], skin, at, normal, recipe.gap_mm / 2)
                pair = frozenset((one, two))
                if area > 0.5:
                    joints[pair] = TrueJoint(area_mm2=area, seam_mm=seam, bolts=tuple(bolts.get(pair, ())))
    return PartSet(solids=solids, joints=joints)


def area_and_seam(
    one: Manifold, two: Manifold, skin: Manifold, at: Array, normal: Array, half_gap: float
) -> tuple[float, float]:
    """Common area of two sections, and the length of its edge that lies on the skin."""
    beside = half_gap + 0.003
    common = as_polygon(section(one, at - beside * normal, normal)) & as_polygon(
        section(two, at + beside * normal, normal)
    )
    outer = as_polygon(section(skin, at, normal)).boundary
    # A skin that leans runs sideways over half the bond line by as much as that, and somewhat more.
    return float(common.area), float(common.boundary.intersection(outer.buffer(0.05 + 2.0 * half_gap)).length)


def as_polygon(cut: CrossSection) -> shapely.Geometry:
    rings = [ring for ring in cut.to_polygons() if len(ring) > 2]
    if not rings:
        return shapely.Polygon()
    return shapely.build_area(shapely.MultiLineString([np.vstack((ring, ring[:1])) for ring in rings])).buffer(0)


def _places(
    recipe: Recipe,
    planes: Sequence[tuple[Array, Array]],
    number: int,
    core: Manifold,
    cavity: Manifold,
    solids: Mapping[str, Manifold],
) -> Iterator[tuple[str, str, Array]]:
    """Places of holes along the middle of a flange, clear of other cuts: names of both parts and the point."""
    at, normal = planes[number]
    frame = frame_of(normal)
    middle = as_polygon(section(core, at, normal)).buffer(FLANGE_MM / 2)
    if middle.is_empty:
        return
    inner = as_polygon(section(cavity, at, normal)).buffer(-14.0)
    bare = as_polygon(section(core, at, normal)).buffer(11.0)
    ring = max(shapely.get_parts(middle), key=lambda part: part.area).exterior
    count = max(3, int(ring.length / recipe.spacing_mm))
    for k in range(count):
        flat = ring.interpolate((k + 0.37) / count, normalized=True)
        point = at + np.array([flat.x, flat.y]) @ frame[:2]
        if not inner.contains(flat) or bare.contains(flat):
            continue
        others = [
            abs((point - p) @ n) / max(np.linalg.norm(np.cross(n, normal)), 1e-9)
            for j, (p, n) in enumerate(planes)
            if j != number
        ]
        if others and min(others) < 16 + max(recipe.thick_mm) + recipe.hole_mm:
            continue
        sides = ["b" if (point - p) @ n > 0 else "a" for p, n in planes]
        one, two = list(sides), list(sides)
        one[number], two[number] = "a", "b"
        names = "".join(one), "".join(two)
        if names[0] in solids and names[1] in solids:
            yield (*names, point)


def _bar(recipe: Recipe, width: float, low: float, high: float, at: Array, axis: Array, sides: int = 0) -> Manifold:
    bar = Manifold.cylinder(high - low, width / 2, circular_segments=sides or recipe.sides).translate((0, 0, low))
    return placed(bar, at, axis)


def _build(
    recipe: Recipe,
    kind: str,
    solids: dict[str, Manifold],
    names: tuple[str, str],
    at: Array,
    normal: Array,
    bolts: dict[frozenset[str], list[TrueBolt]],
    turn: int,
) -> None:
    """Cut what stands at one place into both solids, and add the bolt it makes, if any."""
    one, two = names
    t1, t2 = recipe.thick_mm
    axis = _leaning(normal, recipe.tilt_deg, turn)
    hole, far = recipe.hole_mm, max(t1, t2) + 6.0
    bar = _bar(recipe, hole, -far, far, at, axis)
    if kind == "pin":
        solids[one] += _bar(recipe, 8.0, -2.0, 6.0, at, axis)
        solids[two] -= _bar(recipe, 8.3, -1.0, 7.5, at, axis)
        return
    solids[one] -= bar
    if kind == "drain":
        return
    seats, grip = ("open", "open"), (t1 + t2) / float(axis @ normal)
    if kind == "insert":
        solids[two] -= _bar(recipe, hole * 1.2, -1.0, t2 - 3.0, at, axis)
        seats, grip = ("open", "insert"), t1 + recipe.gap_mm / 2
    else:
        tool, loss, seat = _far_end(recipe, kind, bar, at, axis)
        solids[two] -= tool
        seats, grip = ("open", seat), grip - loss
    if recipe.is_spotfaced:
        depth = 1.6 * hole * np.tan(np.radians(recipe.tilt_deg)) + 1.0
        solids[one] -= _bar(recipe, 2.6 * hole, -far - 10, -t1 + depth, at, axis)
        solids[two] -= _bar(recipe, 2.6 * hole, t2 - depth, far + 10, at, axis)
        grip = t1 + t2 - 2 * depth
    bolts.setdefault(frozenset(names), []).append(
        TrueBolt(at_mm=tuple(at), axis=tuple(axis), hole_mm=hole, grip_mm=grip, through=names, seats=seats)
    )


def _leaning(normal: Array, tilt_deg: float, turn: int) -> Array:
    angle = np.radians(tilt_deg)
    return np.asarray(normal * np.cos(angle) + frame_of(normal)[turn % 2] * np.sin(angle))


def _far_end(recipe: Recipe, kind: str, bar: Manifold, at: Array, axis: Array) -> tuple[Manifold, float, str]:
    """What is cut out of the second part, by how much it shortens the grip, and the seat that it makes."""
    hole, t2 = recipe.hole_mm, recipe.thick_mm[1]
    far = max(recipe.thick_mm) + 6.0
    if kind == "plain":
        return bar, 0.0, "open"
    if kind == "counterbore":
        return bar + _bar(recipe, 2.2 * hole, t2 - 4.0, far, at, axis), 4.0, "open"
    if kind == "countersink":
        cone = Manifold.cylinder(hole / 2, hole / 2, hole, circular_segments=recipe.sides)
        return bar + placed(cone.translate((0, 0, t2 - hole / 2)), at, axis), 0.0, "open"
    if kind == "captive":
        flats = {4.5: 8.0, 5.5: 9.0, 6.6: 11.0, 9.0: 14.0, 11.0: 17.0}[hole]
        return bar + _bar(recipe, flats / np.cos(np.pi / 6), t2 - 5.0, far, at, axis, 6), 5.0, "captive"
    if kind == "slot":
        shift = 4.0 * frame_of(axis)[0]
        ends = [_bar(recipe, hole, -far, far, at + sign * shift, axis) for sign in (-1, 1)]
        return Manifold.batch_hull(ends), 0.0, "open"
    raise ValueError(kind)


CROSS = (((0, 0, 10), (0.25, 0.1, 1.0)), ((12, 0, 0), (1.0, 0.3, -0.15)))
FIGURES: dict[str, Recipe] = {
    "oblique": Recipe(seed=1),
    "voxel oblique": Recipe(seed=2, is_voxel=True, cuts=(((0, 0, 20), (0.5, -0.4, 1.0)),)),
    "crossing": Recipe(seed=3, cuts=CROSS, hole_mm=6.6, spacing_mm=70.0),
    "eight": Recipe(seed=4, cuts=(*CROSS, ((0, -8, 0), (-0.2, 1.0, 0.1))), hole_mm=6.6, spacing_mm=60.0, sides=24),
    "seats": Recipe(
        seed=5,
        cuts=(((0, 0, -30), (0.3, 0, 1.0)), ((0, 0, 60), (-0.2, 0.3, 1.0))),
        thick_mm=(12.0, 14.0),
        spacing_mm=60.0,
        kinds=("plain", "counterbore", "insert", "captive", "slot", "countersink", "pin", "drain"),
    ),
    "small holes": Recipe(
        seed=6, hole_mm=4.5, sides=16, thick_mm=(6.0, 6.0), spacing_mm=50.0, kinds=("plain", "captive", "insert")
    ),
    "gap": Recipe(seed=7, gap_mm=0.3, cuts=CROSS),
    "three bands": Recipe(
        seed=8, cuts=(((0, 0, -60), (0, 0.5, 1.0)), ((0, 0, 50), (0.6, 0, 1.0)), ((0, 0, 120), (0, 0, 1.0)))
    ),
    "tilted holes": Recipe(seed=9, tilt_deg=12.0, is_spotfaced=True, thick_mm=(14.0, 14.0)),
    "slightly tilted": Recipe(seed=10, tilt_deg=5.0),
    "dense": Recipe(seed=11, is_voxel=True, edge_mm=4.0, kinds=("plain", "counterbore")),
}
