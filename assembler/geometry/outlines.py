"""What is the outline of a flat region, and which of its openings are round? Faces in, polygons and openings out.

One of the two modules that own shapely (with `facing`).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.flats import Flat
from assembler.geometry.healing import rim_loops
from assembler.geometry.rims import rim_of

_LEAST_CORNERS = 6
_ROUND_MM = 0.25
"""Largest distance of a rim vertex from its circle: five standard deviations of 0.05 mm noise."""
_LARGEST_HOLE_MM = 60.0


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
    """

    centre_mm: NDArray[np.float64]
    width_mm: float
    length_mm: float
    along: NDArray[np.float64]
    shape: Shape
    spread_mm: float


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


def outline_of(mesh: Mesh, flat: Flat) -> Outline:
    """Polygon and openings of a flat region."""
    faces = mesh.faces[flat.faces]
    rim, beyond = rim_of(mesh, flat.faces)
    frame = flat.frame
    loops = [(mesh.vertices[loop] - flat.origin) @ frame.T for loop in rim_loops(rim)]
    polygon = _polygon(loops)
    if polygon is None or abs(polygon.area - _projected_area(mesh, flat)) > 0.02 * polygon.area + 1.0:
        polygon = _union(mesh, flat)
    used = mesh.vertices[np.unique(faces)]
    openings = [_opening(loop, flat) for loop in loops if _signed_area(loop) < 0]
    return Outline(
        flat=flat,
        polygon=polygon,
        openings=tuple(opening for opening in openings if opening is not None),
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


def _opening(loop: Points, flat: Flat) -> Opening | None:
    size = loop.max(axis=0) - loop.min(axis=0)
    if size.max() > 3 * _LARGEST_HOLE_MM or size.min() < 1.0:
        return None
    corners = true_corners(loop)
    found = _round(corners, loop, flat) or _slot(corners, flat)
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


def _round(corners: Points, loop: Points, flat: Flat) -> Opening | None:
    if len(corners) < _LEAST_CORNERS:
        return None
    centre, radius, distance = fit_circle(corners)
    angle = np.sort(np.arctan2(*(corners - centre).T[::-1]))
    widest = np.diff(np.append(angle, angle[0] + 2 * np.pi)).max()
    if not 0.5 < radius < _LARGEST_HOLE_MM or np.abs(distance).max() > _ROUND_MM or widest > np.radians(75):
        return None
    return Opening(
        centre_mm=flat.origin + centre @ flat.frame,
        width_mm=2 * radius,
        length_mm=2 * radius,
        along=np.zeros(3),
        shape=Shape.ROUND,
        spread_mm=float(distance.std()),
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
    )
