"""Is there a round hole where a mouth is not round? A place and a direction in, the circle of its wall out.

Noise tears the rim of a mouth, and re-meshing cuts its edge off, so that the loop that is left of it lies on no circle.
The wall below is still there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.circles import ROUND_MM, axis_frame, fit_circle
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.walls import wall_axis

_SECTORS, _LEAST_SECTORS = 12, 10
_STEEP, _INWARD = 0.35, -0.8
"""How squarely a face of the wall stands along the axis and looks at it; a chamfer round the mouth does not."""
_DEEP_SHARE, _DEEP_MM = 1.0, 3.0
"""How deep below the mouth the wall is looked at: this share of the loop's reach and as much more."""
_NARROWEST = 0.45
"""Least radius of the wall over the reach of its mouth: an edge of a third of the diameter may be cut off."""
_UNROUND = 0.08
"""Spread of a wall over its radius from which it is no circle, however torn: a square has 0.1."""
_ROUNDS = 4
_LEAST_SHARE = 0.5
"""Share of the corners of the wall that have to lie on one circle: fewer are a square or a counterbore's step."""
_SURE = 4.0
_LEAST_TILT_RAD = np.radians(0.3)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoundWall:
    """A cylinder: a point on its axis, the axis, out of the body, its radius, and the spread of its corners."""

    centre_mm: NDArray[np.float64]
    axis: NDArray[np.float64]
    radius_mm: float
    spread_mm: float


def round_wall(
    mesh: Mesh, centre: NDArray[np.float64], reach_mm: float, normal: NDArray[np.float64]
) -> RoundWall | None:
    """The round wall of a hole below a mouth; None where there is none all round.

    Parameters
    ----------
    mesh
        In mm.
    centre : (3,) float64
        Middle of the mouth, roughly.
    reach_mm
        Largest distance of the rim of the mouth from it.
    normal : (3,) float64
        Unit normal of the surface round the mouth, out of the body.
    """
    faces = wall_faces(mesh, centre, reach_mm, normal, _INWARD)
    if len(faces) < _LEAST_SECTORS:
        return None
    wall = wall_axis(mesh, faces, normal)
    axis = normal
    if wall is not None:
        lean = float(np.arcsin(min(1.0, float(np.linalg.norm(np.cross(wall.axis, normal))))))
        axis = wall.axis if lean > max(_LEAST_TILT_RAD, _SURE * wall.doubt_rad) else normal
    frame = axis_frame(axis)
    points = (mesh.vertices[np.unique(mesh.faces[faces])] - centre) @ frame[:2].T
    count = len(points)
    for _ in range(_ROUNDS):
        if len(points) < max(_LEAST_SECTORS, _LEAST_SHARE * count):
            return None
        middle, radius, off = fit_circle(points)
        is_on = np.abs(off) <= ROUND_MM
        if np.all(is_on):
            break
        # Steps of a counterbore and corners of a torn rim stand out.
        if np.count_nonzero(is_on) < len(points) / 2:
            is_on = np.abs(off) <= np.median(np.abs(off))
        points = points[is_on]
    else:
        return None
    is_of_mouth = _NARROWEST * reach_mm <= radius <= reach_mm + ROUND_MM
    if len(np.unique(_sector(points - middle))) < _LEAST_SECTORS or not is_of_mouth:
        return None
    return RoundWall(centre_mm=centre + middle @ frame[:2], axis=axis, radius_mm=radius, spread_mm=float(off.std()))


def wall_faces(
    mesh: Mesh, centre: NDArray[np.float64], reach_mm: float, normal: NDArray[np.float64], inward: float = -0.2
) -> NDArray[np.int64]:
    """Faces below a mouth that stand along its normal and look at its axis.

    Parameters
    ----------
    mesh, centre, reach_mm, normal
        As for `round_wall`.
    inward
        Cosine between a face's normal and the way from the axis to it, at most.
    """
    deep = _DEEP_SHARE * reach_mm + _DEEP_MM
    low, high = (sign * (reach_mm + deep) for sign in (-1.0, 1.0))
    is_near = np.ones(len(mesh.vertices), dtype=bool)
    for axis in range(3):
        is_near &= (mesh.vertices[:, axis] > centre[axis] + low) & (mesh.vertices[:, axis] < centre[axis] + high)
    faces = np.flatnonzero(is_near[mesh.faces].any(axis=1))
    middle = mesh.vertices[mesh.faces[faces]].mean(axis=1) - centre
    along = middle @ normal
    outward = middle - along[:, None] * normal
    away = np.linalg.norm(outward, axis=1)
    is_inside = (along < 0.0) & (along > -deep) & (away < reach_mm + ROUND_MM)
    faces, outward, away = faces[is_inside], outward[is_inside], away[is_inside]
    normals, _ = normals_and_heights(mesh, faces)
    is_wall = np.abs(normals @ normal) < _STEEP
    is_wall &= np.einsum("ij,ij->i", normals, outward) < inward * away
    return np.asarray(faces[is_wall])


def is_of_other_form(
    mesh: Mesh, faces: NDArray[np.int64], centre: NDArray[np.float64], across: NDArray[np.float64]
) -> bool:
    """Whether wall faces stand on all sides of a place, plainly not on a circle.

    Parameters
    ----------
    mesh, centre
        As for `round_wall`.
    faces : (k,) int64
        Of the wall.
    across : (2, 3) float64
        Unit vectors in whose plane that is seen.
    """
    middle = (mesh.vertices[mesh.faces[faces]].mean(axis=1) - centre) @ across.T
    if len(np.unique(_sector(middle))) < _LEAST_SECTORS:
        return False
    _, radius, off = fit_circle(middle)
    return float(off.std()) > _UNROUND * radius


def _sector(points: NDArray[np.float64]) -> NDArray[np.int64]:
    angle = np.arctan2(points[:, 1], points[:, 0])
    return np.asarray((angle / (2 * np.pi) * _SECTORS).astype(np.int64) % _SECTORS)


def inner_corners(mesh: Mesh, faces: NDArray[np.int64]) -> Points:
    """Vertices of a set of faces that no other face touches, (k, 3): those on a wall, not on its cut off edge."""
    is_of_set = np.zeros(len(mesh.vertices), dtype=bool)
    is_of_set[mesh.faces[faces]] = True
    is_other: NDArray[np.bool_] = np.any(is_of_set[mesh.faces], axis=1)
    is_other[faces] = False
    is_of_set[mesh.faces[is_other]] = False
    return np.asarray(mesh.vertices[is_of_set])
