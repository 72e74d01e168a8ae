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
from assembler.geometry.facenormals import seen_areas, smoothed_normals
from assembler.geometry.flats import neighbour_pairs
from assembler.geometry.jagged import with_slivers
from assembler.geometry.samples import Samples, share_samples
from assembler.geometry.solids import row_cross

_SPACING_MM = 2.0
_NEIGHBOURS, _MANY_NEIGHBOURS = 8, 48
"""Samples opposite whose faces are tried, and how many where needles crowd out the face that lies opposite."""
_NOISE_MM = 0.15
_LOOKS_BACK = -np.cos(np.radians(25.0))
"""Surfaces that mate are parallel but for coarse facets and noise; a chamfer beside a mating face is not."""
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
    """Candidate faces of one body, the surface's normal at each, and sample points with the area of each."""

    mesh: Mesh
    flat: NDArray[np.int64]
    normals: Points
    areas: NDArray[np.float64]
    samples: Samples
    weight: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Met:
    """For each sample its area where the other body is opposite, else 0; whether it counts; the distance there."""

    weight: NDArray[np.float64]
    is_counted: NDArray[np.bool_]
    gap_mm: NDArray[np.float64]


def curved_facing(
    one: Mesh,
    two: Mesh,
    faces: tuple[NDArray[np.int64], NDArray[np.int64]],
    flats: tuple[NDArray[np.int64], NDArray[np.int64]],
    patches: NDArray[np.int64],
    tolerances: Tolerances,
) -> CurvedFacing | None:
    """The mating area between candidate faces of two bodies; None where there is none worth the name.

    Parameters
    ----------
    one, two
        The bodies, mm.
    faces
        Candidate faces of each, ascending.
    flats
        Number of the flat region that each of these lies in, -1 for none.
    patches : (k, 2) int64
        Numbers of flat regions whose common area is measured otherwise: where they face each other is not counted.
    tolerances
        Gap and overlap.
    """
    if not len(faces[0]) or not len(faces[1]):
        return None
    sides = (_side(one, faces[0], flats[0]), _side(two, faces[1], flats[1]))
    measured = [
        _measure(sides[0], sides[1], patches, tolerances),
        _measure(sides[1], sides[0], patches[:, ::-1], tolerances),
    ]
    kept = [_large_pieces(side, met) for side, met in zip(sides, measured, strict=True)]
    shares = [
        met.weight * met.is_counted * keep[side.samples.face]
        for side, met, keep in zip(sides, measured, kept, strict=True)
    ]
    areas = [float(share.sum()) for share in shares]
    if min(areas) < _LEAST_MM2:
        return None
    mating = [_mating(side, met, share) for side, met, share in zip(sides, measured, shares, strict=True)]
    # Along the normals of a bowl or a dome one side measures as much too much as the other too little.
    return CurvedFacing(
        area_mm2=sum(areas) / 2,
        gap_mm=float(np.average(measured[0].gap_mm, weights=shares[0])),
        centre_mm=np.average(sides[0].samples.points, axis=0, weights=shares[0]),
        normal=np.average(sides[0].normals[sides[0].samples.face], axis=0, weights=np.maximum(shares[0], 0.0)),
        faces=(faces[0][mating[0]], faces[1][mating[1]]),
    )


def _side(mesh: Mesh, faces: NDArray[np.int64], flat: NDArray[np.int64]) -> _Side:
    part = Mesh(vertices=mesh.vertices, faces=mesh.faces[faces])
    normals = smoothed_normals(part)
    areas = seen_areas(part, normals)
    samples, share = share_samples(part, _SPACING_MM)
    weight = areas[samples.face] * share
    return _Side(mesh=part, flat=flat, normals=normals, areas=areas, samples=samples, weight=weight)


