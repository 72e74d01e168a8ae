"""Where do the surfaces of parts come near each other and look at each other? Meshes in, faces for each pair out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Vector
from assembler.figure.tolerances import Tolerances
from assembler.geometry.opposed import facing_samples, normals_and_heights
from assembler.geometry.samples import (
    SPACING_MM,
    Grid,
    NearCells,
    Samples,
    grid_over,
    near_cells,
    spread_samples,
    thinned,
)
from assembler.geometry.skin import open_view
from assembler.projectfiles.keptarrays import KeptArrays

CELL_MM = 8.0
"""Edge of the cells in which surfaces are compared: twice the spacing of the samples."""
_THINNED_MM = 3.0

Pair = tuple[int, int]
FacePair = tuple[NDArray[np.int64], NDArray[np.int64]]


class Surface:
    """One mesh on the grid, with samples that are spread when something new is asked about it.

    Parameters
    ----------
    mesh
        In mm.
    grid
        Of all meshes.
    kept
        What earlier runs found for the same mesh on the same grid.
    """

    def __init__(self, mesh: Mesh, grid: Grid, kept: KeptArrays) -> None:
        self.mesh = mesh
        self._grid = grid
        self._kept = kept

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
        key = self._kept.key("cells", mesh_digest(self.mesh), SPACING_MM, grid_question(self._grid))
        known = self._kept.get(key)
        if known is not None:
            return known.arrays["cells"]
        found = np.unique(self.keys)
        self._kept.put(key, {"cells": found})
        return found

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

    def question(self, body: int) -> list[object]:
        """All that this record says about a body rests on: its mesh, those of the bodies near it, and the grid."""
        others = [[body == pair[0], self._digest(sum(pair) - body)] for pair in sorted(self.cells) if body in pair]
        return [self._digest(body), others, *grid_question(self.grid)]

    def _digest(self, body: int) -> str:
        return mesh_digest(self.surfaces[body].mesh)

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


def grid_question(grid: Grid) -> list[object]:
    """All that a grid says."""
    return [grid.low_mm.tolist(), grid.cell_mm, list(grid.shape)]


def _pair(item: tuple[Pair, object]) -> Pair:
    return item[0]


def find_nearness(meshes: Sequence[Mesh], tolerances: Tolerances, kept: KeptArrays | None = None) -> Nearness:
    """Which bodies come near each other, and with which faces.

    Parameters
    ----------
    meshes, tolerances
        All bodies, mm, and what counts as near.
    kept
        What earlier runs found for the same bodies beside the same others.
    """
    kept = kept or KeptArrays()
    grid = grid_over(meshes, CELL_MM)
    surfaces = tuple(Surface(mesh, grid, kept) for mesh in meshes)
    near = near_cells([surface.cells for surface in surfaces], grid)
    found = Nearness(grid=grid, surfaces=surfaces, cells=near, facing={})
    facing = {}
    for body in sorted({first for first, _ in near}):
        faces_of = _remembered_facing(found, body, tolerances, kept)
        facing.update({pair: faces for pair, faces in faces_of.items() if len(faces[0]) and len(faces[1])})
    return replace(found, facing=facing)


def _remembered_facing(near: Nearness, body: int, tolerances: Tolerances, kept: KeptArrays) -> dict[Pair, FacePair]:
    """Faces of a body and of each later one near it that look at each other."""
    pairs = [pair for pair in sorted(near.cells) if pair[0] == body]
    key = kept.key("facing", near.question(body), asdict(tolerances))
    known = kept.get(key)
    if known is not None:
        return {pair: (known.arrays[f"one{k}"], known.arrays[f"two{k}"]) for k, pair in enumerate(pairs)}
    found = {}
    for pair in pairs:
        surfaces = (near.surfaces[pair[0]], near.surfaces[pair[1]])
        found[pair] = _facing_faces(surfaces, near.cells[pair], near.grid, tolerances)
    sides = ("one", "two")
    kept.put(key, {f"{side}{k}": found[pair][s] for k, pair in enumerate(pairs) for s, side in enumerate(sides)})
    return found


def _facing_faces(pair: tuple[Surface, Surface], cells: FacePair, grid: Grid, tolerances: Tolerances) -> FacePair:
    chosen, normals = [], []
    for surface, there in zip(pair, cells, strict=True):
        samples = surface.samples.at(np.isin(surface.keys, there))
        thin = thinned(samples, normals_and_heights(surface.mesh, samples.face)[1], grid, _THINNED_MM)
        chosen.append(thin)
        normals.append(normals_and_heights(surface.mesh, thin.face)[0])
    met = facing_samples(chosen[0], chosen[1], (normals[0], normals[1]), tolerances)
    return np.unique(chosen[0].face[met[0]]), np.unique(chosen[1].face[met[1]])
