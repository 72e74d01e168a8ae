"""Where do bodies come near each other? Surface points on a common grid of cells, for all bodies at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, Points
from assembler.roombound import check_room, memory_bytes

NearCells = dict[tuple[int, int], tuple[NDArray[np.int64], NDArray[np.int64]]]

_POINT_BYTES = 160
"""What a point takes while rows of points are worked out, measured 120, with its cell and face beside it."""
SPACING_MM = 4.0
"""Largest distance between neighbouring sample points on a face."""


def most_area_mm2() -> float:
    """Surface of one body that samples may be spread over: 430 m2 in 4 GiB."""
    return memory_bytes() / _POINT_BYTES * SPACING_MM**2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Points spread over the faces of one mesh.

    Parameters
    ----------
    points : (n, 3) float64, mm
    face : (n,) int64
        Face of each point.
    """

    points: Points
    face: NDArray[np.int64]

    def at(self, chosen: NDArray[np.int64] | NDArray[np.bool_]) -> Samples:
        """Some of the points."""
        return Samples(points=self.points[chosen], face=self.face[chosen])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grid:
    """Cubic cells over the whole figure.

    Parameters
    ----------
    low_mm : (3,) float64
        Corner of cell (0, 0, 0).
    cell_mm
        Edge.
    shape
        Cells along x, y, z; one empty layer all round.
    """

    low_mm: NDArray[np.float64]
    cell_mm: float
    shape: tuple[int, int, int]

    def keys(self, points: Points) -> NDArray[np.int64]:
        """Number of the cell that holds each point; points outside get the nearest cell."""
        index = ((points - self.low_mm) / self.cell_mm).astype(np.int64)
        np.clip(index, 0, np.array(self.shape) - 1, out=index)
        return (index[:, 0] * self.shape[1] + index[:, 1]) * self.shape[2] + index[:, 2]

    def about(self, keys: NDArray[np.int64]) -> NDArray[np.int64]:
        """Numbers of cells and of the 26 round each of them, sorted."""
        steps = np.array(list(product((-1, 0, 1), repeat=3)))
        shift = (steps[:, 0] * self.shape[1] + steps[:, 1]) * self.shape[2] + steps[:, 2]
        return np.unique(keys[:, None] + shift)


def grid_over(meshes: Sequence[Mesh], cell_mm: float, limit: int = 30_000_000) -> Grid:
    """A grid that holds all meshes, of at most about `limit` cells (cells grow where that needs it)."""
    low = np.min([mesh.vertices.min(axis=0) for mesh in meshes], axis=0)
    high = np.max([mesh.vertices.max(axis=0) for mesh in meshes], axis=0)
    cell = max(cell_mm, float(np.cbrt(np.prod(np.maximum(high - low, cell_mm)) / limit)))
    shape = np.ceil((high - low) / cell).astype(int) + 3
    return Grid(low_mm=low - 1.25 * cell, cell_mm=cell, shape=(int(shape[0]), int(shape[1]), int(shape[2])))


def spread_samples(mesh: Mesh, spacing_mm: float = SPACING_MM) -> Samples:
    """Points on every face, no farther apart than the spacing; small faces get their centre.

    A large face is covered by rows parallel to its longest edge, so that a long thin face gets one row only.
    """
    a, b, c = (mesh.vertices[mesh.faces[:, corner]] for corner in range(3))
    extent = np.maximum(np.maximum(a, b), c) - np.minimum(np.minimum(a, b), c)
    is_large = np.maximum(np.maximum(extent[:, 0], extent[:, 1]), extent[:, 2]) > spacing_mm
    small, large = np.flatnonzero(~is_large), np.flatnonzero(is_large)
    points, face, _ = _rows(mesh.vertices[mesh.faces[large]], large, spacing_mm)
    middle = (a[small] + b[small] + c[small]) / 3
    return Samples(points=np.concatenate((middle, points)), face=np.concatenate((small, face)))


def share_samples(mesh: Mesh, spacing_mm: float) -> tuple[Samples, NDArray[np.float64]]:
    """The same points, face by face, and the share of its face's area that each stands for."""
    everything = np.arange(len(mesh.faces))
    points, face, share = _rows(mesh.vertices[mesh.faces], everything, spacing_mm)
    return Samples(points=points, face=face), share


