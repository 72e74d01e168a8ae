"""Which parts touch, and over which patches? All meshes in, patches for each pair out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.facing import Patch, edge_pieces, facing_patches
from assembler.geometry.flats import find_flats
from assembler.geometry.opposed import facing_samples, normals_and_heights
from assembler.geometry.outlines import Outline, outline_of
from assembler.geometry.samples import Grid, NearCells, Samples, grid_over, near_cells, spread_samples, thinned
from assembler.geometry.skin import open_view

CELL_MM = 8.0
_SEEN = 0.13
"""Share of directions from which a seam on the outer skin is seen at least; places in a cavity stay below."""
_PIECE_MM = 4.0
_THINNED_MM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """A pair of parts that face each other somewhere.

    Parameters
    ----------
    parts
        In the order of the survey.
    patches
        Largest first.
    seam_mm
        Length of their common edge that is seen from outside.
    """

    parts: tuple[PartId, PartId]
    patches: tuple[Patch, ...]
    seam_mm: float

    @property
    def area_mm2(self) -> float:
        """Net facing area."""
        return sum(patch.area_mm2 for patch in self.patches)


def find_touches(
    meshes: Mapping[PartId, Mesh],
    order: tuple[PartId, ...],
    tolerances: Tolerances,
    progress: Callable[[str], None] | None = None,
) -> tuple[Touch, ...]:
    """Every pair of parts with a mating patch, in the order given."""
    listed = [meshes[part] for part in order]
    grid = grid_over(listed, CELL_MM)
    samples = [spread_samples(mesh) for mesh in listed]
    surfaces = [
        _Surface(mesh=mesh, samples=sample, keys=grid.keys(sample.points))
        for mesh, sample in zip(listed, samples, strict=True)
    ]
    cells = [np.unique(surface.keys) for surface in surfaces]
    near = near_cells(cells, grid)
    if progress:
        progress(f"{len(near)} pairs of parts come near each other")
    outlines = _outlines(surfaces, near, grid, tolerances)
    view = _view(cells, grid)
    touches = []
    for i, j in sorted(near):
        patches = facing_patches(outlines[i], outlines[j], tolerances)
        if patches:
            seam = sum(_seam_mm(patch, view, grid) for patch in patches)
            touches.append(Touch(parts=(order[i], order[j]), patches=patches, seam_mm=seam))
    return tuple(touches)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Surface:
    """One mesh with its samples."""

    mesh: Mesh
    samples: Samples
    keys: NDArray[np.int64]


def _outlines(
    surfaces: list[_Surface], near: NearCells, grid: Grid, tolerances: Tolerances
) -> list[tuple[Outline, ...]]:
    """Outlines of the flat regions of each mesh that face another mesh."""
    close: list[list[NDArray[np.int64]]] = [[] for _ in surfaces]
    facing: list[list[NDArray[np.int64]]] = [[] for _ in surfaces]
    for pair in sorted(near):
        faces = _facing_faces((surfaces[pair[0]], surfaces[pair[1]]), near[pair], grid, tolerances)
        for body, cells, met in zip(pair, near[pair], faces, strict=True):
            close[body].append(cells)
            facing[body].append(met)
    result: list[tuple[Outline, ...]] = []
    for surface, there, met in zip(surfaces, close, facing, strict=True):
        if not there:
            result.append(())
            continue
        chosen = np.unique(surface.samples.face[np.isin(surface.keys, np.unique(np.concatenate(there)))])
        flats = find_flats(surface.mesh, chosen, np.unique(np.concatenate(met)))
        result.append(tuple(outline_of(surface.mesh, flat) for flat in flats))
    return result


def _facing_faces(
    pair: tuple[_Surface, _Surface],
    cells: tuple[NDArray[np.int64], NDArray[np.int64]],
    grid: Grid,
    tolerances: Tolerances,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    chosen, normals = [], []
    for surface, there in zip(pair, cells, strict=True):
        samples = surface.samples.at(np.isin(surface.keys, there))
        thin = thinned(samples, normals_and_heights(surface.mesh, samples.face)[1], grid, _THINNED_MM)
        chosen.append(thin)
        normals.append(normals_and_heights(surface.mesh, thin.face)[0])
    met = facing_samples(chosen[0], chosen[1], (normals[0], normals[1]), tolerances)
    return np.unique(chosen[0].face[met[0]]), np.unique(chosen[1].face[met[1]])


def _view(cells: list[NDArray[np.int64]], grid: Grid) -> NDArray[np.float32]:
    occupied = np.zeros(grid.shape, dtype=bool)
    occupied.reshape(-1)[np.unique(np.concatenate(cells))] = True
    return open_view(occupied)


def _seam_mm(patch: Patch, view: NDArray[np.float32], grid: Grid) -> float:
    middle, outward, length, loop = edge_pieces(patch, _PIECE_MM)
    seen = np.zeros(len(middle))
    for cells in (1.5, 2.5):
        key = grid.keys(middle + outward * (cells * grid.cell_mm))
        seen = np.maximum(seen, view.reshape(-1)[key])
    total = 0.0
    for number in range(int(loop.max()) + 1):
        chosen = loop == number
        is_seen = _smoothed(seen[chosen] >= _SEEN, length[chosen])
        total += float(length[chosen][is_seen].sum())
    return total


def _smoothed(is_seen: NDArray[np.bool_], length: NDArray[np.float64], window_mm: float = 24.0) -> NDArray[np.bool_]:
    """Majority within a window along a closed loop, by length."""
    around = np.concatenate((length, length, length))
    weight = np.concatenate((np.where(is_seen, length, 0.0),) * 3)
    place = np.cumsum(around) - around / 2
    sums = np.concatenate(([0.0], np.cumsum(weight)))
    sizes = np.concatenate(([0.0], np.cumsum(around)))
    first = np.searchsorted(place, place - window_mm / 2)
    last = np.searchsorted(place, place + window_mm / 2, side="right")
    share = (sums[last] - sums[first]) / (sizes[last] - sizes[first])
    return np.asarray(share[len(length) : 2 * len(length)] > 0.5)
