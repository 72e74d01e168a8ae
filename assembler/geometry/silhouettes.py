"""How large a figure looks from the side, and where it touches the ground. Meshes in, areas and points out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.exposure import Silhouette
from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector
from assembler.geometry.sweeps import OFF_GRID, Heights, height_field

SIDES = 12
"""Bearings over half a turn: one every 15 degrees; the other half looks the same from behind."""

CELLS = 400
"""Cells of the grid over the largest side of the figure: areas come out within about half a percent."""

FLOOR_MM = 3.0
"""Vertices this near to the lowest touch the ground."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shadow:
    """What one mesh covers, seen from one side.

    Parameters
    ----------
    row, column
        Of the first cell, on the grid of all meshes.
    covered : (rows, columns) bool
        Cells whose centre lies behind the mesh.
    """

    row: int
    column: int
    covered: NDArray[np.bool_]


Frames = Sequence[NDArray[np.float64]]


def shadows(mesh: Mesh, frames: Frames, cell_mm: float) -> tuple[Shadow, ...]:
    """What a mesh covers, seen along the third row of each frame."""
    fields = [height_field(mesh, frame, cell_mm) for frame in frames]
    return tuple(Shadow(row=one.row, column=one.column, covered=np.isfinite(one.low)) for one in fields)


def silhouettes(
    meshes: Sequence[Mesh],
    up: Vector,
    *,
    sides: int = SIDES,
    cells: int = CELLS,
) -> tuple[Silhouette, ...]:
    """Projected areas of all meshes together, from sides spread over half a turn.

    Sampled on a grid: a hole through the figure counts as open, parts behind each other count once.

    Parameters
    ----------
    meshes
        In mm; open or crossing ones will do.
    up
        Unit vector.
    sides
        How many bearings.
    cells
        Cells over the largest side of the figure.

    Raises
    ------
    ValueError
        If there is no mesh.
    """
    if not meshes:
        raise ValueError("no meshes, no silhouette")
    frame = plan_frame(up)
    corners = np.array([(mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)) for mesh in meshes])
    cell_mm = float((corners[:, 1].max(axis=0) - corners[:, 0].min(axis=0)).max()) / cells
    lowest_mm = min(float((mesh.vertices @ frame[2]).min()) for mesh in meshes)
    towards = [(math.cos(angle), math.sin(angle)) for angle in (math.pi * side / sides for side in range(sides))]
    frames = []
    for x, y in towards:
        along = x * frame[0] + y * frame[1]
        frames.append(np.array([np.cross(frame[2], along), frame[2], along]))
    by_mesh = [shadows(mesh, frames, cell_mm) for mesh in meshes]
    return tuple(
        _seen([one[side] for one in by_mesh], toward, cell_mm, lowest_mm) for side, toward in enumerate(towards)
    )


def _seen(cast: Sequence[Shadow], toward: tuple[float, float], cell_mm: float, lowest_mm: float) -> Silhouette:
    row, column = min(one.row for one in cast), min(one.column for one in cast)
    rows = max(one.row + one.covered.shape[0] for one in cast) - row
    columns = max(one.column + one.covered.shape[1] for one in cast) - column
    covered = np.zeros((rows, columns), dtype=bool)
    for one in cast:
        height, width = one.covered.shape
        top, left = one.row - row, one.column - column
        covered[top : top + height, left : left + width] |= one.covered
    by_row = covered.sum(axis=1)
    count = int(by_row.sum())
    heights_mm = (row + np.arange(len(by_row)) + OFF_GRID) * cell_mm - lowest_mm
    centre_mm = float(by_row @ heights_mm) / count if count else 0.0
    return Silhouette(toward=toward, area_mm2=count * cell_mm**2, centre_height_mm=centre_mm)


def foremost(fields: Sequence[Heights]) -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[int, int]]:
    """Lowest and highest points of all parts on one grid, and its first row and column.

    Parameters
    ----------
    fields
        Of one direction and one size of cell.

    Returns
    -------
    low, high : (rows, columns) float64, mm
        +inf and -inf where no part is met.
    corner
        Row and column of the first cell.
    """
    row, column = min(one.row for one in fields), min(one.column for one in fields)
    rows = max(one.row + one.low.shape[0] for one in fields) - row
    columns = max(one.column + one.low.shape[1] for one in fields) - column
    low, high = np.full((rows, columns), np.inf), np.full((rows, columns), -np.inf)
    for one in fields:
        height, width = one.low.shape
        place = (slice(one.row - row, one.row - row + height), slice(one.column - column, one.column - column + width))
        np.minimum(low[place], one.low, out=low[place])
        np.maximum(high[place], one.high, out=high[place])
    return low, high, (row, column)


def feet_in_plan(meshes: Sequence[Mesh], up: Vector) -> Points:
    """Points on which all meshes together stand, in plan.

    Returns
    -------
    (n, 2) float64, mm
        Vertices within 3 mm of the lowest, in the two axes of `plan_frame`.
    """
    frame = plan_frame(up)
    placed = [mesh.vertices @ frame.T for mesh in meshes]
    floor_mm = min(float(points[:, 2].min()) for points in placed)
    return np.concatenate([points[points[:, 2] <= floor_mm + FLOOR_MM, :2] for points in placed])
