"""What matters for a hand at a point? Overlapping zones of the grid, and the parts in them.

What stands farther away than an arm is long does not matter. Where a person fits into the hollow, all is one zone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from assembler.figure.parts import Vector
from assembler.geometry.freespace import Cell, Grid, part_of_grid
from assembler.planning.handsizes import BODY_MM, FINGERS_MM
from assembler.planning.scene import PartSet, Scene

COARSE = 4
"""Zones begin and end with cells of the body's grid, which is this much coarser."""

TILE_MM = 800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A part of the figure's box, and what matters in it.

    Parameters
    ----------
    name
        Number along each axis.
    low, high
        Cells of the fine grid.
    near
        Parts that reach into it or near it.
    """

    name: Cell
    low: Cell
    high: Cell
    near: PartSet

    def within(self, low: Cell, high: Cell) -> tuple[Cell, Cell]:
        """A window of the grid, counted from where the zone starts."""
        return _less(low, self.low), _less(high, self.low)


class Zones:
    """Zones of a figure.

    Parameters
    ----------
    scene
        The figure.
    grid
        For hands; it leaves the same margin beside the figure on all lower sides.
    is_roomy
        Whether a whole person fits into the figure's hollow.
    """

    def __init__(self, scene: Scene, grid: Grid, *, is_roomy: bool) -> None:
        self.scene = scene
        self.grid = grid
        low, _ = scene.box_mm(scene.everything)
        self._margin_mm = low[0] - grid.origin_mm[0]
        margin = scene.settings.crew.reach_mm + 2.0 * FINGERS_MM
        self.tile = max(grid.shape) if is_roomy else int(math.ceil(TILE_MM / grid.cell_mm / COARSE)) * COARSE
        pad = int(math.ceil(margin / grid.cell_mm / COARSE)) * COARSE
        self._counts = [max(1, math.ceil(n / self.tile)) for n in grid.shape]
        self._zones = {}
        for name in product(*(range(n) for n in self._counts)):
            low_cells = [max(0, k * self.tile - pad) for k in name]
            high_cells = [min(n, (k + 1) * self.tile + pad) for k, n in zip(name, grid.shape, strict=True)]
            self._zones[name] = self._zone(_cell(name), _cell(low_cells), _cell(high_cells))

    def _zone(self, name: Cell, low: Cell, high: Cell) -> Zone:
        grid = part_of_grid(self.grid, low, high)
        start = np.asarray(grid.origin_mm) - 2.0 * BODY_MM
        end = np.asarray(grid.origin_mm) + np.asarray(grid.shape) * grid.cell_mm + 2.0 * BODY_MM
        near = sum(
            1 << number
            for number, part in enumerate(self.scene.parts)
            if np.all(np.asarray(part.high_mm) >= start) and np.all(np.asarray(part.low_mm) <= end)
        )
        return Zone(name=name, low=low, high=high, near=near)

    def of(self, point: Vector) -> Zone:
        """The zone that a point lies in the middle of."""
        cell = self.grid.cell_of(np.asarray([point]))[0] // self.tile
        return self._zones[_cell(np.clip(cell, 0, np.asarray(self._counts) - 1).tolist())]

    def around(self, point: Vector, standing: PartSet) -> Zone:
        """The zone of a point, cut to what stands in it and the margin: everything beyond lies outside."""
        zone = self.of(point)
        chosen = standing & zone.near
        if not chosen:
            return zone
        ends = []
        for corner, way in zip(self.scene.box_mm(chosen), (-1.0, 1.0), strict=True):
            at = (np.asarray(corner) + way * self._margin_mm - self.grid.origin_mm) / self.grid.cell_mm / COARSE
            cells = (np.floor(at) if way < 0.0 else np.ceil(at)).astype(np.int64) * COARSE
            ends.append(_cell(np.clip(cells, zone.low, zone.high).tolist()))
        return replace(zone, low=ends[0], high=ends[1])


def _cell(numbers: Sequence[int]) -> Cell:
    x, y, z = numbers
    return (x, y, z)


def _less(cell: Cell, first: Cell) -> Cell:
    return _cell([a - b for a, b in zip(cell, first, strict=True)])
