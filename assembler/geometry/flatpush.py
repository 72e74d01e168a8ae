"""How far in does a flat hand come that is pushed straight through an opening? Boolean grids in, distances out.

A ball as wide as a hand judges a flat opening too strictly: a hand passes where its width fits one way and its
thickness the other. Pushes run along the axes of the grid only; through an oblique slot the answer stays too strict.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from assembler.geometry.freespace import Flags


def flat_pushes(
    taken: Flags,
    ways: NDArray[np.float32],
    asked: Flags,
    *,
    width_mm: float,
    thick_mm: float,
    push_mm: float,
    cell_mm: float,
) -> NDArray[np.float32]:
    """Length of the way to each cell asked for that the middle of a flat hand reaches by one straight push; else inf.

    Parameters
    ----------
    taken
        Cells that hold surface.
    ways
        Length of the way to each cell where the forearm behind the hand may be; inf elsewhere.
    asked
        Cells that the answer is wanted for.
    width_mm, thick_mm
        Of the hand across its push.
    push_mm
        Longest push.
    cell_mm
        Edge of a cell.
    """
    result = np.full(ways.shape, np.inf, dtype=np.float32)
    steps = int(push_mm / cell_mm)
    for along in range(3):
        for sign in (1, -1):
            # Turned so that the push runs along the first axis, upwards.
            shut, wanted = (np.moveaxis(grid, along, 0)[::sign] for grid in (taken, asked))
            starts, found = (np.moveaxis(grid, along, 0)[::sign] for grid in (ways, result))
            rows, columns = np.nonzero(_lines_of_sight(shut, starts, wanted, steps))
            if not len(rows):
                continue
            low = (int(rows.min()), int(columns.min()))
            high = (int(rows.max()) + 1, int(columns.max()) + 1)
            for sizes in ((width_mm, thick_mm), (thick_mm, width_mm)):
                near = _grown_around(shut, low, high, sizes, cell_mm)[:, rows - low[0], columns - low[1]]
                reached = _pushed(near, starts[:, rows, columns], steps, cell_mm)
                reached[~wanted[:, rows, columns]] = np.inf
                found[:, rows, columns] = np.minimum(found[:, rows, columns], reached)
    return result


def _lines_of_sight(shut: Flags, starts: NDArray[np.float32], wanted: Flags, steps: int) -> Flags:
    """Lines on which a wanted cell lies within so many steps ahead of a start, with nothing between."""
    begins = np.isfinite(starts)
    lines = np.asarray(begins.any(axis=0) & wanted.any(axis=0))
    rows, columns = np.nonzero(lines)
    begins, wanted, shut = begins[:, rows, columns], wanted[:, rows, columns], shut[:, rows, columns]
    # The nearest start behind a cell sees it where nothing shut lies beyond that start.
    at = np.arange(len(begins))[:, None]
    nearest = np.maximum.accumulate(np.where(begins, at, -steps - 1), axis=0)[:-1]
    nothing_since = np.maximum.accumulate(np.where(shut, at, -1), axis=0)[1:] <= nearest
    meets = (wanted[1:] & nothing_since & (at[1:] - nearest <= steps)).any(axis=0)
    lines[rows, columns] = meets
    return lines


def _grown_around(
    shut: Flags, low: tuple[int, int], high: tuple[int, int], sizes_mm: tuple[float, float], cell_mm: float
) -> Flags:
    """Where no middle of a hand can be, on the lines between two corners; sizes along the second and third axis."""
    pads = [math.ceil(size / 2.0 / cell_mm) for size in sizes_mm]
    first = [max(0, a - pad) for a, pad in zip(low, pads, strict=True)]
    near = shut[:, first[0] : high[0] + pads[0], first[1] : high[1] + pads[1]]
    for axis, size in enumerate(sizes_mm, 1):
        near = _grown(near, size, axis, cell_mm)
    begin = [a - f for a, f in zip(low, first, strict=True)]
    end = [b - f for b, f in zip(high, first, strict=True)]
    return near[:, begin[0] : end[0], begin[1] : end[1]]


def _grown(flags: Flags, size_mm: float, axis: int, cell_mm: float) -> Flags:
    """Cells nearer than half a size to a taken one along an axis."""
    half = math.ceil(size_mm / 2.0 / cell_mm) - 1
    return np.asarray(maximum_filter1d(flags.astype(np.uint8), 2 * half + 1, axis=axis, mode="constant"), dtype=bool)


def _pushed(shut: Flags, front: NDArray[np.float32], steps: int, cell_mm: float) -> NDArray[np.float32]:
    """Ways to the cells ahead of each start, (cells, lines), as long as all between are free."""
    wall = np.where(shut, np.float32(np.inf), np.float32(0.0))
    reached = np.full(front.shape, np.inf, dtype=np.float32)
    for _ in range(steps):
        moved = np.full(front.shape, np.inf, dtype=np.float32)
        np.add(front[:-1], np.float32(cell_mm), out=moved[1:])
        moved += wall
        np.minimum(reached, moved, out=reached)
        front = moved
    return reached
