"""Which way do the large flat faces of a part look? A mesh in, a few unit normals out."""

from __future__ import annotations

import numpy as np

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector


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
