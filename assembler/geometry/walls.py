"""Along which axis was a hole drilled? Its mouth and the faces behind it in, the axis out.

Most holes stand square on their flange, and the flange's normal is known far better than the wall of a short hole. The
wall decides only where it differs from the normal by clearly more than noise explains.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.circles import axis_frame
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.solids import row_cross

_ROUGH = 0.02
"""Mean square of the wall normals along the axis: more is a cone or a torn rim."""
_FLAT_WALL = 0.12
"""Least mean square across: less is one flat wall."""
_LEAST_TILT_RAD = np.radians(0.15)
_SURE = 4.0
_LARGEST_TILT_RAD = np.radians(50.0)
_LEAST_FACES = 6
_STEEP = np.cos(np.radians(50.0))
_NEEDLE_MM = 0.15


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WallAxis:
    """Axis of a wall, and how far noise may turn it."""

    axis: NDArray[np.float64]
    doubt_rad: float


def wall_axis(mesh: Mesh, faces: NDArray[np.int64], like: NDArray[np.float64]) -> WallAxis | None:
    """Axis of a cylindrical wall from the normals of its faces; None where they are no cylinder.

    Parameters
    ----------
    mesh
        In mm.
    faces : (k,) int64
        Faces of the wall, those along its rim at least.
    like : (3,) float64
        Unit vector that the axis shall point along rather than against.
    """
    faces = faces[normals_and_heights(mesh, faces)[1] > _NEEDLE_MM / 2]
    if len(faces) < _LEAST_FACES:
        return None
    a, b, c = (mesh.vertices[mesh.faces[faces, corner]] for corner in range(3))
    cross = row_cross(b - a, c - a)
    area = np.linalg.norm(cross, axis=1)
    if float(area.sum()) <= 0:
        return None
    normals = cross / np.maximum(area, 1e-30)[:, None]
    values, vectors = np.linalg.eigh((normals * (area / area.sum())[:, None]).T @ normals)
    axis = vectors[:, 0] if vectors[:, 0] @ like >= 0 else -vectors[:, 0]
    if values[0] > _ROUGH or values[1] < _FLAT_WALL or axis @ like < np.cos(_LARGEST_TILT_RAD):
        return None
    effective = float(area.sum() ** 2 / (area**2).sum())
    return WallAxis(axis=axis, doubt_rad=float(np.sqrt(max(values[0], 0.0) / (effective * values[1]))))


def drilled_axis(
    mesh: Mesh, rim: Points, beyond: NDArray[np.int64], normal: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Axis of the hole behind a mouth in a flat face: its normal unless the wall clearly says otherwise.

    Parameters
    ----------
    mesh
        In mm.
    rim : (k, 3) float64
        Corners of the mouth.
    beyond : (k,) int64
        Faces beyond the edges of the mouth; -1 for none.
    normal : (3,) float64
        Unit normal of the flat face, outward.
    """
    first = wall_axis(mesh, np.unique(beyond[beyond >= 0]), normal)
    if first is None or _angle(first.axis, normal) < max(_LEAST_TILT_RAD, _SURE / 2 * first.doubt_rad):
        return normal
    # The corners tell more under noise; the normals of a clean wall are exact, on a mesh divided anew too.
    refined = _fitted(mesh, rim, first.axis)
    best = min((wall for wall in (first, refined) if wall is not None), key=lambda wall: wall.doubt_rad)
    is_square = _angle(best.axis, normal) < max(_LEAST_TILT_RAD, _SURE * best.doubt_rad)
    return normal if is_square else best.axis


def borders_wall(mesh: Mesh, beyond: NDArray[np.int64], normal: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each edge of a rim borders a wall: beyond it lies a face, no needle, that stands up from the region.

    Parameters
    ----------
    mesh
        In mm.
    beyond : (k,) int64
        Face beyond each edge; -1 for none.
    normal : (3,) float64
        Unit normal of the region inside the rim.
    """
    normals, heights = normals_and_heights(mesh, np.maximum(beyond, 0))
    is_steep = np.abs(normals @ normal) < _STEEP
    return np.asarray((beyond >= 0) & (heights > _NEEDLE_MM) & is_steep)


def _angle(one: NDArray[np.float64], two: NDArray[np.float64]) -> float:
    return float(np.arcsin(min(1.0, float(np.linalg.norm(np.cross(one, two))))))


def _fitted(mesh: Mesh, rim: Points, axis: NDArray[np.float64]) -> WallAxis | None:
    """Least-squares cylinder through the corners of the wall near an axis, started from the mouth."""
    frame = axis_frame(axis)
    local = (mesh.vertices - rim.mean(axis=0)) @ frame.T
    mouth = (rim - rim.mean(axis=0)) @ frame.T
    centre = (mouth[:, :2].max(axis=0) + mouth[:, :2].min(axis=0)) / 2
    radius = float(np.median(np.linalg.norm(mouth[:, :2] - centre, axis=1)))
    reach = np.linalg.norm(local[:, :2] - centre, axis=1)
    slack = 0.3 + 0.05 * radius
    depth = -local[:, 2]
    lowest, highest = -float(mouth[:, 2].max()) - 0.3, 6 * radius
    chosen = (np.abs(reach - radius) <= slack) & (depth >= lowest) & (depth <= highest)
    points = local[chosen]
    if len(points) < 2 * _LEAST_FACES or np.ptp(points[:, 2]) < radius / 2:
        return None

    def off(values: NDArray[np.float64]) -> NDArray[np.float64]:
        x = points[:, 0] - values[0] - values[2] * points[:, 2]
        y = points[:, 1] - values[1] - values[3] * points[:, 2]
        return np.asarray(np.hypot(x, y) - values[4])

    found = least_squares(off, [centre[0], centre[1], 0.0, 0.0, radius], loss="soft_l1", f_scale=0.1)
    covariance = np.linalg.pinv(found.jac.T @ found.jac)
    spread = float(np.sqrt(np.mean(off(found.x) ** 2)))
    turned = frame.T @ np.array([found.x[2], found.x[3], 1.0])
    doubt = spread * float(np.sqrt(covariance[2, 2] + covariance[3, 3]))
    return WallAxis(axis=turned / np.linalg.norm(turned), doubt_rad=doubt)
