"""How far can a part slide before it meets another, and does it get away from there? Columns over a grid.

Over each cell of a grid across a direction a part is a few stretches of material, exact along the direction. Two parts,
one of them moving along it, collide at the distances at which a stretch of the one covers a stretch of the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.geometry.sweeps import Heights, pierced_heights

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
    """Material of one part over the cells of a grid.

    Parameters
    ----------
    row, column : (n,) int64
        Cell of each stretch.
    low, high : (n,) float64, mm
        Its ends along the direction.
    """

    row: NDArray[np.int64]
    column: NDArray[np.int64]
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Clashes:
    """Distances at which a moving part meets standing ones, cell by cell.

    Parameters
    ----------
    row, column : (n,) int64
        Cell.
    start, end : (n,) float64, mm
        From and to which distance of travel.
    """

    row: NDArray[np.int64]
    column: NDArray[np.int64]
    start: Floats
    end: Floats

    def is_met(self, travel_mm: float) -> bool:
        """Whether the parts meet at a distance over at least two by two cells; less is sliding along."""
        here = (self.start < travel_mm) & (travel_mm < self.end)
        if np.count_nonzero(here) < 4:
            return False
        row, column = self.row[here], self.column[here]
        flags = np.zeros((int(np.ptp(row)) + 1, int(np.ptp(column)) + 1), dtype=bool)
        flags[row - row.min(), column - column.min()] = True
        return bool((flags[:-1, :-1] & flags[1:, :-1] & flags[:-1, 1:] & flags[1:, 1:]).any())


def columns_of(mesh: Mesh, frame: Floats, cell_mm: float) -> Columns:
    """Stretches of material of a closed mesh; cells that a grid line leaves an odd number of times are left out.

    Parameters
    ----------
    mesh
        In mm.
    frame : (3, 3) float64
        Rows: across, across, along.
    cell_mm
        Edge of a cell.
    """
    row, column, height = pierced_heights(mesh, frame, cell_mm)
    order = np.lexsort((height, column, row))
    row, column, height = row[order], column[order], height[order]
    starts = np.flatnonzero(np.r_[True, (np.diff(row) != 0) | (np.diff(column) != 0)]) if len(row) else np.empty(0, int)
    count = np.diff(np.r_[starts, len(row)])
    is_even = np.repeat(count % 2 == 0, count)
    row, column, height = row[is_even], column[is_even], height[is_even]
    return Columns(row=row[::2], column=column[::2], low=height[::2], high=height[1::2])


def clashes(moving: Columns, standing: Columns, overlap_mm: float) -> Clashes:
    """Where along the way a part meets another; touching within the tolerance does not count.

    Parameters
    ----------
    moving, standing
        On one grid.
    overlap_mm
        Overlap along the direction that is still contact.
    """
    first, second = _matched(moving, standing)
    start = standing.low[second] - moving.high[first] + overlap_mm
    end = standing.high[second] - moving.low[first] - overlap_mm
    kept = (end > max(overlap_mm, 0.0)) & (end > start)
    first = first[kept]
    return Clashes(row=moving.row[first], column=moving.column[first], start=start[kept], end=end[kept])


def together(found: Sequence[Clashes]) -> Clashes:
    """Clashes with several parts as one record."""
    empty = np.empty(0, dtype=np.int64)
    return Clashes(
        row=np.concatenate([one.row for one in found] or [empty]),
        column=np.concatenate([one.column for one in found] or [empty]),
        start=np.concatenate([one.start for one in found] or [np.empty(0)]),
        end=np.concatenate([one.end for one in found] or [np.empty(0)]),
    )


def _matched(first: Columns, second: Columns) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Numbers of all pairs of stretches, one of each, over the same cell."""
    span = int(max(np.abs(first.column).max(initial=0), np.abs(second.column).max(initial=0))) * 2 + 3
    one, two = first.row * span + first.column, second.row * span + second.column
    order = np.argsort(two, kind="stable")
    left = np.searchsorted(two[order], one, side="left")
    count = np.searchsorted(two[order], one, side="right") - left
    which = np.repeat(np.arange(len(one)), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    return which, order[np.repeat(left, count) + step]


def free_run_mm(found: Clashes, limit_mm: float, step_mm: float) -> float:
    """Travel from the place up to which nothing is met, at most the limit."""
    at = step_mm
    while at <= limit_mm:
        if found.is_met(at):
            return _contact_mm(found, at - step_mm, at)
        at += step_mm
    return limit_mm


def _contact_mm(found: Clashes, free_mm: float, met_mm: float) -> float:
    """The last free distance between a free and a met one, to 0.1 mm."""
    while met_mm - free_mm > 0.1:
        middle = (free_mm + met_mm) / 2.0
        free_mm, met_mm = (free_mm, middle) if found.is_met(middle) else (middle, met_mm)
    return free_mm


def is_clear_after(low: Heights, high: Heights, shift: tuple[int, int, float], overlap_mm: float) -> bool:
    """Whether a part, shifted first, leaves what stands along the direction of a grid, for travel to infinity.

    Parameters
    ----------
    low, high
        Heights of what moves, and of all that stands as one.
    shift
        Rows, columns and mm along the direction that the moving part was shifted by before.
    overlap_mm
        As for `blocked_pairs`.
    """
    row, column = low.row + shift[0], low.column + shift[1]
    first_row, first_column = max(row, high.row), max(column, high.column)
    rows = min(row + low.low.shape[0], high.row + high.high.shape[0]) - first_row
    columns = min(column + low.low.shape[1], high.column + high.high.shape[1]) - first_column
    if rows < 1 or columns < 1:
        return True
    lower = low.low[first_row - row :, first_column - column :][:rows, :columns]
    upper = high.high[first_row - high.row :, first_column - high.column :][:rows, :columns]
    meets = upper - lower - shift[2] > overlap_mm
    return not bool((meets[:-1, :-1] & meets[1:, :-1] & meets[:-1, 1:] & meets[1:, 1:]).any())


def as_one(fields: Sequence[Heights]) -> Heights:
    """Height fields of several parts on one grid as one field; at least one is needed."""
    row, column = min(field.row for field in fields), min(field.column for field in fields)
    rows = max(field.row + field.low.shape[0] for field in fields) - row
    columns = max(field.column + field.low.shape[1] for field in fields) - column
    low, high = np.full((rows, columns), np.inf), np.full((rows, columns), -np.inf)
    for field in fields:
        top, left = field.row - row, field.column - column
        window = slice(top, top + field.low.shape[0]), slice(left, left + field.low.shape[1])
        low[window] = np.minimum(low[window], field.low)
        high[window] = np.maximum(high[window], field.high)
    return Heights(
        row=row,
        column=column,
        low=low,
        high=high,
        box_low=np.min([field.box_low for field in fields], axis=0),
        box_high=np.max([field.box_high for field in fields], axis=0),
    )
