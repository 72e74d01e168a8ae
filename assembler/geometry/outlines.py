"""What is the outline of a flat region, and which of its openings are round? Faces in, polygons and openings out.

One of the two modules that own shapely (with `facing`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.flats import Flat
from assembler.geometry.healing import rim_loops
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.rims import EdgeIndex
from assembler.geometry.walls import axis_frame, borders_wall, drilled_axis

_LEAST_CORNERS = 6
_WIDEST_TORN_DEG = 130.0
"""Widest gap in the rim of a hole that is torn but still told."""
_ROUND_MM = 0.25
"""Largest distance of a rim vertex from its circle: five standard deviations of 0.05 mm noise."""
LARGEST_HOLE_MM = 60.0


class Shape(StrEnum):
    """Form of an opening in a flat region."""

    ROUND = "round"
    SLOT = "slot"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """An inner loop of a flat region.

    Parameters
    ----------
    centre_mm : (3,) float64
        In the plane of the region.
    width_mm
        Diameter of the true circle, or width of the slot; mean width of another form.
    length_mm
        Overall length of a slot; the width otherwise.
    along : (3,) float64
        Unit vector along a slot; zeros otherwise.
    shape
        Form.
    spread_mm
        Standard deviation of the rim from that form.
    axis : (3,) float64
        Unit vector out of the body along which the hole was drilled: the normal of its region, or another.
    """

    centre_mm: NDArray[np.float64]
    width_mm: float
    length_mm: float
    along: NDArray[np.float64]
    shape: Shape
    spread_mm: float
    axis: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """A flat region as a polygon in its own plane.

    Parameters
    ----------
    flat
        The region.
    polygon
        Shapely geometry in the coordinates of `flat.frame` about `flat.origin`, mm.
    openings
        Inner loops, those with a bolt's size only.
    rim : (k, 2, 2) float64
        Edges of the region in its own plane.
    rim_beyond : (k,) int64
        Face of the mesh on the other side of each edge; -1 where there is none.
    low_mm, high_mm : (3,) float64
        Box of the region.
    """

    flat: Flat
    polygon: BaseGeometry
    openings: tuple[Opening, ...]
    rim: NDArray[np.float64]
    rim_beyond: NDArray[np.int64]
    low_mm: NDArray[np.float64]
    high_mm: NDArray[np.float64]


def outlines_of(mesh: Mesh, flats: Sequence[Flat]) -> tuple[Outline, ...]:
    """Polygon and openings of each flat region of a mesh."""
    if not flats:
        return ()
    index = EdgeIndex(mesh, np.concatenate([flat.faces for flat in flats]))
    return tuple(_outline(mesh, flat, index) for flat in flats)


def _outline(mesh: Mesh, flat: Flat, index: EdgeIndex) -> Outline:
    faces = mesh.faces[flat.faces]
    rim, beyond = index.rim_of(flat.faces)
    frame = flat.frame
    chains = rim_loops(rim)
    loops = [(mesh.vertices[chain] - flat.origin) @ frame.T for chain in chains]
    polygon = _polygon(loops)
    if polygon is None or abs(polygon.area - _projected_area(mesh, flat)) > 0.02 * polygon.area + 1.0:
        polygon = _union(mesh, flat)
    used = mesh.vertices[np.unique(faces)]
    behind = dict(zip(map(tuple, rim.tolist()), beyond.tolist(), strict=True))
    openings: list[Opening] = []
    for chain, loop in zip(chains, loops, strict=True):
        opening = _opening(mesh, chain, loop, flat, behind) if _signed_area(loop) < 0 else None
        if opening is None or opening.shape is Shape.OTHER:
            openings += _torn(mesh, chain, flat, behind)
        if opening is not None:
            openings.append(opening)
    return Outline(
        flat=flat,
        polygon=polygon,
        openings=tuple(openings),
        rim=(mesh.vertices[rim] - flat.origin) @ frame.T,
        rim_beyond=beyond,
        low_mm=used.min(axis=0),
        high_mm=used.max(axis=0),
    )


def _polygon(loops: list[Points]) -> BaseGeometry | None:
    """Polygon between the loops by the even-odd rule; None where the loops cross each other."""
    if not loops:
        return None
    lines = shapely.MultiLineString([np.vstack((loop, loop[:1])) for loop in loops])
    area = shapely.build_area(lines)
    return area if not area.is_empty and area.is_valid else None


def _union(mesh: Mesh, flat: Flat) -> BaseGeometry:
    corners = (mesh.vertices[mesh.faces[flat.faces]] - flat.origin) @ flat.frame.T
    triangles = shapely.polygons(corners)
    return shapely.union_all(triangles[shapely.is_valid(triangles)])


def _projected_area(mesh: Mesh, flat: Flat) -> float:
    corners = (mesh.vertices[mesh.faces[flat.faces]] - flat.origin) @ flat.frame.T
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum() / 2)


def _signed_area(loop: Points) -> float:
    following = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * following[:, 1] - loop[:, 1] * following[:, 0]).sum() / 2)


def _opening(
    mesh: Mesh, chain: list[int], loop: Points, flat: Flat, behind: Mapping[tuple[int, int], int]
) -> Opening | None:
    size = loop.max(axis=0) - loop.min(axis=0)
    if size.max() > 3 * LARGEST_HOLE_MM or size.min() < 1.0:
        return None
    if size.max() <= LARGEST_HOLE_MM:
        beyond = np.array([behind[edge] for edge in zip(chain, [*chain[1:], chain[0]], strict=True)])
        axis = drilled_axis(mesh, mesh.vertices[chain], beyond, flat.normal)
        if axis is not flat.normal and (askew := _askew(mesh.vertices[chain], axis, flat)) is not None:
            return askew
    corners = true_corners(loop)
    found = _round(corners, flat) or _slot(corners, flat)
    if found is not None:
        return found
    width = 2 * float(np.sqrt(abs(_signed_area(loop)) / np.pi))
    return Opening(
        centre_mm=flat.origin + loop.mean(axis=0) @ flat.frame,
        width_mm=width,
        length_mm=width,
        along=np.zeros(3),
        shape=Shape.OTHER,
        spread_mm=0.0,
        axis=flat.normal,
    )


def _torn(mesh: Mesh, chain: list[int], flat: Flat, behind: Mapping[tuple[int, int], int]) -> list[Opening]:
    """Round holes that missing or folded faces have joined to another edge: runs of edges that border a round wall."""
    edges = np.array(list(zip(chain, [*chain[1:], chain[0]], strict=True)))
    beyond = np.array([behind[one, two] for one, two in edges.tolist()])
    is_wall = borders_wall(mesh, beyond, flat.normal)
    if np.all(is_wall) or np.count_nonzero(is_wall) < _LEAST_CORNERS:
        return []
    first = int(np.argmin(is_wall))
    is_wall, edges, beyond = (np.roll(values, -first, axis=0) for values in (is_wall, edges, beyond))
    found = []
    for run in np.split(np.arange(len(edges)), np.flatnonzero(np.diff(is_wall)) + 1):
        if not is_wall[run[0]] or len(run) < _LEAST_CORNERS:
            continue
        # Cheapest first: most runs are outer edges of the region.
        rim = mesh.vertices[np.append(edges[run, 0], edges[run[-1], 1])]
        if not 1.0 < float(np.ptp(rim, axis=0).max()) < LARGEST_HOLE_MM:
            continue
        seen = _torn_mouth(rim, drilled_axis(mesh, rim, beyond[run], flat.normal), flat)
        if seen is None:
            continue
        normals, _ = normals_and_heights(mesh, beyond[run])
        if np.mean(np.einsum("ij,ij->i", normals, seen.centre_mm - rim[:-1]) > 0) > 0.8:
            found.append(seen)
    return found


def _torn_mouth(rim: Points, axis: NDArray[np.float64], flat: Flat) -> Opening | None:
    if axis is not flat.normal:
        return _askew(rim, axis, flat, _WIDEST_TORN_DEG)
    circle = _circle((rim - flat.origin) @ flat.frame.T, _WIDEST_TORN_DEG)
    return None if circle is None else _round_of(circle, flat)


def _askew(rim: Points, axis: NDArray[np.float64], flat: Flat, widest_deg: float = 75.0) -> Opening | None:
    """The mouth of a hole that does not stand square on its region, its centre in the region's plane."""
    seen = round_opening(rim, axis, widest_deg)
    if seen is None:
        return None
    shift = float((flat.origin - seen.centre_mm) @ flat.normal) / float(axis @ flat.normal)
    return replace(seen, centre_mm=seen.centre_mm + shift * axis)


