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
from assembler.geometry.outlines import Outline, outline_of
from assembler.geometry.samples import Grid, Samples, grid_over, near_cells, spread_samples
from assembler.geometry.skin import open_view

CELL_MM = 8.0
_SEEN = 0.13
"""Share of directions from which a seam on the outer skin is seen at least; places in a cavity stay below."""
_PIECE_MM = 4.0


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
    keys = [grid.keys(sample.points) for sample in samples]
    cells = [np.unique(key) for key in keys]
    near = near_cells(cells, grid)
    if progress:
        progress(f"{len(near)} pairs of parts come near each other")
    outlines = _outlines(listed, samples, keys, near)
    view = _view(cells, grid)
    touches = []
    for i, j in sorted(near):
        patches = facing_patches(outlines[i], outlines[j], tolerances)
        if patches:
            seam = sum(_seam_mm(patch, view, grid) for patch in patches)
            touches.append(Touch(parts=(order[i], order[j]), patches=patches, seam_mm=seam))
    return tuple(touches)


def _outlines(
    meshes: list[Mesh],
    samples: list[Samples],
    keys: list[NDArray[np.int64]],
    near: dict[tuple[int, int], tuple[NDArray[np.int64], NDArray[np.int64]]],
) -> list[tuple[Outline, ...]]:
    """Outlines of the flat regions of each mesh, looked for only where another mesh is near."""
    close: list[list[NDArray[np.int64]]] = [[] for _ in meshes]
    for (i, j), (cells_i, cells_j) in near.items():
        close[i].append(cells_i)
        close[j].append(cells_j)
    result: list[tuple[Outline, ...]] = []
    for mesh, sample, key, cells in zip(meshes, samples, keys, close, strict=True):
        if not cells:
            result.append(())
            continue
        chosen = np.unique(sample.face[np.isin(key, np.unique(np.concatenate(cells)))])
        result.append(tuple(outline_of(mesh, flat) for flat in find_flats(mesh, chosen)))
    return result


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
