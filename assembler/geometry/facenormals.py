"""Which way do the faces of a part look? A mesh in, unit normals out: of faces without noise, of large flat areas."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix

from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector
from assembler.geometry.flats import neighbour_pairs

_REACH_MM = 4.0
"""How far, in mean heights of the faces, the mean of a normal reaches: 0.05 mm noise turns it by less than a degree."""
_MOST_ROUNDS = 8
_SAME_SURFACE = np.cos(np.radians(35.0))
"""Neighbours that differ by more lie beyond an edge of the body."""


def smoothed_normals(mesh: Mesh) -> Points:
    """Unit normal of the surface about each face, the mean over its neighbours, those across sharp edges left out.

    The area of a face seen along it is what the face adds to the surface without noise: tilted faces have too much area
    of their own, and folded ones count negative.

    Parameters
    ----------
    mesh
        In mm.

    Returns
    -------
    (n, 3) float64
        Zeros for a face without area whose neighbours have none either.
    """
    corners = mesh.corners
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(cross, axis=1)
    if not len(area):
        return np.zeros((0, 3))
    pairs = neighbour_pairs(mesh.faces, len(mesh.vertices))
    one, two = np.concatenate((pairs, pairs[:, ::-1])).T
    normals = cross / np.maximum(area, 1e-30)[:, None]
    size = float(np.sqrt(np.median(area[area > 0]))) if np.any(area > 0) else _REACH_MM
    for _ in range(int(np.clip(round(_REACH_MM / size), 1, _MOST_ROUNDS))):
        # A sliver's own normal means nothing: its neighbours, weighted by area, outvote it.
        agree = np.einsum("ij,ij->i", normals[one], normals[two])
        is_thin = np.minimum(area[one], area[two]) < 0.05 * np.maximum(area[one], area[two])
        linked = (agree > _SAME_SURFACE) | (is_thin & (agree > 0))
        shape = (len(area), len(area))
        link = coo_matrix((area[two[linked]], (one[linked], two[linked])), shape=shape).tocsr()
        total = cross + link @ normals
        normals = total / np.maximum(np.linalg.norm(total, axis=1), 1e-30)[:, None]
    return np.asarray(normals)


def seen_areas(mesh: Mesh, normals: Points) -> NDArray[np.float64]:
    """Area of each face seen along a normal, mm2, (n,); negative for a folded one."""
    corners = mesh.corners
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(np.einsum("ij,ij->i", cross, normals) / 2)


def large_face_normals(mesh: Mesh, *, least_share: float = 0.03, most: int = 8) -> tuple[Vector, ...]:
    """Normals that many triangles share, those of the largest area first; none for a part without flat faces.

    Parameters
    ----------
    mesh
        In mm.
    least_share
        Area of the faces that look one way, as a share of the whole surface.
    most
        Normals at most.
    """
    corners = mesh.corners
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    areas = np.linalg.norm(doubled, axis=1)
    kept = areas > 1e-9
    normals, areas = doubled[kept] / areas[kept, None], areas[kept]
    keys, group = np.unique(np.round(normals, 2) + 0.0, axis=0, return_inverse=True)
    group = group.ravel()
    share = np.bincount(group, areas, minlength=len(keys)) / max(float(areas.sum()), 1e-12)
    order = sorted(np.flatnonzero(share >= least_share).tolist(), key=lambda k: (-round(float(share[k]), 6), k))
    found = []
    for number in order[:most]:
        # The key is rounded to half a degree: the mean of its triangles is exact.
        mean = np.average(normals[group == number], axis=0, weights=areas[group == number])
        x, y, z = (mean / np.linalg.norm(mean)).tolist()
        found.append((x + 0.0, y + 0.0, z + 0.0))
    return tuple(found)