def round_opening(
    rim: Points, axis: NDArray[np.float64], widest_deg: float = 75.0, *, is_torn: bool = False
) -> Opening | None:
    """The mouth of a drilled hole, seen along its axis; None where it is not round.

    Parameters
    ----------
    rim : (k, 3) float64, mm
        Corners of the mouth, in order, on a surface of any form.
    axis : (3,) float64
        Unit vector, out of the body.
    widest_deg
        Widest gap between neighbouring corners.
    is_torn
        Whether some corners may lie beside the mouth: up to a quarter of them is left out.
    """
    middle = rim.mean(axis=0)
    frame = axis_frame(axis)
    corners = true_corners((rim - middle) @ frame[:2].T)
    if is_torn:
        corners = _without_strays(corners)
    circle = _circle(corners, widest_deg)
    if circle is None:
        return None
    centre, radius, spread = circle
    return Opening(
        centre_mm=middle + centre @ frame[:2],
        width_mm=2 * radius,
        length_mm=2 * radius,
        along=np.zeros(3),
        shape=Shape.ROUND,
        spread_mm=spread,
        axis=axis,
    )


def true_corners(loop: Points) -> Points:
    """The loop without vertices that merely divide a straight edge.

    Re-meshing puts vertices on the chords of a circle; only the corners of the original polygon lie on the circle.
    Where noise hides the corners, the loop is returned whole.

    Parameters
    ----------
    loop : (n, 2) float64, mm
    """
    before, after = np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0)
    chord = after - before
    length = np.maximum(np.linalg.norm(chord, axis=1), 1e-12)
    rise = np.abs(chord[:, 0] * (loop - before)[:, 1] - chord[:, 1] * (loop - before)[:, 0]) / length
    corners: Points = loop[rise > 0.002]
    if len(corners) < _LEAST_CORNERS:
        return loop
    return corners


