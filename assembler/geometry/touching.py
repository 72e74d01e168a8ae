"""Which faces of one file belong to one solid? Asked where solids touch face to face and share corners and edges.

Equal vertices are merged on reading, so two flush solids in one file hang together by their vertices. Around an edge
that both share, four faces meet; the two between which material lies belong to one solid.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from assembler.figure.mesh import Points, Triangles

_FLAT_RAD = 1e-6
"""Faces nearer than this around an edge lie on each other: no material fits between them."""


def has_crowded_edges(faces: Triangles, vertex_count: int) -> bool:
    """Whether more than two faces meet at some edge: the cheap question before `solids_of_faces`."""
    following = np.roll(faces, -1, axis=1)
    keys = np.sort((np.minimum(faces, following) * vertex_count + np.maximum(faces, following)).ravel())
    return bool(np.any(keys[2:] == keys[:-2]))


def solids_of_faces(vertices: Points, faces: Triangles) -> NDArray[np.int64] | None:
    """Number of the solid that each face bounds, counted from 0 in the order of the faces.

    Parameters
    ----------
    vertices : (n, 3) float64
        Merged.
    faces : (m, 3) int64
        Counter-clockwise seen from outside.

    Returns
    -------
    (m,) int64 or None
        None where the edges do not tell: an open edge, or one whose faces cannot be paired. A clean single solid gives
        zeros only.
    """
    starts, ends = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    owner = np.repeat(np.arange(len(faces)), 3)
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    order = np.lexsort((starts > ends, high, low))
    is_first = np.ones(len(order), dtype=bool)
    is_first[1:] = (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)
    begins = np.flatnonzero(is_first)
    sizes = np.diff(np.append(begins, len(order)))
    forward = np.add.reduceat((starts < ends)[order].astype(np.int64), begins)
    if np.any(2 * forward != sizes):
        return None
    plain = begins[sizes == 2]
    pairs = [np.column_stack((owner[order[plain]], owner[order[plain + 1]]))]
    for begin, size in zip(begins[sizes > 2], sizes[sizes > 2], strict=True):
        edges = order[begin : begin + size]
        around = _pairs_around(
            vertices, faces, owner[edges], starts[edges] < ends[edges], low[edges[0]], high[edges[0]]
        )
        if around is None:
            return None
        pairs.append(around)
    links = np.concatenate(pairs)
    graph = coo_matrix((np.ones(len(links), dtype=np.int8), (links[:, 0], links[:, 1])), shape=(len(faces),) * 2)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _pairs_around(
    vertices: Points, faces: Triangles, around: NDArray[np.int64], is_forward: NDArray[np.bool_], start: int, end: int
) -> NDArray[np.int64] | None:
    """Pairs of faces with material between them around one edge; None where a face finds no partner of its own."""
    along = vertices[end] - vertices[start]
    length = float(np.linalg.norm(along))
    if length == 0.0:
        return None
    along = along / length
    # The corner that is on neither end of the edge.
    third = faces[around].sum(axis=1) - start - end
    away = vertices[third] - vertices[start]
    away = away - np.outer(away @ along, along)
    side = away[0] / (np.linalg.norm(away[0]) or 1.0)
    angles = np.arctan2(away @ np.cross(along, side), away @ side)
    pairs: list[tuple[int, int]] = []
    # The normal of a face that runs forward points to larger angles, so its material lies at smaller ones.
    for one in np.flatnonzero(is_forward):
        gaps = (angles[one] - angles[~is_forward]) % math.tau
        gaps[gaps < _FLAT_RAD] += math.tau
        pairs.append((int(around[one]), int(around[~is_forward][int(np.argmin(gaps))])))
    partners = {second for _, second in pairs}
    return np.array(pairs, dtype=np.int64) if len(partners) == len(pairs) else None
