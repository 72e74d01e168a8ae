"""How far do two solids reach into each other? Two meshes in, a volume and a depth out.

Flush faces and noise give a film of overlap; its thickness tells it from a real collision.
"""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """What two solids have in common.

    Parameters
    ----------
    volume_mm3
        Common volume.
    depth_mm
        Mean thickness: twice the volume over the surface of the common body, 0 where there is none.
    centre_mm
        Middle of the box of the common body.
    """

    volume_mm3: float
    depth_mm: float
    centre_mm: Vector


class Solid:
    """A mesh made ready for intersections.

    Parameters
    ----------
    mesh
        In mm, closed.
    """

    def __init__(self, mesh: Mesh) -> None:
        # Copies, since manifold3d refuses arrays that are read-only.
        points, triangles = np.array(mesh.vertices), np.array(mesh.faces, dtype=np.uint64)
        self._solid = manifold3d.Manifold(manifold3d.Mesh64(vert_properties=points, tri_verts=triangles))

    @property
    def is_sound(self) -> bool:
        """Whether the mesh bounds a solid; only then an overlap means anything."""
        return self._solid.status() == manifold3d.Error.NoError and not self._solid.is_empty()

    def overlap(self, other: Solid) -> Overlap:
        """What both solids have in common."""
        common = self._solid ^ other._solid
        volume, area = float(common.volume()), float(common.surface_area())
        if common.is_empty() or area <= 0:
            return Overlap(volume_mm3=0.0, depth_mm=0.0, centre_mm=(0.0, 0.0, 0.0))
        box = np.reshape(common.bounding_box(), (2, 3)).mean(axis=0)
        centre = (float(box[0]), float(box[1]), float(box[2]))
        return Overlap(volume_mm3=volume, depth_mm=2 * volume / area, centre_mm=centre)
