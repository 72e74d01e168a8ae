"""How far must a hand go in through free cells? Boolean grids in, lengths of ways out.

A search takes parts off: ways past fewer parts are found from those past more, walking only where they get shorter.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembler.geometry.freespace import Cell, Flags, Grid

# Chamfer weights 3, 4, 5 for neighbours over a face, an edge, a corner (Borgefors, 1986): at most 8 % off.
_WEIGHT_UNIT = 3

_SHUT, _FAR = np.int16(-1), np.int16(32_000)
# What is shut counts as nearer than any way: one look at the number tells both.


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ways:
    """Length of the shortest way to every cell of a grid.

    Parameters
    ----------
    numbers : (a + 2, b + 2, c + 2) int16
        In thirds of a cell, the grid with a shut cell all around; negative where shut, very large where there is no
        way within the limit.
    free : (a, b, c) bool
        Cells that may be entered.
    limit
        Longest way followed, in thirds of a cell.
    cell_mm
        Edge of a cell.
    """

    numbers: NDArray[np.int16]
    free: Flags
    limit: int
    cell_mm: float

    def mm(self, low: Cell = (0, 0, 0), high: Cell | None = None) -> NDArray[np.float32]:
        """Length of the ways to the cells from `low` up to, not including, `high`; inf where there is none."""
        ends = self.free.shape if high is None else high
        cut = self.numbers[tuple(slice(a + 1, b + 1) for a, b in zip(low, ends, strict=True))]
        is_found = (cut >= 0) & (cut < _FAR)
        unit = np.float32(self.cell_mm / _WEIGHT_UNIT)
        return np.where(is_found, cut.astype(np.int32) * unit, np.inf).astype(np.float32)

    def part(self, low: Cell, high: Cell) -> Ways:
        """The same ways on the cells from `low` up to, not including, `high`."""
        free = self.free[tuple(slice(a, b) for a, b in zip(low, high, strict=True))]
        cut = self.numbers[tuple(slice(a, b + 2) for a, b in zip(low, high, strict=True))].copy()
        for axis in range(3):
            for end in (0, -1):
                np.moveaxis(cut, axis, 0)[end] = _SHUT
        return Ways(numbers=cut, free=free, limit=self.limit, cell_mm=self.cell_mm)


def way_in(free: Flags, start: Flags, limit_mm: float, grid: Grid, known: Ways | None = None) -> Ways:
    """Shortest ways through free cells from any start.

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
    known
        Ways on the same grid through no more free cells from no more starts, to begin with.

    Raises
    ------
    ValueError
        If a cell of `known` is free there and not here, or a start there and not here, or the limits differ.

    References
    ----------
    Borgefors, Distance transformations in digital images, 1986: chamfer weights 3, 4, 5 (cited from memory).
    """
    limit = int(limit_mm * _WEIGHT_UNIT / grid.cell_mm)
    padded = tuple(n + 2 for n in free.shape)
    inner = (slice(1, -1),) * 3
    opened, begun = np.zeros(padded, dtype=bool), np.zeros(padded, dtype=bool)
    if known is None:
        numbers = np.full(padded, _SHUT)
        opened[inner], begun[inner] = free, start
    else:
        before = known.numbers[inner] == 0
        if known.limit != limit or (known.free & ~free).any() or (before & ~start).any():
            raise ValueError(
                "ways past more parts were expected: a cell is free there, or a start, that is not one here"
            )
        numbers = known.numbers.copy()
        opened[inner], begun[inner] = free & ~known.free, start & ~before
    numbers[opened] = _FAR
    numbers[begun] = 0
    opened &= ~begun
    # At first only starts beside free cells matter, and most cells of a grid lie outside of everything.
    window = _around(opened if known is None else opened | begun)
    if window is not None:
        _spread(numbers, _sources(numbers, opened, begun, window), limit)
    return Ways(numbers=numbers, free=free, limit=limit, cell_mm=grid.cell_mm)


def _sources(
    numbers: NDArray[np.int16], opened: Flags, begun: Flags, window: tuple[slice, slice, slice]
) -> NDArray[np.int64]:
    """Flat numbers of cells from which ways to others may get shorter: new starts, and what lies beside new free ones.

    Looked for in a window and one cell around it.
    """
    wide = tuple(slice(max(0, w.start - 1), w.stop + 1) for w in window)
    near = numbers[wide]
    found = _beside(opened[wide]) & (near >= 0) & (near < _FAR)
    found |= begun[wide] & _beside(near > 0)
    places = [axis + w.start for axis, w in zip(np.nonzero(found), wide, strict=True)]
    return np.asarray(np.ravel_multi_index(tuple(places), numbers.shape), dtype=np.int64)


def _around(flags: Flags) -> tuple[slice, slice, slice] | None:
    """The part of a grid that holds all flags; None for no flag."""
    found = []
    for axis in range(3):
        others = tuple(k for k in range(3) if k != axis)
        places = np.flatnonzero(flags.any(axis=others))
        if not len(places):
            return None
        found.append(slice(int(places[0]), int(places[-1]) + 1))
    return found[0], found[1], found[2]


def _beside(flags: Flags) -> Flags:
    """Flagged cells and their neighbours over faces, edges and corners."""
    for axis in range(3):
        grown = flags.copy()
        ahead: list[slice] = [slice(None)] * 3
        behind: list[slice] = [slice(None)] * 3
        ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
        grown[tuple(ahead)] |= flags[tuple(behind)]
        grown[tuple(behind)] |= flags[tuple(ahead)]
        flags = grown
    return flags


def _spread(numbers: NDArray[np.int16], sources: NDArray[np.int64], limit: int) -> None:
    """Shorten ways, in place, wherever one through a source, or through a cell shortened before, is shorter."""
    if not len(sources):
        return
    distance = numbers.reshape(-1)
    mark = np.empty(distance.size, dtype=np.int32)
    buckets: list[list[NDArray[np.int64]]] = [[] for _ in range(limit + 6)]
    lengths = distance[sources]
    order = np.argsort(lengths, kind="stable")
    values, firsts = np.unique(lengths[order], return_index=True)
    for length, cells in zip(values.tolist(), np.split(sources[order], firsts[1:]), strict=True):
        buckets[length].append(cells)
    steps = _neighbours(numbers.shape)
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
    for beyond in buckets[limit + 1 :]:
        for cells in beyond:
            distance[cells[distance[cells] > limit]] = _FAR


def _neighbours(shape: tuple[int, ...]) -> list[tuple[NDArray[np.int64], int]]:
    """Steps in flat numbers to the neighbours over faces, edges and corners, each kind with its weight."""
    found: dict[int, list[int]] = {1: [], 2: [], 3: []}
    for x, y, z in product((-1, 0, 1), repeat=3):
        rank = abs(x) + abs(y) + abs(z)
        if rank:
            found[rank].append(int((x * shape[1] + y) * shape[2] + z))
    return [(np.array(steps, dtype=np.int64), _WEIGHT_UNIT - 1 + rank) for rank, steps in found.items()]
