"""Real re-meshing of generated sets: vertices move over the surface, and sharp edges are kept or cut off.

A division keeps the form to the last digit. A re-mesher does not: it relaxes its vertices over the surface, and one
that knows nothing of creases cuts them off by a part of its edge length, at flange rims and mouths of holes alike.
"""

from __future__ import annotations

import numpy as np
import trimesh
from manifold3d import Manifold
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.spatial import cKDTree

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.geometry.samples import spread_samples
from tests.survey.part_sets import PartSet, mesh_of

_SPACING_MM = 1.0
_CANDIDATES = 6
_CREASE = np.cos(np.radians(30.0))


def relaxed_set(part_set: PartSet, longest_mm: float, *, keeps_edges: bool, rounds: int = 3) -> dict[PartId, Mesh]:
    """All parts re-meshed by `relaxed`."""
    return {
        PartId(name): relaxed(solid, longest_mm, keeps_edges=keeps_edges, rounds=rounds)
        for name, solid in part_set.solids.items()
    }


def relaxed(solid: Manifold, longest_mm: float, *, keeps_edges: bool, rounds: int = 3) -> Mesh:
    """A solid divided to an edge length, its vertices then drawn towards the middle of their neighbours on the surface.

    Parameters
    ----------
    solid
        What is re-meshed.
    longest_mm
        Longest edge before the vertices move.
    keeps_edges
        Whether vertices on creases of more than 30 degrees stay where they are.
    rounds
        Steps, each brought back to the surface of the solid.
    """
    fine = mesh_of(solid.refine_to_length(longest_mm))
    surface = _Surface(mesh_of(solid))
    points, faces = fine.vertices.copy(), fine.faces
    ends = np.unique(np.sort(np.concatenate((faces[:, :2], faces[:, 1:], faces[:, ::2])), axis=1), axis=0)
    one, two = np.concatenate((ends, ends[:, ::-1])).T
    link = coo_matrix((np.ones(len(one)), (one, two)), shape=(len(points),) * 2).tocsr()
    count = np.bincount(one, minlength=len(points))[:, None]
    is_free = ~_on_crease(fine) if keeps_edges else np.ones(len(points), dtype=bool)
    for _ in range(rounds):
        step = 0.7 * ((link @ points) / count - points)
        points[is_free] = surface.nearest(points[is_free] + step[is_free])
    return Mesh(vertices=points.astype(np.float32).astype(np.float64), faces=faces)


def _on_crease(mesh: Mesh) -> NDArray[np.bool_]:
    """Vertices at which two faces meet at more than 30 degrees."""
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    normals = shape.face_normals[shape.face_adjacency]
    is_sharp = np.einsum("ij,ij->i", normals[:, 0], normals[:, 1]) < _CREASE
    result = np.zeros(len(mesh.vertices), dtype=bool)
    result[shape.face_adjacency_edges[is_sharp]] = True
    return result


class _Surface:
    """Nearest points of a mesh, among the triangles of the nearest samples."""

    def __init__(self, mesh: Mesh) -> None:
        samples = spread_samples(mesh, _SPACING_MM)
        self._corners = mesh.corners
        self._face = samples.face
        self._tree = cKDTree(samples.points)

    def nearest(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        _, index = self._tree.query(points, k=_CANDIDATES)
        face = self._face[index]
        found = trimesh.triangles.closest_point(
            self._corners[face.ravel()], np.repeat(points, _CANDIDATES, axis=0)
        ).reshape(len(points), _CANDIDATES, 3)
        away = np.linalg.norm(found - points[:, None], axis=2)
        return np.asarray(found[np.arange(len(points)), away.argmin(axis=1)])