def fit_circle(points: Points) -> tuple[NDArray[np.float64], float, NDArray[np.float64]]:
    """Least-squares circle through points in a plane.

    Parameters
    ----------
    points : (n, 2) float64, mm
        At least three.

    Returns
    -------
    tuple
        Centre (2,), radius, and the distance of each point from the circle.

    References
    ----------
    I. Kasa, A circle fitting procedure and its error analysis, IEEE Trans. Instrum. Meas. 25 (1976), as a linear
    system; unbiased enough here because the points go all the way round.
    """
    middle = points.mean(axis=0)
    local = points - middle
    matrix = np.column_stack((2 * local, np.ones(len(local))))
    solution, *_ = np.linalg.lstsq(matrix, (local**2).sum(axis=1), rcond=None)
    centre = solution[:2]
    radius = float(np.sqrt(max(solution[2] + centre @ centre, 0.0)))
    return middle + centre, radius, np.linalg.norm(local - centre, axis=1) - radius


def _circle(corners: Points, widest_deg: float = 75.0) -> tuple[NDArray[np.float64], float, float] | None:
    """Centre, radius and spread of a circle through the corners of a rim; None where they are not round."""
    if len(corners) < _LEAST_CORNERS:
        return None
    centre, radius, distance = fit_circle(corners)
    angle = np.sort(np.arctan2(*(corners - centre).T[::-1]))
    widest = np.diff(np.append(angle, angle[0] + 2 * np.pi)).max()
    if not 0.5 < radius < LARGEST_HOLE_MM or np.abs(distance).max() > _ROUND_MM or widest > np.radians(widest_deg):
        return None
    return centre, radius, float(distance.std())


def _without_strays(corners: Points) -> Points:
    """Corners without those that stand out from the circle of the others, a quarter of them at most."""
    kept = corners
    for _ in range(len(corners) // 4):
        if len(kept) < _LEAST_CORNERS:
            break
        away = np.abs(fit_circle(kept)[2])
        worst = int(away.argmax())
        if away[worst] <= _ROUND_MM:
            break
        kept = np.delete(kept, worst, axis=0)
    return kept


def _round(corners: Points, flat: Flat) -> Opening | None:
    circle = _circle(corners)
    return None if circle is None else _round_of(circle, flat)


def _round_of(circle: tuple[NDArray[np.float64], float, float], flat: Flat) -> Opening:
    centre, radius, spread = circle
    return Opening(
        centre_mm=flat.origin + centre @ flat.frame,
        width_mm=2 * radius,
        length_mm=2 * radius,
        along=np.zeros(3),
        shape=Shape.ROUND,
        spread_mm=spread,
        axis=flat.normal,
    )


def _slot(corners: Points, flat: Flat) -> Opening | None:
    """A slot: every corner at half the width from a straight middle line."""
    if len(corners) < _LEAST_CORNERS:
        return None
    box = shapely.minimum_rotated_rectangle(shapely.multipoints(corners))
    ring = shapely.get_coordinates(box)
    if len(ring) < 5:
        return None
    sides = ring[1:3] - ring[:2]
    lengths = np.linalg.norm(sides, axis=1)
    length, width = float(lengths.max()), float(lengths.min())
    along = sides[int(lengths.argmax())] / length
    centre = ring[:4].mean(axis=0)
    local = (corners - centre) @ np.array([along, [-along[1], along[0]]]).T
    past = np.maximum(np.abs(local[:, 0]) - (length - width) / 2, 0)
    distance = np.hypot(past, local[:, 1]) - width / 2
    if np.abs(distance).max() > 2 * _ROUND_MM or width < 1.0 or length - width < 0.5:
        return None
    return Opening(
        centre_mm=flat.origin + centre @ flat.frame,
        width_mm=width,
        length_mm=length,
        along=along @ flat.frame,
        shape=Shape.SLOT,
        spread_mm=float(distance.std()),
        axis=flat.normal,
    )
