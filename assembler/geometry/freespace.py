"""How far must a hand go in, and does it fit, past what stands? Boolean grids in, distances out.

A part is put on the grid once; what stands is the union of its parts. Growing a union by a radius is the union of the
grown parts, so a search that visits many states only combines grids.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, label

from assembler.figure.mesh import Mesh, Points

Flags = NDArray[np.bool_]
Cell = tuple[int, int, int]

# Chamfer weights 3, 4, 5 for neighbours over a face, an edge, a corner (Borgefors, 1986): at most 8 % off.
_WEIGHT_UNIT = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A box of cubic cells.

    Parameters
    ----------
    origin_mm
        Lowest corner.
    cell_mm
        Edge of a cell.
    shape
        Number of cells.
    """

    origin_mm: tuple[float, float, float]
    cell_mm: float
    shape: tuple[int, int, int]

    def cell_of(self, points: Points) -> NDArray[np.int64]:
        """Cells that points lie in, (n, 3); may lie outside the grid."""
        cells = np.floor((np.asarray(points) - self.origin_mm) / self.cell_mm).astype(np.int64)
        return np.asarray(cells)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """Cells of one part: a small block of flags and where it lies in the grid.

    Parameters
    ----------
    low
        First cell of the block; the block lies inside the grid.
    flags
        What is taken.
    """

    low: tuple[int, int, int]
    flags: Flags

    @property
    def window(self) -> tuple[slice, slice, slice]:
        """Place of the block in the grid."""
        x, y, z = self.low
        a, b, c = self.flags.shape
        return slice(x, x + a), slice(y, y + b), slice(z, z + c)


def grid_around(low_mm: Points, high_mm: Points, cell_mm: float, margin_mm: float, *, multiple: int = 1) -> Grid:
    """A grid around a box, its shape a multiple of a whole number of cells.

    Parameters
    ----------
    low_mm, high_mm : (3,) float64
        The box.
    cell_mm, margin_mm
        Edge of a cell; free room on all sides.
    multiple
        Each count of cells is rounded up to a multiple of this, so that a coarser grid fits.
    """
    low = np.asarray(low_mm) - margin_mm
    size = np.asarray(high_mm) + margin_mm - low
    cells = (np.ceil(size / cell_mm / multiple).astype(np.int64) * multiple).tolist()
    return Grid(
        origin_mm=(float(low[0]), float(low[1]), float(low[2])),
        cell_mm=cell_mm,
        shape=(int(cells[0]), int(cells[1]), int(cells[2])),
    )


