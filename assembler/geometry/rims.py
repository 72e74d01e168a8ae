"""Where does a set of faces end, and what lies beyond? Faces in, edges and neighbours out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.geometry.healing import directed_edges


class EdgeIndex:
    """A mesh, or what of it touches some faces, made ready for asking what lies beyond edges.

    Parameters
    ----------
    mesh
        In mm.
    faces : (k,) int64
        Faces whose rims are asked for.
    """

    def __init__(self, mesh: Mesh, faces: NDArray[np.int64]) -> None:
        self._size = np.int64(len(mesh.vertices))
        is_touched = np.zeros(len(mesh.vertices), dtype=bool)
        is_touched[mesh.faces[faces]] = True
        self._mesh = mesh
        self._near = np.flatnonzero(np.count_nonzero(is_touched[mesh.faces], axis=1) >= 2)
        edges = directed_edges(mesh.faces[self._near])
        key = edges[:, 1] * self._size + edges[:, 0]
        order = np.argsort(key, kind="stable")
        self._key, self._face = key[order], self._near[order % max(len(self._near), 1)]

    def rim_of(self, faces: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Edges round a set of faces, and the face of the mesh beyond each.

        Returns
        -------
        tuple
            Directed edges (k, 2) as wound in the set, and faces (k,), -1 where there is none.
        """
        edges = directed_edges(self._mesh.faces[faces])
        rim = edges[~np.isin(edges[:, 0] * self._size + edges[:, 1], edges[:, 1] * self._size + edges[:, 0])]
        wanted = rim[:, 0] * self._size + rim[:, 1]
        found = np.minimum(np.searchsorted(self._key, wanted), max(len(self._key) - 1, 0))
        if not len(self._key):
            return rim, np.full(len(rim), -1)
        return rim, np.where(self._key[found] == wanted, self._face[found], -1)


def rim_of(mesh: Mesh, faces: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Edges round one set of faces, and the face beyond each, as `EdgeIndex.rim_of` gives them."""
    return EdgeIndex(mesh, faces).rim_of(faces)


def owners_of(mesh: Mesh, faces: NDArray[np.int64], rim: NDArray[np.int64]) -> NDArray[np.int64]:
    """Face of the set on whose side each of its rim's edges lies, (k,)."""
    edges = directed_edges(mesh.faces[faces])
    size = np.int64(len(mesh.vertices))
    key = edges[:, 0] * size + edges[:, 1]
    order = np.argsort(key, kind="stable")
    found = np.searchsorted(key[order], rim[:, 0] * size + rim[:, 1])
    return np.asarray(faces[order[found] % len(faces)])