def _measure(side: _Side, other: _Side, patches: NDArray[np.int64], tolerances: Tolerances) -> _Met:
    points, normals = side.samples.points, side.normals[side.samples.face]
    tree = cKDTree(other.samples.points)
    met = np.full(len(points), -1)
    gap = np.zeros(len(points))
    reach = 2 * _SPACING_MM + tolerances.gap_mm + _NOISE_MM
    for few, many in ((0, _NEIGHBOURS), (_NEIGHBOURS, _MANY_NEIGHBOURS)):
        open_ = np.flatnonzero(met < 0)
        count = min(many, len(other.samples.points))
        if few >= count or not len(open_):
            break
        _, index = tree.query(points[open_], k=count, distance_upper_bound=reach)
        index = index.reshape(len(open_), count)[:, few:]
        met[open_], gap[open_] = _opposite(points[open_], normals[open_], other, index, tolerances)
    size = int(max(patches.max(initial=0), other.flat.max())) + 2
    mine, others = side.flat[side.samples.face], other.flat[met]
    is_in_patch = np.isin(mine * size + others, patches @ (size, 1)) & (mine >= 0) & (others >= 0)
    return _Met(weight=np.where(met >= 0, side.weight, 0.0), is_counted=~is_in_patch, gap_mm=gap)


def _opposite(
    points: Points, normals: Points, other: _Side, index: NDArray[np.int64], tolerances: Tolerances
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """The first face, of those of the samples listed, that lies opposite each point, and how far; -1 for none."""
    met, gap = np.full(len(points), -1), np.zeros(len(points))
    for column in range(index.shape[1]):
        open_ = np.flatnonzero((met < 0) & (index[:, column] < len(other.samples.face)))
        if not len(open_):
            break
        face = other.samples.face[index[open_, column]]
        inside, distance = _projected(points[open_], normals[open_], other, face)
        inside &= (distance <= tolerances.gap_mm + _NOISE_MM) & (distance >= -tolerances.overlap_mm - _NOISE_MM)
        met[open_[inside]], gap[open_[inside]] = face[inside], distance[inside]
    return met, gap


def _projected(
    points: Points, normals: Points, other: _Side, face: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Whether the line along each normal meets a face of a surface that looks back, and how far away."""
    a, b, c = (other.mesh.vertices[other.mesh.faces[face, corner]] for corner in range(3))
    cross = row_cross(b - a, c - a)
    along = np.einsum("ij,ij->i", cross, normals)
    is_back = (np.einsum("ij,ij->i", other.normals[face], normals) < _LOOKS_BACK) & (np.abs(along) > 1e-9)
    safe = np.where(is_back, along, -1.0)
    distance = np.einsum("ij,ij->i", cross, a - points) / safe
    at = points + normals * distance[:, None]
    for_c = np.einsum("ij,ij->i", row_cross(b - a, at - a), normals) / safe
    for_a = np.einsum("ij,ij->i", row_cross(c - b, at - b), normals) / safe
    slack = 1e-6
    inside = (for_c >= -slack) & (for_a >= -slack) & (for_a + for_c <= 1 + slack)
    return inside & is_back, distance


def _large_pieces(side: _Side, met: _Met) -> NDArray[np.bool_]:
    """Candidate faces that mate at all, in connected pieces that are worth counting, flat neighbours included."""
    area = np.bincount(side.samples.face, met.weight, len(side.areas))
    is_met = np.bincount(side.samples.face, met.weight != 0.0, len(side.areas)) > 0
    pairs = neighbour_pairs(side.mesh.faces, len(side.mesh.vertices))
    pairs = pairs[is_met[pairs[:, 0]] & is_met[pairs[:, 1]]]
    shape = (len(is_met), len(is_met))
    graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=shape)
    _, label = connected_components(graph, directed=False)
    return np.asarray(is_met & (np.bincount(label, np.where(is_met, area, 0.0))[label] >= _LEAST_MM2))


def _mating(side: _Side, met: _Met, share: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Candidate faces of which the most counts, their edge put right."""
    count, half = len(side.areas), 0.5 * np.abs(side.areas)
    is_counted = np.abs(np.bincount(side.samples.face, share, count)) > half
    is_met = np.abs(np.bincount(side.samples.face, met.weight, count)) > half
    is_met = with_slivers(side.mesh, side.normals, is_met, side.flat < 0, _SPACING_MM / 2)
    return np.asarray((is_counted & is_met) | (is_met & (side.flat < 0)))
