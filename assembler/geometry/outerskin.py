"""How much of a figure's surface is seen, filled, sanded and coated: its outer skin. Meshes in, areas out.

A place belongs to the skin if it can be seen from far away along one of several directions. The ground under the figure
hides a cavity that is open below; mating faces hide each other; the inside of the shell looks at the shell.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector
from assembler.geometry.silhouettes import Frames, feet_in_plan, foremost
from assembler.geometry.sweeps import OFF_GRID, Heights, frame_of, height_field

SAMPLES = 60_000
"""Places looked at; the share that is seen comes out within about half a percent."""

CELLS = 400
"""Cells of the grid over the largest side of the figure."""

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
