"""How far in does a flat hand come that is pushed straight through an opening? Boolean grids in, distances out.

A ball as wide as a hand judges a flat opening too strictly: a hand passes where its width fits one way and its
thickness the other. Pushes run along the axes of the grid only; through an oblique slot the answer stays too strict.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from assembler.geometry.freespace import Cell, Flags


def flat_pushes(
    taken: Flags,
    ways: NDArray[np.float32],
    core: tuple[Cell, Cell],
    *,
    width_mm: float,
    thick_mm: float,
    push_mm: float,
    cell_mm: float,
) -> NDArray[np.float32]:
    """Length of the way to each cell that the middle of a flat hand reaches by one straight push; inf elsewhere.

    Parameters
    ----------
    taken
        Cells that hold surface.
    ways
        Length of the way to each cell where the forearm behind the hand may be; inf elsewhere.
    core
        First cell asked for, and one beyond the last; the answer has that shape.
    width_mm, thick_mm
        Of the hand across its push.
    push_mm
        Longest push.
    cell_mm
        Edge of a cell.
    """
    low, high = core
    result = np.full(tuple(b - a for a, b in zip(low, high, strict=True)), np.inf, dtype=np.float32)
    steps = int(push_mm / cell_mm)
    around = math.ceil(max(width_mm, thick_mm) / 2.0 / cell_mm)
    for along in range(3):
        first = [0 if axis == along else max(0, low[axis] - around) for axis in range(3)]
        beside = tuple(slice(f, None if axis == along else high[axis] + around) for axis, f in enumerate(first))
        inner = tuple(slice(0, None) if k == along else slice(low[k] - first[k], high[k] - first[k]) for k in range(3))
        starts = ways[beside][inner]
        if not np.isfinite(starts).any():
            continue
        asked = tuple(slice(low[k], high[k]) if k == along else slice(None) for k in range(3))
        for wide in (axis for axis in range(3) if axis != along):
            near = taken[beside]
            blocked = _grown(_grown(near, width_mm, wide, cell_mm), thick_mm, 3 - along - wide, cell_mm)[inner]
            for sign in (1, -1):
                np.minimum(result, _pushed(~blocked, starts, along, sign, steps, cell_mm)[asked], out=result)
    return result


def _grown(flags: Flags, size_mm: float, axis: int, cell_mm: float) -> Flags:
    """Cells nearer than half a size to a taken one along an axis."""
    half = math.ceil(size_mm / 2.0 / cell_mm) - 1
    return np.asarray(maximum_filter1d(flags.astype(np.uint8), 2 * half + 1, axis=axis, mode="constant"), dtype=bool)


def _pushed(
    free: Flags, ways: NDArray[np.float32], along: int, sign: int, steps: int, cell_mm: float
) -> NDArray[np.float32]:
    """Ways to the cells ahead of each start, as long as all between are free."""
    free, front = np.moveaxis(free, along, 0)[::sign], np.moveaxis(ways, along, 0)[::sign]
    result = np.full(front.shape, np.inf, dtype=np.float32)
    # Only lines with a start from which one step is free.
    begun = (np.isfinite(front[:-1]) & free[1:]).any(axis=0)
    front = front[:, begun]
    shut = np.where(free[:, begun], np.float32(0.0), np.float32(np.inf))
    reached = np.full(front.shape, np.inf, dtype=np.float32)
    for _ in range(steps):
        moved = np.full(front.shape, np.inf, dtype=np.float32)
        np.add(front[:-1], np.float32(cell_mm), out=moved[1:])
        moved += shut
        np.minimum(reached, moved, out=reached)
        front = moved
    result[:, begun] = reached
    return np.moveaxis(result[::sign], 0, along)
