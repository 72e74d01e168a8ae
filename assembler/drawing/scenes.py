"""What stands where in a picture: meshes made light enough to draw, and their places.

In: full meshes, mm. Out: `Item`s, each one body with its place, its role and its number in the id buffer.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import fast_simplification
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector

Floats = NDArray[np.float64]

SHARP_DEG = 38.0
"""Edges sharper than this keep two normals: above what fur shows on a light copy, well below a flange's 90."""


NO_SHIFT: Vector = (0.0, 0.0, 0.0)
NO_TURN: tuple[Vector, Vector, Vector] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


class Role(StrEnum):
    """What a body is in the picture."""

    STANDING = "standing"
    NEIGHBOUR = "neighbour"
    NEW = "new"
    HARDWARE = "hardware"
    CUT = "cut"
    GROUND = "ground"


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One body in a picture.

    Parameters
    ----------
    name
        Part id, or a name of a piece of hardware ('J03.1 nut').
    shape
        Key of the mesh that was given to the rasteriser.
    role
        How it is drawn.
    turn : (3, 3) float64
        Rotation applied to the mesh.
    shift_mm
        Translation applied after it.
    is_printed
        False for a carpentered or bought part, which gets its own tint.
    """

    name: str
    shape: str
    role: Role
    shift_mm: Vector = NO_SHIFT
    turn: tuple[Vector, Vector, Vector] = NO_TURN
    is_printed: bool = True

    @property
    def is_moved(self) -> bool:
        """Whether it is drawn elsewhere than where its mesh lies."""
        return self.shift_mm != NO_SHIFT or self.turn != NO_TURN

    def placed(self, points_mm: Floats) -> Floats:
        """Points of the mesh where they are in the picture, (n, 3)."""
        moved: Floats = np.asarray(points_mm) @ np.asarray(self.turn).T + np.asarray(self.shift_mm)
        return moved


CAREFUL = 4.0


def light_mesh(mesh: Mesh, error_mm: float, haste: float = CAREFUL) -> Mesh:
    """A copy with fewer triangles whose surface stays within about `error_mm` of the original.

    Flat faces, sharp edges and holes survive: quadric errors make them the most expensive to lose.

    Parameters
    ----------
    mesh
        Full resolution.
    error_mm
        Deviation that nobody sees: half a pixel.
    haste
        How fast the search for triangles to leave out accepts larger errors (`agg` of fast-simplification). With
        `CAREFUL` none is larger than a third of a millimetre, so the copy may keep more triangles than wanted.

    Notes
    -----
    The number of triangles follows from the chord error of a surface with the smallest radius worth drawing:
    an edge of length L on radius r deviates by L^2 / (8 r). The radius is 12 mm, about that of a finger or a fur
    stroke. tests/drawing measures the deviation that results.
    """
    edge_mm = float(np.sqrt(8.0 * SMALLEST_RADIUS_MM * error_mm))
    corners = mesh.corners
    area = 0.5 * float(
        np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1).sum()
    )
    wanted = max(int(area / (edge_mm**2 * np.sqrt(3.0) / 4.0)), LEAST_TRIANGLES)
    if wanted >= 0.85 * len(mesh.faces):
        return mesh
    points, faces = fast_simplification.simplify(
        mesh.vertices.astype(np.float32), mesh.faces.astype(np.int32), target_count=wanted, agg=haste
    )
    return Mesh(vertices=points.astype(np.float64), faces=faces.astype(np.int64))


SMALLEST_RADIUS_MM = 12.0
LEAST_TRIANGLES = 600
"""A flange with a dozen holes of 24 sides needs some 600 triangles whatever its area."""


def smooth_groups(mesh: Mesh) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Vertices, unit normals and faces with vertices doubled along sharp edges.

    Faces that hang together over edges blunter than `SHARP_DEG` share normals, others do not.

    Returns
    -------
    tuple
        (n, 3) float64 mm, (n, 3) float64, (m, 3) int64.
    """
    corners = mesh.corners
    weighted = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(weighted, axis=1, keepdims=True)
    normals = weighted / np.where(length > 0.0, length, 1.0)
    first, second = _neighbours(mesh)
    blunt = np.einsum("ij,ij->i", normals[first], normals[second]) > np.cos(np.radians(SHARP_DEG))
    count = len(mesh.faces)
    links = coo_matrix((np.ones(int(blunt.sum())), (first[blunt], second[blunt])), shape=(count, count))
    groups, label = connected_components(links, directed=False)
    keys = mesh.faces * np.int64(groups) + label[:, None].astype(np.int64)
    unique, index = np.unique(keys, return_inverse=True)
    faces = index.reshape(-1, 3).astype(np.int64)
    vertices = mesh.vertices[unique // groups]
    sums = np.column_stack(
        [np.bincount(faces.ravel(), np.repeat(weighted[:, axis], 3), minlength=len(unique)) for axis in range(3)]
    )
    size = np.linalg.norm(sums, axis=1, keepdims=True)
    return vertices, sums / np.where(size > 0.0, size, 1.0), faces


def _neighbours(mesh: Mesh) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of faces that share an edge."""
    edges = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    code = edges[:, 0] * np.int64(len(mesh.vertices)) + edges[:, 1]
    owner = np.repeat(np.arange(len(mesh.faces), dtype=np.int64), 3)
    order = np.argsort(code, kind="stable")
    same = code[order][1:] == code[order][:-1]
    return owner[order[:-1][same]], owner[order[1:][same]]
