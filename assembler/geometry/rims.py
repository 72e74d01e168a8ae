"""Where does a set of faces end, and what lies beyond? Faces in, edges and neighbours out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.geometry.healing import directed_edges


def rim_of(mesh: Mesh, faces: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Edges round a set of faces, and the face of the mesh beyond each.

    Returns
    -------
    tuple
        Directed edges (k, 2) as wound in the set, and faces (k,), -1 where there is none.
    """
    edges = directed_edges(mesh.faces[faces])
    size = np.int64(len(mesh.vertices))
    rim = edges[~np.isin(edges[:, 0] * size + edges[:, 1], edges[:, 1] * size + edges[:, 0])]
    return rim, faces_beyond(mesh, faces, rim)


def faces_beyond(mesh: Mesh, faces: NDArray[np.int64], rim: NDArray[np.int64]) -> NDArray[np.int64]:
    """For each directed edge of a set of faces, the face outside the set that has it the other way round."""
    is_on_rim = np.zeros(len(mesh.vertices), dtype=bool)
    is_on_rim[rim] = True
    near = np.flatnonzero(np.count_nonzero(is_on_rim[mesh.faces], axis=1) >= 2)
    near = np.setdiff1d(near, faces, assume_unique=True)
    if not len(near):
        return np.full(len(rim), -1)
    edges = directed_edges(mesh.faces[near])
    size = np.int64(len(mesh.vertices))
    key = edges[:, 1] * size + edges[:, 0]
    order = np.argsort(key, kind="stable")
    wanted = rim[:, 0] * size + rim[:, 1]
    found = order[np.minimum(np.searchsorted(key[order], wanted), len(key) - 1)]
    return np.where(key[found] == wanted, near[found % len(near)], -1)
