"""A triangle mesh as two read-only arrays: what every geometric question starts from."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Triangles = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, weakref_slot=True)
class Mesh:
    """Triangles in the frame of the whole figure.

    Parameters
    ----------
    vertices : (n, 3) float64, mm
        Corner points. The array is made read-only.
    faces : (m, 3) int64
        Indices into `vertices`, counter-clockwise seen from outside. The array is made read-only.

    Raises
    ------
    ValueError
        If the shapes are not (n, 3) and (m, 3).
    """

    vertices: Points
    faces: Triangles

    def __post_init__(self) -> None:
        vertices = np.ascontiguousarray(self.vertices, dtype=np.float64)
        faces = np.ascontiguousarray(self.faces, dtype=np.int64)
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise ValueError(f"vertices have shape {vertices.shape}, expected (n, 3)")
        if faces.ndim != 2 or faces.shape[1] != 3:
            raise ValueError(f"faces have shape {faces.shape}, expected (m, 3)")
        # A view, so that a caller's own array keeps its flags.
        vertices = vertices.view()
        faces = faces.view()
        vertices.flags.writeable = False
        faces.flags.writeable = False
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "faces", faces)

    @property
    def corners(self) -> Points:
        """Corner points of every triangle, (m, 3, 3), mm."""
        corners: Points = self.vertices[self.faces]
        return corners


def mesh_digest(mesh: Mesh) -> str:
    """SHA-256 of a mesh: every bit of every corner, and every triangle. Reckoned once for each mesh."""
    known = _DIGESTS.get(mesh)
    if known is None:
        known = _DIGESTS[mesh] = _digest(mesh)
    return known


_DIGESTS: WeakKeyDictionary[Mesh, str] = WeakKeyDictionary()
# Every room that keeps something about a mesh asks for its digest, and the arrays of a mesh cannot be written to.


def _digest(mesh: Mesh) -> str:
    digest = hashlib.sha256()
    digest.update(len(mesh.vertices).to_bytes(8, "big"))
    digest.update(mesh.vertices.astype("<f8").tobytes())
    digest.update(mesh.faces.astype("<i8").tobytes())
    return digest.hexdigest()
