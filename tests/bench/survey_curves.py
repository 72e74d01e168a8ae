"""Figures whose cuts are not flat: balls, cones, and waves in one or two directions, with the truth about them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import shapely
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

from tests.bench.survey_figures import (
    Array,
    Recipe,
    as_manifold,
    as_polygon,
    placed,
    shell_bodies,
)
from tests.survey.part_sets import PartSet, TrueBolt, TrueJoint, section


def curved_cut(
    *,
    seed: int = 21,
    edge_mm: float = 9.0,
    bow_mm: float = 420.0,
    hole: float = 9.0,
    sides: int = 32,
    facets: int = 160,
) -> PartSet:
    """A shell cut by a large ball instead of a plane; the flanges follow it and the holes stand square on it."""
    skin, cavity, core = shell_bodies(Recipe(seed=seed, edge_mm=edge_mm))
    middle = np.array([0.0, 0.0, -bow_mm + 15.0])
    ball = {offset: Manifold.sphere(bow_mm + offset, facets).translate(tuple(middle)) for offset in (-10.0, 0.0, 12.0)}
    keep = ((ball[12.0] - ball[-10.0]) ^ cavity) - core
    whole = (skin - cavity) + keep
    solids = {"a": whole ^ ball[0.0], "b": whole - ball[0.0]}
    bolts = []

    def height(places: Array) -> Array:
        return np.asarray(middle[2] + np.sqrt(bow_mm**2 - (places**2).sum(axis=1)))

    for angle in np.radians(np.arange(10.0, 360.0, 36.0)):
        at = on_flange(core, cavity, height, angle)
        axis = (at - middle) / np.linalg.norm(at - middle)
        tool = placed(Manifold.cylinder(40, hole / 2, circular_segments=sides).translate((0, 0, -20)), at, axis)
        solids = {name: solid - tool for name, solid in solids.items()}
        bolts.append(TrueBolt(at_mm=tuple(at), axis=tuple(axis), hole_mm=hole, grip_mm=22.0, through=("a", "b")))
    area = sum(area_from(solid, ball[0.0]) for solid in solids.values()) / 2
    joint = TrueJoint(area_mm2=area, seam_mm=seam_from(solids["a"], ball[0.0], skin), bolts=tuple(bolts))
    return PartSet(solids=solids, joints={frozenset(("a", "b")): joint})


def on_flange(core: Manifold, cavity: Manifold, height: Callable[[Array], Array], angle: float) -> Array:
    """A point on a cut, half way between core and cavity in a direction about the z axis.

    Parameters
    ----------
    core, cavity
        The bodies.
    height
        z of the cut at places (n, 2).
    angle
        Of the direction, radians.
    """
    along = np.array([np.cos(angle), np.sin(angle)])
    reach = np.linspace(20.0, 260.0, 2401)
    places = reach[:, None] * along
    points = np.column_stack((places, height(places)))
    normal = np.array([-along[1], along[0], 0.0])
    across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    across /= np.linalg.norm(across)
    flat = points @ np.array([across, np.cross(normal, across)]).T
    ends = []
    for solid in (core, cavity):
        cut = as_polygon(section(solid, np.zeros(3), normal))
        ends.append(points[shapely.contains_xy(cut, flat)][-1])
    return np.asarray((ends[0] + ends[1]) / 2)


def waved_cut(
    height: Callable[[Array], Array],
    *,
    seed: int = 31,
    pitch_mm: float = 6.0,
    hole: float = 9.0,
    sides: int = 32,
    thick_mm: float = 12.0,
    is_upright: bool = False,
) -> PartSet:
    """A shell cut by a height field; the flanges follow it, seats are faced square on each hole.

    Parameters
    ----------
    height
        z of the cut at places (n, 2), mm.
    seed
        Of the skin.
    pitch_mm
        Edge of the cut's triangles.
    hole, sides
        Diameter and corners of the holes.
    thick_mm
        Height of the flange on each side, along z.
    is_upright
        Whether the holes run along z instead of square on the cut.
    """
    skin, cavity, core = shell_bodies(Recipe(seed=seed))
    cut = {offset: height_field(height, offset, pitch_mm) for offset in (-thick_mm, 0.0, thick_mm)}
    keep = ((cut[thick_mm] - cut[-thick_mm]) ^ cavity) - core
    whole = (skin - cavity) + keep
    solids = {"a": whole ^ cut[0.0], "b": whole - cut[0.0]}
    bolts = []
    for angle in np.radians(np.arange(10.0, 360.0, 36.0)):
        at = on_flange(core, cavity, height, angle)
        step = 0.5 * np.eye(2)
        slope = np.diff(np.reshape(height(np.vstack((at[:2] - step, at[:2] + step))), (2, 2)), axis=0)[0]
        axis = np.array([0.0, 0, 1]) if is_upright else np.array([-slope[0], -slope[1], 1.0])
        axis /= np.linalg.norm(axis)
        tool = placed(Manifold.cylinder(60, hole / 2, circular_segments=sides, center=True), at, axis)
        seat = thick_mm * 0.6
        for letter, sign in (("a", -1.0), ("b", 1.0)):
            face = placed(Manifold.cylinder(40, 1.2 * hole, circular_segments=48), at + sign * seat * axis, sign * axis)
            solids[letter] = solids[letter] - tool - face
        bolts.append(TrueBolt(at_mm=tuple(at), axis=tuple(axis), hole_mm=hole, grip_mm=2 * seat, through=("a", "b")))
    area = sum(area_from(solid, cut[0.0]) for solid in solids.values()) / 2
    joint = TrueJoint(area_mm2=area, seam_mm=seam_from(solids["a"], cut[0.0], skin), bolts=tuple(bolts))
    return PartSet(solids=solids, joints={frozenset(("a", "b")): joint})


def height_field(height: Callable[[Array], Array], offset: float, pitch_mm: float, reach: float = 300.0) -> Manifold:
    """Everything below a height field, down to a floor far below."""
    count = int(2 * reach / pitch_mm)
    ticks = np.linspace(-reach, reach, count + 1)
    places = np.stack(np.meshgrid(ticks, ticks, indexing="ij"), axis=-1).reshape(-1, 2)
    top = np.column_stack((places, height(places) + offset))
    here = (np.arange(count)[:, None] * (count + 1) + np.arange(count)).ravel()
    over = here + count + 1
    faces = np.vstack((np.column_stack((here, over, over + 1)), np.column_stack((here, over + 1, here + 1))))
    below = top * (1, 1, 0) - (0, 0, 2 * reach)
    edge = np.concatenate(
        (
            np.arange(0, count * (count + 1), count + 1),
            count * (count + 1) + np.arange(count),
            np.arange((count + 1) ** 2 - 1, count, -(count + 1)),
            np.arange(count, 0, -1),
        )
    )
    after, size = np.roll(edge, -1), len(top)
    walls = np.vstack(
        (np.column_stack((edge, edge + size, after)), np.column_stack((after, edge + size, after + size)))
    )
    return as_manifold(np.vstack((top, below)), np.vstack((faces, faces[:, ::-1] + size, walls)))


def seam_from(solid: Manifold, tool: Manifold, skin: Manifold) -> float:
    """Length of the edges of a solid between the faces of a cutting tool and those of the skin."""
    vertices, faces = arrays_of(solid)
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    ids = np.tile(_origins(solid), 3)
    ends = {}
    for kind, made_by in (("cut", tool), ("skin", skin)):
        some = edges[np.isin(ids, np.asarray(made_by.to_mesh().run_original_id))]
        ends[kind] = set(map(tuple, some.tolist()))
    shared = np.array([edge for edge in sorted(ends["cut"]) if edge[::-1] in ends["skin"]])
    return float(np.linalg.norm(vertices[shared[:, 0]] - vertices[shared[:, 1]], axis=1).sum())


def arrays_of(solid: Manifold) -> tuple[Array, NDArray[np.int64]]:
    """Vertices, merged where manifold3d lists them twice, and faces."""
    raw = solid.to_mesh()
    vertices = np.asarray(raw.vert_properties, float)[:, :3]
    target = np.arange(len(vertices))
    target[np.asarray(raw.merge_from_vert, np.int64)] = np.asarray(raw.merge_to_vert, np.int64)
    return vertices, target[np.asarray(raw.tri_verts, np.int64)]


def _origins(solid: Manifold) -> NDArray[np.int64]:
    """For each triangle the solid it comes from."""
    raw = solid.to_mesh()
    counts = (np.diff(np.asarray(raw.run_index, np.int64)) // 3).tolist()
    return np.repeat(np.asarray(raw.run_original_id, np.int64), counts)


def area_from(solid: Manifold, tool: Manifold) -> float:
    """Surface of a solid that was cut by a tool, by the origin that manifold3d keeps of each triangle.

    What vanishes when both solids are united is no truth: near holes the union leaves slivers of both faces standing.
    """
    raw = solid.to_mesh()
    corners = np.asarray(raw.vert_properties, float)[:, :3][np.asarray(raw.tri_verts, np.int64)]
    areas = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    return float(areas[np.isin(_origins(solid), np.asarray(tool.to_mesh().run_original_id))].sum())


def cone_area(radii: tuple[float, float], rise: float, facets: int, holes: tuple[int, float, float]) -> float:
    """Closed form: trapezia of a facetted cone less holes, given by number, diameter and cosine on the facet.

    A hole reaches a few millimetres into the facets beside its own, which lean by less than 4 degrees to it.
    """
    low, high = radii
    slant = np.hypot((high - low) * np.cos(np.pi / facets), rise * (high - low))
    count, width, cosine = holes
    mouth = 32 / 2 * (width / 2) ** 2 * np.sin(2 * np.pi / 32) / cosine
    return float(facets * np.sin(np.pi / facets) * (low + high) * slant - count * mouth)


def bolted_cone(*, slope_deg: float = 30.0, facets: int = 96, hole: float = 9.0, is_square: bool = True) -> PartSet:
    """A conical flange: lower and upper ring meet on a cone; holes square on the cone or along its axis."""
    rise = np.tan(np.radians(slope_deg))
    low, high, wall = 90.0, 150.0, 14.0

    def cone(shift: float) -> Manifold:
        profile = CrossSection(
            [[(0, -200), (high, -200), (high, shift + rise * (high - low)), (low, shift), (0, shift)]]
        )
        return profile.revolve(facets)

    ring = Manifold.cylinder(400, high, circular_segments=facets, center=True)
    ring -= Manifold.cylinder(500, low, circular_segments=facets, center=True)
    solids = {"a": (cone(0.0) - cone(-wall)) ^ ring, "b": (cone(wall) - cone(0.0)) ^ ring}
    bolts = []
    thick = wall * np.cos(np.radians(slope_deg))
    for angle in 2 * np.pi * (np.arange(8) + 0.5) / 8 + np.pi / facets:
        out = np.array([np.cos(angle), np.sin(angle), 0.0])
        reach = 120.0 * np.cos(np.pi / facets) if is_square else 120.0
        at = out * reach + np.array([0, 0, rise * (reach / np.cos(np.pi / facets) - low)])
        square = np.array([0, 0, 1.0]) * np.cos(np.radians(slope_deg)) - out * np.sin(np.radians(slope_deg))
        axis = square if is_square else np.array([0.0, 0, 1.0])
        tool = placed(Manifold.cylinder(80, hole / 2, circular_segments=32, center=True), at, axis)
        solids = {name: solid - tool for name, solid in solids.items()}
        grip = 2 * thick if is_square else 2 * wall
        bolts.append(TrueBolt(at_mm=tuple(at), axis=tuple(axis), hole_mm=hole, grip_mm=grip, through=("a", "b")))
    cosine = 1.0 if is_square else np.cos(np.radians(slope_deg))
    area = cone_area((low, high), rise, facets, (8, hole, cosine))
    joint = TrueJoint(area_mm2=area, seam_mm=None, bolts=tuple(bolts))
    return PartSet(solids=solids, joints={frozenset(("a", "b")): joint})


def rolling(places: Array, *, depth: float, long_mm: float, turn_deg: float = 25.0) -> Array:
    """A wave in one direction: a cut of single curvature."""
    turn = np.radians(turn_deg)
    return np.asarray(depth * np.sin(2 * np.pi / long_mm * (places @ (np.cos(turn), np.sin(turn)))))


def hilly(places: Array, *, depth: float, long_mm: float) -> Array:
    """Waves in two directions on a slope: a free-form cut."""
    x, y = (2 * np.pi / long_mm * places).T
    return np.asarray(depth * (np.sin(x + 0.4) * np.cos(0.8 * y) + 0.5 * np.sin(1.7 * y - 0.9)) + 0.2 * places[:, 0])


CURVED: dict[str, Callable[[], PartSet]] = {
    "ball cut": curved_cut,
    "fine ball cut": partial(curved_cut, seed=22, facets=400, hole=6.6),
    "bolted cone": bolted_cone,
    "cone, upright holes": partial(bolted_cone, is_square=False, slope_deg=20.0),
    "rolling cut": partial(waved_cut, partial(rolling, depth=14.0, long_mm=260.0)),
    "fine rolling cut": partial(
        waved_cut, partial(rolling, depth=10.0, long_mm=180.0), seed=32, pitch_mm=2.5, hole=6.6
    ),
    "hilly cut": partial(waved_cut, partial(hilly, depth=9.0, long_mm=220.0), seed=33, pitch_mm=5.0),
    "hilly, upright holes": partial(
        waved_cut, partial(hilly, depth=5.0, long_mm=200.0), seed=34, pitch_mm=4.0, is_upright=True
    ),
}
