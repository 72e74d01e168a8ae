"""Where does a mating surface really end? Faces that mate in, the same with the slivers along their edge put right.

Whether a face mates is asked at points inside it. Along the edge of a body a cut leaves slivers of which no point
tells, or whose direction means nothing, so that the edge of what mates is jagged and too long to be a seam.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.flats import neighbour_pairs
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.solids import row_cross

_LEVEL = np.sin(np.radians(35.0))
"""How steeply a face may rise from a mating one beside it and still be of one surface."""
_FLUSH_MM = 0.002
"""How far a corner may lie off that surface where the height of its face says nothing: single precision at 2 m."""
_THIN_MM = 0.1
"""Height of a sliver that may change sides: a corner of the edge loses no more than that."""
_ROUNDS = 6


def with_slivers(
    mesh: Mesh, normals: Points, is_mating: NDArray[np.bool_], is_free: NDArray[np.bool_], reach_mm: float
) -> NDArray[np.bool_]:
    """Which faces mate, with those that lie level beside a mating face, and slivers where they make the edge shorter.

    Parameters
    ----------
    mesh
        In mm.
    normals : (n, 3) float64
        Unit normal of the surface about each face.
    is_mating : (n,) bool
        What samples tell.
    is_free : (n,) bool
        Faces that may change sides.
    reach_mm
        How far from a mating face one that lies level with it is taken in.
    """
    pairs = neighbour_pairs(mesh.faces, len(mesh.vertices))
    pairs = np.concatenate((pairs, pairs[:, ::-1]))
    is_inside = _with_level(mesh, pairs, _among_mating(mesh, normals, pairs, is_mating), is_mating, reach_mm)
    is_inside = np.where(is_free, is_inside, is_mating)
    return _shortened(mesh, pairs, is_inside, is_free)


def _among_mating(mesh: Mesh, normals: Points, pairs: NDArray[np.int64], is_mating: NDArray[np.bool_]) -> Points:
    """Normals of the mating surface only: a sliver at its edge may have taken after the face beyond."""
    one, two = pairs[is_mating[pairs].all(axis=1)].T
    corners = mesh.corners
    area = np.linalg.norm(row_cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    link = coo_matrix((area[two], (one, two)), shape=(len(area), len(area))).tocsr()
    total = normals * area[:, None] + link @ normals
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-30)[:, None])


def _with_level(
    mesh: Mesh, pairs: NDArray[np.int64], normals: Points, is_mating: NDArray[np.bool_], reach_mm: float
) -> NDArray[np.bool_]:
    is_inside, away = is_mating.copy(), np.zeros(len(is_mating))
    while True:
        edge = pairs[is_inside[pairs[:, 0]] & ~is_inside[pairs[:, 1]]]
        farther, is_level = _beside(mesh, normals, edge)
        total = away[edge[:, 0]] + farther
        is_taken = is_level & (total <= reach_mm)
        if not np.any(is_taken):
            return is_inside
        edge, total = edge[is_taken], total[is_taken]
        # The nearest of several mating faces last, since the last one written stays.
        order = np.argsort(-total, kind="stable")
        one, two = edge[order].T
        normals[two], away[two] = normals[one], total[order]
        is_inside[two] = True


def _beside(mesh: Mesh, normals: Points, edge: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """For pairs of neighbouring faces, how far the second reaches from the first, and whether it lies level with it."""
    here, there = mesh.faces[edge[:, 0]], mesh.faces[edge[:, 1]]
    apex = (~(there[:, :, None] == here[:, None, :]).any(axis=2)).argmax(axis=1)
    each = np.arange(len(edge))
    third, after, before = (mesh.vertices[there[each, (apex + step) % 3]] for step in range(3))
    arm, along = third - after, before - after
    height = np.linalg.norm(row_cross(along, arm), axis=1) / np.maximum(np.linalg.norm(along, axis=1), 1e-30)
    rise = np.abs(np.einsum("ij,ij->i", arm, normals[edge[:, 0]]))
    return height, rise <= _LEVEL * height + _FLUSH_MM


def _shortened(
    mesh: Mesh, pairs: NDArray[np.int64], is_inside: NDArray[np.bool_], is_free: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """The same with thin faces on the side on which they make the edge shorter."""
    _, heights = normals_and_heights(mesh, np.arange(len(mesh.faces)))
    is_thin = is_free & (heights <= _THIN_MM)
    pairs = pairs[is_thin[pairs[:, 0]]]
    length = _shared_mm(mesh, pairs)
    one, two = pairs.T
    result = is_inside.copy()
    for _ in range(_ROUNDS):
        # What of its edges a face turns into an edge of the whole, and what it takes away, if it changes sides.
        sign = np.where(result[one] == result[two], -1.0, 1.0)
        gain = np.bincount(one, sign * length, len(result))
        best = np.zeros(len(result))
        np.maximum.at(best, one, gain[two])
        is_changed = (gain > _THIN_MM) & (gain >= best)
        if not np.any(is_changed):
            break
        result[is_changed] ^= True
    return result


def _shared_mm(mesh: Mesh, pairs: NDArray[np.int64]) -> NDArray[np.float64]:
    """Length of the edge that each pair of faces shares."""
    here, there = mesh.faces[pairs[:, 0]], mesh.faces[pairs[:, 1]]
    apex = (~(there[:, :, None] == here[:, None, :]).any(axis=2)).argmax(axis=1)
    each = np.arange(len(pairs))
    ends = mesh.vertices[there[each, (apex + 1) % 3]] - mesh.vertices[there[each, (apex + 2) % 3]]
    return np.asarray(np.linalg.norm(ends, axis=1))