def coarser(grid: Grid, factor: int) -> Grid:
    """The same box in larger cells; the grid's shape must be a multiple of the factor."""
    a, b, c = (count // factor for count in grid.shape)
    return Grid(origin_mm=grid.origin_mm, cell_mm=grid.cell_mm * factor, shape=(a, b, c))


def surface_points(mesh: Mesh, spacing_mm: float) -> Points:
    """Points on a surface, none farther than the spacing from its neighbours, (n, 3) float64.

    Small triangles give their corners; larger ones a raster of rows parallel to their longest edge, so that slivers do
    not give more points than they are worth.
    """
    corners = mesh.corners
    edges = np.roll(corners, -1, axis=1) - corners
    lengths = np.sqrt(np.einsum("tkx,tkx->tk", edges, edges))
    longest = np.argmax(lengths, axis=1)
    length = lengths[np.arange(len(corners)), longest]
    large = np.flatnonzero(length > spacing_mm)
    turned = np.take_along_axis(corners[large], ((longest[large, None] + np.arange(3)) % 3)[:, :, None], axis=1)
    base, side = turned[:, 1] - turned[:, 0], turned[:, 2] - turned[:, 0]
    height = np.linalg.norm(np.cross(base, side), axis=1) / np.maximum(length[large], 1e-9)
    along = np.ceil(length[large] / spacing_mm).astype(np.int64)
    across = np.maximum(1, np.ceil(height / spacing_mm)).astype(np.int64)
    found = [mesh.vertices]
    for rows in np.unique(across).tolist():
        for row in range(rows):
            found.append(_row_of_points(turned, base, side, along, across == rows, row / rows))
    return np.concatenate(found)


def _row_of_points(
    turned: Points, base: Points, side: Points, along: NDArray[np.int64], chosen: Flags, share: float
) -> Points:
    """Points along one row, at the same share of the height of each triangle, (n, 3)."""
    count = np.maximum(1, np.ceil(along[chosen] * (1.0 - share)).astype(np.int64)) + 1
    which = np.repeat(np.flatnonzero(chosen), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    place = step / np.repeat(count - 1, count) * (1.0 - share)
    row: Points = turned[which, 0] + place[:, None] * base[which] + share * side[which]
    return row


def patch_of(points: Points, grid: Grid) -> Patch:
    """Cells that hold a point; points outside the grid are left out."""
    cells = [np.floor((points[:, axis] - grid.origin_mm[axis]) / grid.cell_mm).astype(np.int32) for axis in range(3)]
    inside = np.ones(len(points), dtype=bool)
    for axis in range(3):
        inside &= (cells[axis] >= 0) & (cells[axis] < grid.shape[axis])
    if not inside.any():
        return Patch(low=(0, 0, 0), flags=np.zeros((1, 1, 1), dtype=bool))
    x, y, z = (axis[inside] for axis in cells)
    low = (int(x.min()), int(y.min()), int(z.min()))
    flags = np.zeros((int(x.max()) - low[0] + 1, int(y.max()) - low[1] + 1, int(z.max()) - low[2] + 1), dtype=bool)
    flags[x - low[0], y - low[1], z - low[2]] = True
    return Patch(low=low, flags=flags)


def grown(patch: Patch, radius_mm: float, grid: Grid) -> Patch:
    """All cells whose centre lies nearer than a radius to the centre of a taken cell."""
    pad = math.ceil(radius_mm / grid.cell_mm)
    low = np.maximum(np.asarray(patch.low) - pad, 0)
    high = np.minimum(np.asarray(patch.low) + patch.flags.shape + pad, grid.shape)
    flags = np.zeros(high - low, dtype=bool)
    offset = np.asarray(patch.low) - low
    flags[tuple(slice(o, o + n) for o, n in zip(offset, patch.flags.shape, strict=True))] = patch.flags
    if flags.any():
        flags = distance_transform_edt(~flags) * grid.cell_mm < radius_mm
    return Patch(low=(int(low[0]), int(low[1]), int(low[2])), flags=flags)


def combined(patches: Iterable[Patch], grid: Grid) -> Flags:
    """The union of patches over the whole grid."""
    return combined_within(patches, (0, 0, 0), grid.shape)


def combined_within(patches: Iterable[Patch], low: Cell, high: Cell) -> Flags:
    """The union of patches over the cells from `low` up to, not including, `high`."""
    taken = np.zeros(tuple(max(0, b - a) for a, b in zip(low, high, strict=True)), dtype=bool)
    for patch in patches:
        first = [max(a, p) for a, p in zip(low, patch.low, strict=True)]
        last = [min(b, p + n) for b, p, n in zip(high, patch.low, patch.flags.shape, strict=True)]
        if any(f >= e for f, e in zip(first, last, strict=True)):
            continue
        here = tuple(slice(f - a, e - a) for f, e, a in zip(first, last, low, strict=True))
        there = tuple(slice(f - p, e - p) for f, e, p in zip(first, last, patch.low, strict=True))
        taken[here] |= patch.flags[there]
    return taken


def part_of_grid(grid: Grid, low: Cell, high: Cell) -> Grid:
    """The cells of a grid from `low` up to, not including, `high`, as a grid of their own."""
    x, y, z = (origin + a * grid.cell_mm for origin, a in zip(grid.origin_mm, low, strict=True))
    a, b, c = (end - start for start, end in zip(low, high, strict=True))
    return Grid(origin_mm=(x, y, z), cell_mm=grid.cell_mm, shape=(a, b, c))


def outside_of(blocked: Flags, radius_mm: float, grid: Grid) -> Flags:
    """Cells that a ball rolling in from the edge of the grid can cover: where the body of a person can be.

    Parameters
    ----------
    blocked
        Cells that the centre of the ball cannot take (parts grown by its radius).
    radius_mm
        Of the ball.
    grid
        Where `blocked` lies; its margin must be wider than the ball.
    """
    regions, _ = label(~blocked)
    rim = [regions[index].ravel() for axis in range(3) for index in _faces(axis)]
    numbers = np.unique(np.concatenate(rim))
    centres = np.isin(regions, numbers[numbers > 0])
    if not centres.any():
        return centres
    # Cells hold surface anywhere inside them: stay two half diagonals away, or the far side of a thin wall is covered.
    covered: Flags = distance_transform_edt(~centres) * grid.cell_mm < radius_mm - math.sqrt(3.0) * grid.cell_mm
    return covered


def _faces(axis: int) -> list[tuple[slice | int, ...]]:
    found: list[tuple[slice | int, ...]] = []
    for end in (0, -1):
        index: list[slice | int] = [slice(None)] * 3
        index[axis] = end
        found.append(tuple(index))
    return found


def refined(flags: Flags, factor: int) -> Flags:
    """Flags of a coarser grid on the finer one."""
    for axis in range(3):
        flags = np.repeat(flags, factor, axis=axis)
    return flags


def way_in(free: Flags, start: Flags, limit_mm: float, grid: Grid) -> NDArray[np.float32]:
    """Length of the shortest way through free cells from any start, mm; inf where there is none within the limit.

    Parameters
    ----------
    free
        Cells that may be entered.
    start
        Cells where the way is 0, whether free or not.
    limit_mm
        Ways longer than this are not followed.
    grid
        Of both.

    References
    ----------
    Borgefors, Distance transformations in digital images, 1986: chamfer weights 3, 4, 5 (cited from memory).
    """
    result = np.full(free.shape, np.inf, dtype=np.float32)
    result[start] = 0.0
    inside = free & ~start
    window = _around(inside)
    if window is None:
        return result
    distance = _spread(inside[window], start[window], int(limit_mm * _WEIGHT_UNIT / grid.cell_mm))
    unit = np.float32(grid.cell_mm / _WEIGHT_UNIT)
    result[window] = np.where(distance >= 0, distance * unit, np.float32(np.inf))
    return result


def _around(flags: Flags) -> tuple[slice, slice, slice] | None:
    """The part of a grid that holds all flags and one cell around; None for no flag."""
    found = []
    for axis in range(3):
        others = tuple(k for k in range(3) if k != axis)
        places = np.flatnonzero(flags.any(axis=others))
        if not len(places):
            return None
        found.append(slice(max(0, int(places[0]) - 1), int(places[-1]) + 2))
    return found[0], found[1], found[2]


def _spread(inside: Flags, start: Flags, limit: int) -> NDArray[np.int32]:
    """Chamfer distance from the start through the inside, in thirds of a cell; -1 beyond the limit."""
    shape = np.asarray(inside.shape) + 2
    padded = np.zeros(shape, dtype=bool)
    padded[1:-1, 1:-1, 1:-1] = inside
    far = limit + 6
    # What is not open counts as nearer than any way: one look at the distance tells both.
    distance = np.where(padded.reshape(-1), np.int32(far), np.int32(-1))
    mark = np.empty(distance.size, dtype=np.int32)
    seeds = np.zeros(shape, dtype=bool)
    seeds[1:-1, 1:-1, 1:-1] = start
    first = _rim(seeds, padded)
    distance[first] = 0
    buckets: list[list[NDArray[np.int64]]] = [[] for _ in range(limit + 6)]
    buckets[0].append(first)
    steps = _neighbours(shape)
    for now in range(limit + 1):
        if not buckets[now]:
            continue
        cells = np.concatenate(buckets[now])
        buckets[now] = []
        # A cell may have been filed twice: keep one entry of each, and none that was reached sooner.
        mark[cells] = np.arange(len(cells), dtype=np.int32)
        cells = cells[(distance[cells] == now) & (mark[cells] == np.arange(len(cells)))]
        for offsets, weight in steps:
            reached = (cells + offsets[:, None]).ravel()
            reached = reached[distance[reached] > now + weight]
            if len(reached):
                distance[reached] = now + weight
                buckets[now + weight].append(reached)
    distance[distance > limit] = -1
    result = distance.reshape(shape)[1:-1, 1:-1, 1:-1]
    result[start] = 0
    return result


def _rim(seeds: Flags, open_cells: Flags) -> NDArray[np.int64]:
    """Flat numbers of the seeds over a face of an open cell: every way starts there."""
    beside = np.zeros_like(seeds)
    for axis in range(3):
        ahead: list[slice] = [slice(None)] * 3
        behind: list[slice] = [slice(None)] * 3
        ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
        beside[tuple(ahead)] |= open_cells[tuple(behind)]
        beside[tuple(behind)] |= open_cells[tuple(ahead)]
    return np.flatnonzero(seeds & beside)


def _neighbours(shape: NDArray[np.int64]) -> list[tuple[NDArray[np.int64], int]]:
    """Steps in flat numbers to the neighbours over faces, edges and corners, each kind with its weight."""
    found: dict[int, list[int]] = {1: [], 2: [], 3: []}
    for x, y, z in product((-1, 0, 1), repeat=3):
        rank = abs(x) + abs(y) + abs(z)
        if rank:
            found[rank].append(int((x * shape[1] + y) * shape[2] + z))
    return [(np.array(steps, dtype=np.int64), _WEIGHT_UNIT - 1 + rank) for rank, steps in found.items()]