def _rows(
    corners: Points, number: NDArray[np.int64], spacing_mm: float
) -> tuple[Points, NDArray[np.int64], NDArray[np.float64]]:
    edges = np.roll(corners, -1, axis=1) - corners
    length = np.linalg.norm(edges, axis=2)
    longest = length.argmax(axis=1)
    each = np.arange(len(corners))
    a = corners[each, longest]
    along = edges[each, longest]
    apex = corners[each, (longest + 2) % 3] - a
    base = length[each, longest]
    height = np.linalg.norm(np.cross(along, apex), axis=1) / np.maximum(base, 1e-30)
    need = float(np.sum(np.maximum(np.ceil(height / spacing_mm), 1) * np.ceil(base / spacing_mm + 1)) / 2)
    check_room(_POINT_BYTES * need, f"{need:.3g} points, one every {spacing_mm:g} mm of a surface,")
    rows = np.maximum(np.ceil(height / spacing_mm), 1).astype(np.int64)
    of_row = np.repeat(each, rows)
    level = (_counted(rows) + 0.5) / rows[of_row]
    width = base[of_row] * (1 - level)
    columns = np.maximum(np.ceil(width / spacing_mm), 1).astype(np.int64)
    of_point = np.repeat(np.arange(len(of_row)), columns)
    share = (_counted(columns) + 0.5) / columns[of_point]
    # A strip between two rows covers the more, the nearer it is to the longest edge.
    part = (2 * (1 - level) / rows[of_row] / columns)[of_point]
    triangle, level = of_row[of_point], level[of_point]
    points = a[triangle] + apex[triangle] * level[:, None] + along[triangle] * ((1 - level) * share)[:, None]
    return points, number[triangle], part


def _counted(counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """0, 1, ... within each run of the given lengths."""
    total = np.arange(int(counts.sum()), dtype=np.int64)
    return total - np.repeat(np.cumsum(counts) - counts, counts)


def near_cells(cells: Sequence[NDArray[np.int64]], grid: Grid) -> NearCells:
    """For each pair of bodies that come within about a cell of each other, the cells where they do.

    Parameters
    ----------
    cells
        For each body, the sorted numbers of the cells that its samples lie in.
    grid
        The grid of the numbers.

    Returns
    -------
    dict
        (i, j) with i < j to the cells of i and the cells of j, each sorted.
    """
    cells = _near_boxes(cells, grid)
    key = np.concatenate(cells)
    body = np.repeat(np.arange(len(cells)), [len(chosen) for chosen in cells])
    order = np.lexsort((body, key))
    key, body = key[order], body[order]
    found_here, found_there = [], []
    for step in product((-1, 0, 1), repeat=3):
        if step < (0, 0, 0):
            continue
        target = key + (step[0] * grid.shape[1] + step[1]) * grid.shape[2] + step[2]
        first = np.searchsorted(key, target, side="left")
        count = np.searchsorted(key, target, side="right") - first
        here = np.repeat(np.arange(len(key)), count)
        there = np.repeat(first, count) + _counted(count)
        is_other = body[here] < body[there] if step == (0, 0, 0) else body[here] != body[there]
        found_here.append(here[is_other])
        found_there.append(there[is_other])
    here, there = np.concatenate(found_here), np.concatenate(found_there)
    swap = body[here] > body[there]
    here, there = np.where(swap, there, here), np.where(swap, here, there)
    pair = body[here] * len(cells) + body[there]
    order = np.argsort(pair, kind="stable")
    if not len(order):
        return {}
    starts = np.flatnonzero(np.concatenate(([True], np.diff(pair[order]) != 0)))
    result = {}
    for start, end in zip(starts, [*starts[1:], len(order)], strict=True):
        chosen = order[start:end]
        i, j = divmod(int(pair[chosen[0]]), len(cells))
        result[i, j] = (np.unique(key[here[chosen]]), np.unique(key[there[chosen]]))
    return result


def _near_boxes(cells: Sequence[NDArray[np.int64]], grid: Grid) -> list[NDArray[np.int64]]:
    """The cells of each body that lie within a cell of the box of another: most of a large part lie far from it."""
    places = [np.column_stack(np.unravel_index(chosen, grid.shape)) for chosen in cells]
    lows = np.array([place.min(axis=0) for place in places]) - 1
    highs = np.array([place.max(axis=0) for place in places]) + 1
    found = []
    for body, (chosen, place) in enumerate(zip(cells, places, strict=True)):
        meets = np.all((lows <= highs[body] - 1) & (highs >= lows[body] + 1), axis=1)
        meets[body] = False
        is_near = np.zeros(len(chosen), dtype=bool)
        for other in np.flatnonzero(meets):
            is_near |= np.all((place >= lows[other]) & (place <= highs[other]), axis=1)
        found.append(chosen[is_near])
    return found


def thinned(samples: Samples, weight: NDArray[np.float64], grid: Grid, spacing_mm: float) -> Samples:
    """One point for each small cell, that of the greatest weight.

    Parameters
    ----------
    samples
        Points of one body.
    weight : (n,) float64
        For each point.
    grid
        Where the small cells start.
    spacing_mm
        Edge of a small cell.
    """
    shape = [int(np.ceil(count * grid.cell_mm / spacing_mm)) + 1 for count in grid.shape]
    fine = Grid(low_mm=grid.low_mm, cell_mm=spacing_mm, shape=(shape[0], shape[1], shape[2]))
    order = np.lexsort((samples.face, -weight))
    _, first = np.unique(fine.keys(samples.points[order]), return_index=True)
    return samples.at(np.sort(order[first]))
