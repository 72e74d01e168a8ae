"""Where do the surfaces of parts come near each other and look at each other? Meshes in, faces for each pair out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.tolerances import Tolerances
from assembler.geometry.opposed import facing_samples, normals_and_heights
from assembler.geometry.samples import (
    Grid,
    NearCells,
    Samples,
    grid_over,
    near_cells,
    spread_samples,
    thinned,
)
from assembler.geometry.visibility import open_view

CELL_MM = 8.0
"""Edge of the cells in which surfaces are compared: twice the spacing of the samples."""
_THINNED_MM = 3.0

Pair = tuple[int, int]
FacePair = tuple[NDArray[np.int64], NDArray[np.int64]]


class Surface:
    """One mesh on the grid, with samples that are spread when something is asked about it.

    Parameters
    ----------
    mesh
        In mm.
    grid
        Of all meshes.
    """

    def __init__(self, mesh: Mesh, grid: Grid) -> None:
        self.mesh = mesh
        self._grid = grid

    @cached_property
    def samples(self) -> Samples:
        """Points spread over the faces."""
        return spread_samples(self.mesh)

    @cached_property
    def keys(self) -> NDArray[np.int64]:
        """The cell of each sample."""
        return self._grid.keys(self.samples.points)

    @cached_property
    def cells(self) -> NDArray[np.int64]:
        """Cells that hold a sample, ascending."""
        return np.unique(self.keys)

    def cells_of(self, faces: NDArray[np.int64]) -> NDArray[np.int64]:
        """Cells that hold a sample of one of the faces, ascending."""
        return np.unique(self.keys[np.isin(self.samples.face, faces)])

    def faces_in(self, cells: NDArray[np.int64]) -> NDArray[np.int64]:
        """Faces with a sample in one of the cells, ascending."""
        return np.unique(self.samples.face[np.isin(self.keys, cells)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Nearness:
    """All surfaces on one grid.

    Parameters
    ----------
    grid, surfaces
        The grid and the bodies.
    cells
        For each pair that comes near, the cells of both bodies where it does.
    facing
        For each of these pairs, faces of both bodies that look at the other closely.
    """

    grid: Grid
    surfaces: tuple[Surface, ...]
    cells: NearCells
    facing: dict[Pair, FacePair]

    def close_faces(self, body: int) -> NDArray[np.int64]:
        """Faces of a body near any other body."""
        there = [cells[pair.index(body)] for pair, cells in sorted(self.cells.items(), key=_pair) if body in pair]
        return self.surfaces[body].faces_in(np.unique(np.concatenate(there)))

    def facing_faces(self, body: int) -> NDArray[np.int64]:
        """Faces of a body that look at any other body."""
        there = [faces[pair.index(body)] for pair, faces in sorted(self.facing.items(), key=_pair) if body in pair]
        return np.unique(np.concatenate(there)) if there else np.zeros(0, dtype=np.int64)

    def view(self, up: Vector) -> NDArray[np.float32]:
        """Share of the directions, those from below left out, from which each cell is seen."""
        occupied = np.zeros(self.grid.shape, dtype=bool)
        for surface in self.surfaces:
            occupied.reshape(-1)[surface.cells] = True
        return open_view(occupied, up)


def _pair(item: tuple[Pair, object]) -> Pair:
    return item[0]


def find_nearness(meshes: Sequence[Mesh], tolerances: Tolerances) -> Nearness:
    """Which bodies come near each other, and with which faces.

    Parameters
    ----------
    meshes, tolerances
        All bodies, mm, and what counts as near.
    """
    grid = grid_over(meshes, CELL_MM)
    surfaces = tuple(Surface(mesh, grid) for mesh in meshes)
    near = near_cells([surface.cells for surface in surfaces], grid)
    facing = {}
    for pair in sorted(near):
        faces = _facing_faces((surfaces[pair[0]], surfaces[pair[1]]), near[pair], grid, tolerances)
        if len(faces[0]) and len(faces[1]):
            facing[pair] = faces
    return Nearness(grid=grid, surfaces=surfaces, cells=near, facing=facing)


def _facing_faces(pair: tuple[Surface, Surface], cells: FacePair, grid: Grid, tolerances: Tolerances) -> FacePair:
    chosen, normals = [], []
    for surface, there in zip(pair, cells, strict=True):
        samples = surface.samples.at(np.isin(surface.keys, there))
        thin = thinned(samples, normals_and_heights(surface.mesh, samples.face)[1], grid, _THINNED_MM)
        chosen.append(thin)
        normals.append(normals_and_heights(surface.mesh, thin.face)[0])
    met = facing_samples(chosen[0], chosen[1], (normals[0], normals[1]), tolerances)
    return np.unique(chosen[0].face[met[0]]), np.unique(chosen[1].face[met[1]])
