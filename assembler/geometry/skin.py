"""Which places can be seen from outside the figure? A grid of cells, looked at from many directions at once.

An opening in the base does not make the cavity 'outside': nothing is looked at from below, and a place in a cavity is
seen from few directions only.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Points
from assembler.geometry.samples import Grid


def open_view(occupied: NDArray[np.bool_], up: tuple[float, float, float] = (0.0, 0.0, 1.0)) -> NDArray[np.float32]:
    """Share of the directions from which each cell can be seen, (nx, ny, nz).

    Parameters
    ----------
    occupied : (nx, ny, nz) bool
        Cells that hold a surface.
    up
        Directions that point below the horizon of this are left out.

    Notes
    -----
    Looks along the 26 directions to the neighbours of a cell; a cell sees out along one when no cell beyond it
    is occupied. A cell's own surface does not hide it.
    """
    steps = [(x, y, z) for x, y, z in product((-1, 0, 1), repeat=3) if (x, y, z) != (0, 0, 0)]
    steps = [step for step in steps if np.dot(step, up) > -1e-6]
    # At most 26 in each cell: whole numbers of one byte, since adding them up is most of the work.
    total = np.zeros(occupied.shape, dtype=np.uint8)
    for step in steps:
        total += ~_hidden(occupied, step)
    return total.astype(np.float32) / np.float32(len(steps))


def _hidden(occupied: NDArray[np.bool_], step: tuple[int, int, int]) -> NDArray[np.bool_]:
    """Cells with an occupied cell beyond them in the direction of the step."""
    lead = next(axis for axis in range(3) if step[axis])
    order = [lead, *(axis for axis in range(3) if axis != lead)]
    turned = occupied.transpose(order)
    if step[lead] < 0:
        turned = turned[::-1]
    hidden = np.zeros(turned.shape, dtype=bool)
    rest = (step[order[1]], step[order[2]])
    for layer in range(turned.shape[0] - 2, -1, -1):
        beyond = turned[layer + 1] | hidden[layer + 1]
        hidden[layer] = _shifted(beyond, rest)
    if step[lead] < 0:
        hidden = hidden[::-1]
    return hidden.transpose(np.argsort(order))


def _shifted(layer: NDArray[np.bool_], step: tuple[int, int]) -> NDArray[np.bool_]:
    """The layer seen from one step back; nothing beyond its border."""
    out = np.zeros_like(layer)
    source = tuple(slice(max(s, 0), layer.shape[axis] + min(s, 0)) for axis, s in enumerate(step))
    target = tuple(slice(max(-s, 0), layer.shape[axis] + min(-s, 0)) for axis, s in enumerate(step))
    out[target] = layer[source]
    return out


def occupied_cells(points: Points, grid: Grid) -> NDArray[np.bool_]:
    """Cells that hold at least one of the points."""
    cells = np.zeros(grid.shape, dtype=bool)
    cells.reshape(-1)[grid.keys(points)] = True
    return cells
