"""Which faces of one body face another body closely? Sample points and normals in, faces out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points
from assembler.figure.tolerances import Tolerances
from assembler.geometry.samples import Samples

_NEIGHBOURS = 6
_REACH_MM = 8.0
_NOISE_MM = 0.3
"""Noise on both bodies, and the tilt it gives to a small face over the distance between two samples."""


def normals_and_heights(mesh: Mesh, faces: NDArray[np.int64]) -> tuple[Points, NDArray[np.float64]]:
    """Unit normal and smallest height of each of the faces, (k, 3) and (k,)."""
    a, b, c = (mesh.vertices[mesh.faces[faces, corner]] for corner in range(3))
    one, two, three = b - a, c - a, c - b
    cross = np.empty_like(one)
    cross[:, 0] = one[:, 1] * two[:, 2] - one[:, 2] * two[:, 1]
    cross[:, 1] = one[:, 2] * two[:, 0] - one[:, 0] * two[:, 2]
    cross[:, 2] = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    double = np.sqrt(np.einsum("ij,ij->i", cross, cross))
    squares = [np.einsum("ij,ij->i", edge, edge) for edge in (one, two, three)]
    longest = np.sqrt(np.maximum(np.maximum(squares[0], squares[1]), squares[2]))
    return cross / np.maximum(double, 1e-30)[:, None], double / np.maximum(longest, 1e-30)


def facing_samples(
    one: Samples,
    two: Samples,
    normals: tuple[Points, Points],
    tolerances: Tolerances,
    slope: float = 0.1,
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """For each sample of both bodies, whether it has one of the other body opposite.

    Opposite means: among the nearest samples of the other body there is one with an opposed normal that lies on the
    plane of this one, within the gap.

    Parameters
    ----------
    one, two
        Samples where the bodies are near each other.
    normals : ((n, 3), (m, 3))
        Unit normals of the samples' faces.
    tolerances
        Gap and overlap.
    slope
        Extra distance for each millimetre between the two samples, for faces tilted by noise.
    """
    if not len(one.points) or not len(two.points):
        return np.zeros(len(one.points), dtype=bool), np.zeros(len(two.points), dtype=bool)
    return (
        _has_opposite(one.points, normals[0], two.points, normals[1], tolerances, slope),
        _has_opposite(two.points, normals[1], one.points, normals[0], tolerances, slope),
    )


def _has_opposite(
    points: Points, normals: Points, others: Points, other_normals: Points, tolerances: Tolerances, slope: float
) -> NDArray[np.bool_]:
    count = min(_NEIGHBOURS, len(others))
    distance, index = cKDTree(others).query(points, k=count, distance_upper_bound=_REACH_MM)
    distance, index = distance.reshape(len(points), count), index.reshape(len(points), count)
    is_there = np.isfinite(distance)
    index = np.where(is_there, index, 0)
    apart = np.einsum("ikj,ij->ik", others[index] - points[:, None], normals)
    slack = _NOISE_MM + slope * np.where(is_there, distance, 0.0)
    is_near = (apart <= tolerances.gap_mm + slack) & (apart >= -tolerances.overlap_mm - slack)
    is_opposed = np.einsum("ikj,ij->ik", other_normals[index], normals) < -0.8
    return np.asarray(np.any(is_there & is_near & is_opposed, axis=1))
