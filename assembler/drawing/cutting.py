"""Bodies cut open by a plane, the cut closed by a clean face: the only door to manifold3d in this room.

In: a mesh and a plane. Out: a mesh, or None where the mesh does not enclose a volume.
"""

from __future__ import annotations

from functools import lru_cache

import manifold3d
import numpy as np

from assembler.drawing.camera import Floats, unit
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector


def kept_below(mesh: Mesh, normal: Vector | Floats, offset_mm: float) -> Mesh | None:
    """The part of a body below a plane.

    Parameters
    ----------
    mesh
        Closed surface.
    normal
        Of the plane; what lies on its side is taken away.
    offset_mm
        Distance of the plane from the origin along the normal.

    Returns
    -------
    Mesh or None
        A closed mesh with the cut face, empty if nothing is left; None if the mesh is not closed and cannot be cut
        cleanly.
    """
    solid = _solid(mesh)
    if solid is None:
        return None
    away = -unit(normal)
    cut = solid.trim_by_plane((float(away[0]), float(away[1]), float(away[2])), -float(offset_mm))
    raw = cut.to_mesh64()
    vertices = np.asarray(raw.vert_properties, dtype=np.float64)[:, :3]
    return Mesh(vertices=vertices.reshape(-1, 3), faces=np.asarray(raw.tri_verts, dtype=np.int64).reshape(-1, 3))


@lru_cache(maxsize=16)
def _solid(mesh: Mesh) -> manifold3d.Manifold | None:
    """The body as manifold3d holds it; vertices of the same place are merged.

    Kept for the last few parts, since a part is cut once for each of its joints. Meshes are compared by identity.
    """
    # Copies, since manifold3d refuses arrays that are read-only.
    raw = manifold3d.Mesh64(
        vert_properties=np.array(mesh.vertices, order="C"), tri_verts=np.array(mesh.faces, dtype=np.uint64, order="C")
    )
    raw.merge()
    solid = manifold3d.Manifold(raw)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        return None
    return solid
