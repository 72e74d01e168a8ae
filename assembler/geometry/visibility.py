"""What of a figure is seen from outside: silhouettes, feet, outer skin, open places. Meshes in, areas and points out.

A place belongs to the skin if it can be seen from far away along one of several directions. The ground under the figure
hides a cavity that is open below; mating faces hide each other; the inside of the shell looks at the shell. An opening
in the base does not make the cavity 'outside': nothing is looked at from below.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from assembler.figure.exposure import Silhouette
from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector
from assembler.geometry.samples import Grid
from assembler.geometry.sweeps import OFF_GRID, Heights, frame_of, height_field

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


SAMPLES = 60_000
"""Places looked at; the share that is seen comes out within about half a percent."""

SKIN_MM = 1.0
"""A place this far behind the foremost one is still that place."""

FACING = 0.5
"""Cosine: a face is looked at from within 60 degrees of its normal, not along its surface."""

_GOLDEN = 0.6180339887498949


def fields(mesh: Mesh, frames: Frames, cell_mm: float) -> tuple[Heights, ...]:
    """Foremost points of one mesh in each of some frames."""
    return tuple(height_field(mesh, frame, cell_mm) for frame in frames)


def outer_skin_mm2(meshes: Sequence[Mesh], up: Vector) -> tuple[float, ...]:
    """Area of each mesh that is seen from outside when all stand together, mm2.

    Parameters
    ----------
    meshes
        Of the whole figure, in mm; open or crossing ones will do.
    up
        Unit vector.

    Notes
    -----
    Places spread evenly over the surface are held against the foremost points of the figure along 26 directions.
    Folds that none of these looks into count as inside.
    """
    if not meshes:
        return ()
    corners = np.array([(mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)) for mesh in meshes])
    cell_mm = float((corners[:, 1].max(axis=0) - corners[:, 0].min(axis=0)).max()) / CELLS
    places, normals, owner, each_mm2 = _spread(meshes)
    seen = np.zeros(len(places), dtype=bool)
    ground = _ground(meshes, up)
    blockers = [*meshes, ground] if ground is not None else list(meshes)
    frames = [frame_of(direction) for direction in _half_sphere()]
    seen_of = [fields(mesh, frames, cell_mm) for mesh in blockers]
    for number, frame in enumerate(frames):
        low, high, corner = foremost([of_mesh[number] for of_mesh in seen_of])
        seen |= _is_seen(places, normals, frame, high, corner, cell_mm, 1.0)
        seen |= _is_seen(places, normals, frame, low, corner, cell_mm, -1.0)
    seen &= ~_stands(places, normals, up)
    counts = np.bincount(owner[seen], minlength=len(meshes))
    return tuple(float(count * each_mm2) for count in counts)


def _half_sphere() -> list[tuple[int, int, int]]:
    """One of each pair of opposite directions to the neighbours of a cell."""
    steps = [step for step in product((-1, 0, 1), repeat=3) if step > (0, 0, 0)]
    return [(x, y, z) for x, y, z in steps]


def _spread(meshes: Sequence[Mesh]) -> tuple[Points, Points, NDArray[np.int64], float]:
    """Places spread evenly by area: where, their normals, their mesh, and the area that each stands for."""
    triangles = np.concatenate([mesh.corners for mesh in meshes])
    owners = np.repeat(np.arange(len(meshes)), [len(mesh.faces) for mesh in meshes])
    crossed = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    doubled = np.linalg.norm(crossed, axis=1)
    ends = np.cumsum(doubled) / 2.0
    each_mm2 = float(ends[-1]) / SAMPLES
    at = (np.arange(SAMPLES) + 0.5) * each_mm2
    chosen = np.minimum(np.searchsorted(ends, at), len(triangles) - 1)
    # Two sequences that never fall into step spread the places over large triangles.
    first = np.sqrt(np.arange(SAMPLES) * _GOLDEN % 1.0)
    second = np.arange(SAMPLES) * _GOLDEN**2 * 2.0**0.5 % 1.0
    weights = np.column_stack((1.0 - first, first * (1.0 - second), first * second))
    places = np.einsum("nk,nkd->nd", weights, triangles[chosen])
    return places, crossed[chosen] / doubled[chosen, None], owners[chosen], each_mm2


def _ground(meshes: Sequence[Mesh], up: Vector) -> Mesh | None:
    """The ground between the feet, as a plate; None where the figure stands on a line or a point."""
    frame = plan_frame(up)
    feet = feet_in_plan(meshes, up)
    lowest_mm = min(float((mesh.vertices @ frame[2]).min()) for mesh in meshes)
    try:
        corners = feet[ConvexHull(feet).vertices]
    except (QhullError, ValueError):
        return None
    plate = np.column_stack((corners, np.full(len(corners), lowest_mm))) @ frame
    fan = np.array([(0, k, k + 1) for k in range(1, len(plate) - 1)])
    return Mesh(vertices=plate, faces=fan)


def _stands(places: Points, normals: Points, up: Vector) -> NDArray[np.bool_]:
    """Whether a place lies on the ground and looks down at it."""
    rise = plan_frame(up)[2]
    heights = places @ rise
    on_ground: NDArray[np.bool_] = (heights <= heights.min() + SKIN_MM) & (normals @ rise < -FACING)
    return on_ground


def _is_seen(
    places: Points,
    normals: Points,
    frame: NDArray[np.float64],
    foremost: NDArray[np.float64],
    corner: tuple[int, int],
    cell_mm: float,
    sense: float,
) -> NDArray[np.bool_]:
    """Whether each place faces the viewer and has nothing in front of it."""
    facing = sense * (normals @ frame[2])
    row, column = corner
    rows = np.rint(places @ frame[1] / cell_mm - OFF_GRID).astype(np.int64) - row
    columns = np.rint(places @ frame[0] / cell_mm - OFF_GRID).astype(np.int64) - column
    np.clip(rows, 0, foremost.shape[0] - 1, out=rows)
    np.clip(columns, 0, foremost.shape[1] - 1, out=columns)
    # Towards the grid line, at most half the diagonal of a cell away, a slanted face rises by its slope.
    slope = np.sqrt(np.clip(1.0 - facing**2, 0.0, 1.0)) / np.clip(facing, FACING, None)
    behind_mm = sense * (foremost[rows, columns] - places @ frame[2])
    seen: NDArray[np.bool_] = (facing > FACING) & (behind_mm <= SKIN_MM + cell_mm * slope / 2.0**0.5)
    return seen


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
