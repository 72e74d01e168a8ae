"""Over which area do two bodies mate where no face is flat? Two meshes in, facing faces and their area out.

Points spread over the faces of each body are projected on the triangles of the other; the share of a face that has
the other body opposite, within the gap, is what counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points
from assembler.figure.tolerances import Tolerances
from assembler.geometry.flats import neighbour_pairs
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.samples import Samples, spread_samples

_SPACING_MM = 2.0
_NEIGHBOURS = 12
_NOISE_MM = 0.15
_LEAST_MM2 = 30.0
"""Smallest connected piece: less is a corner, a fillet or the wall of a pin."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CurvedFacing:
    """Faces of two bodies that mate though they are not flat.

    Parameters
    ----------
    area_mm2
        Mean of what both sides measure.
    gap_mm
        Mean distance.
    centre_mm, normal : (3,) float64
        Area-weighted over the first body; the normal is not of unit length where the faces turn.
    faces : ((k,), (m,)) int64
        Faces of both bodies.
    """

    area_mm2: float
    gap_mm: float
    centre_mm: NDArray[np.float64]
    normal: NDArray[np.float64]
    faces: tuple[NDArray[np.int64], NDArray[np.int64]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Side:
    """Candidate faces of one body with sample points."""

    mesh: Mesh
    faces: NDArray[np.int64]
    samples: Samples
    weight: NDArray[np.float64]
    normals: Points


def curved_facing(
    one: Mesh, two: Mesh, faces: tuple[NDArray[np.int64], NDArray[np.int64]], tolerances: Tolerances
) -> CurvedFacing | None:
    """The mating area between candidate faces of two bodies; None where there is none worth the name.

    Parameters
    ----------
    one, two
        The bodies, mm.
    faces
        Candidate faces of each, ascending; flat regions that are measured otherwise left out.
    tolerances
        Gap and overlap.
    """
    if not len(faces[0]) or not len(faces[1]):
        return None
    sides = (_side(one, faces[0]), _side(two, faces[1]))
    measured = [_measure(sides[0], sides[1], tolerances), _measure(sides[1], sides[0], tolerances)]
    kept = [_large_pieces(side, met) for side, (met, _) in zip(sides, measured, strict=True)]
    shares = [met * keep[side.samples.face] for side, (met, _), keep in zip(sides, measured, kept, strict=True)]
    areas = [float(share.sum()) for share in shares]
    if min(areas) < _LEAST_MM2:
        return None
    gaps = measured[0][1]
    return CurvedFacing(
        area_mm2=sum(areas) / 2,
        gap_mm=float(np.average(gaps, weights=shares[0])),
        centre_mm=np.average(sides[0].samples.points, axis=0, weights=shares[0]),
        normal=np.average(sides[0].normals, axis=0, weights=shares[0]),
        faces=(faces[0][kept[0]], faces[1][kept[1]]),
    )


def _side(mesh: Mesh, faces: NDArray[np.int64]) -> _Side:
    part = Mesh(vertices=mesh.vertices, faces=mesh.faces[faces])
    samples = spread_samples(part, _SPACING_MM)
    corners = part.corners
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    weight = (area / np.maximum(np.bincount(samples.face, minlength=len(faces)), 1))[samples.face]
    normals, _ = normals_and_heights(part, samples.face)
    return _Side(mesh=part, faces=faces, samples=samples, weight=weight, normals=normals)


def _measure(side: _Side, other: _Side, tolerances: Tolerances) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """For each sample its area where the other body is opposite, else 0; and the distance there."""
    points = side.samples.points
    count = min(_NEIGHBOURS, len(other.samples.points))
    _, index = cKDTree(other.samples.points).query(points, k=count)
    near = other.samples.face[index.reshape(len(points), count)]
    met = np.zeros(len(points), dtype=bool)
    gap = np.zeros(len(points))
    for column in range(count):
        open_ = np.flatnonzero(~met)
        face = near[open_, column]
        inside, distance = _projected(points[open_], side.normals[open_], other.mesh, face)
        inside &= (distance <= tolerances.gap_mm + _NOISE_MM) & (distance >= -tolerances.overlap_mm - _NOISE_MM)
        met[open_[inside]] = True
        gap[open_[inside]] = distance[inside]
    return np.where(met, side.weight, 0.0), gap


def _projected(
    points: Points, normals: Points, mesh: Mesh, face: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Whether the line along each normal meets a face that looks back, and how far away."""
    a, b, c = (mesh.vertices[mesh.faces[face, corner]] for corner in range(3))
    cross = np.cross(b - a, c - a)
    along = np.einsum("ij,ij->i", cross, normals)
    is_back = along < -0.7 * np.linalg.norm(cross, axis=1)
    safe = np.where(is_back, along, -1.0)
    distance = np.einsum("ij,ij->i", cross, a - points) / safe
    at = points + normals * distance[:, None]
    for_c = np.einsum("ij,ij->i", np.cross(b - a, at - a), normals) / safe
    for_a = np.einsum("ij,ij->i", np.cross(c - b, at - b), normals) / safe
    slack = 1e-6
    inside = (for_c >= -slack) & (for_a >= -slack) & (for_a + for_c <= 1 + slack)
    return inside & is_back, distance


def _large_pieces(side: _Side, met: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Candidate faces that mate over more than half, in connected pieces that are worth counting."""
    total = np.bincount(side.samples.face, side.weight, len(side.faces))
    area = np.bincount(side.samples.face, met, len(side.faces))
    is_met = area > 0.5 * total
    pairs = neighbour_pairs(side.mesh.faces, len(side.mesh.vertices))
    pairs = pairs[is_met[pairs[:, 0]] & is_met[pairs[:, 1]]]
    shape = (len(side.faces), len(side.faces))
    graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=shape)
    _, label = connected_components(graph, directed=False)
    size = np.bincount(label, np.where(is_met, area, 0.0))
    return np.asarray(is_met & (size[label] >= _LEAST_MM2))
