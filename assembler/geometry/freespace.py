"""What is taken, and where can a body be, past what stands? Points and boolean grids in, boolean grids out.

A part is put on the grid once; what stands is the union of its parts. Growing a union by a radius is the union of the
grown parts, so a search that visits many states only combines grids.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, label, maximum_filter1d
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points
from assembler.roombound import check_room

_POINT_BYTES = 80
_DISTANCE_BYTES, _LABEL_BYTES = 50, 20
"""What a point and a cell take while points, distances and regions are worked out: measured."""

Flags = NDArray[np.bool_]
Cell = tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A box of cubic cells.

    Parameters
    ----------
    origin_mm
        Lowest corner.
    cell_mm
        Edge of a cell.
    shape
        Number of cells.
    """

    origin_mm: tuple[float, float, float]
    cell_mm: float
    shape: tuple[int, int, int]

    def cell_of(self, points: Points) -> NDArray[np.int64]:
        """Cells that points lie in, (n, 3); may lie outside the grid."""
        cells = np.floor((np.asarray(points) - self.origin_mm) / self.cell_mm).astype(np.int64)
        return np.asarray(cells)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """Cells of one part: a small block of flags and where it lies in the grid.

    Parameters
    ----------
    low
        First cell of the block; the block lies inside the grid.
    flags
        What is taken.
    """

    low: tuple[int, int, int]
    flags: Flags

    @property
    def window(self) -> tuple[slice, slice, slice]:
        """Place of the block in the grid."""
        x, y, z = self.low
        a, b, c = self.flags.shape
        return slice(x, x + a), slice(y, y + b), slice(z, z + c)

    def reaches(self, low: Cell, high: Cell) -> bool:
        """Whether the block has cells from `low` up to, not including, `high`."""
        return all(w.start < b and w.stop > a for w, a, b in zip(self.window, low, high, strict=True))


def grid_around(low_mm: Points, high_mm: Points, cell_mm: float, margin_mm: float, *, multiple: int = 1) -> Grid:
    """A grid around a box, its shape a multiple of a whole number of cells.

    Parameters
    ----------
    low_mm, high_mm : (3,) float64
        The box.
    cell_mm, margin_mm
        Edge of a cell; free room on all sides.
    multiple
        Each count of cells is rounded up to a multiple of this, so that a coarser grid fits.
    """
    low = np.asarray(low_mm) - margin_mm
    size = np.asarray(high_mm) + margin_mm - low
    cells = (np.ceil(size / cell_mm / multiple).astype(np.int64) * multiple).tolist()
    return Grid(
        origin_mm=(float(low[0]), float(low[1]), float(low[2])),
        cell_mm=cell_mm,
        shape=(int(cells[0]), int(cells[1]), int(cells[2])),
    )


def coarser(grid: Grid, factor: int) -> Grid:
    """The same box in larger cells; the grid's shape must be a multiple of the factor."""
    a, b, c = (count // factor for count in grid.shape)
    return Grid(origin_mm=grid.origin_mm, cell_mm=grid.cell_mm * factor, shape=(a, b, c))


def surface_points(mesh: Mesh, spacing_mm: float) -> Points:
    """Points on a surface, none farther than the spacing from its neighbours, (n, 3) float64.

    Small triangles give their corners; larger ones a raster of rows parallel to their longest edge, so that slivers do
    not give more points than they are worth.
    """
    corners = mesh.corners
    edges = np.roll(corners, -1, axis=1) - corners
    lengths = np.sqrt(np.einsum("tkx,tkx->tk", edges, edges))
    longest = np.argmax(lengths, axis=1)
    length = lengths[np.arange(len(corners)), longest]
    large = np.flatnonzero(length > spacing_mm)
    turned = np.take_along_axis(corners[large], ((longest[large, None] + np.arange(3)) % 3)[:, :, None], axis=1)
    base, side = turned[:, 1] - turned[:, 0], turned[:, 2] - turned[:, 0]
    height = np.linalg.norm(np.cross(base, side), axis=1) / np.maximum(length[large], 1e-9)
    along = np.ceil(length[large] / spacing_mm).astype(np.int64)
    across = np.maximum(1, np.ceil(height / spacing_mm)).astype(np.int64)
    need = float(np.sum((along + 2.0) * (across + 1.0)) / 2)
    check_room(_POINT_BYTES * need, f"{need:.3g} points, one every {spacing_mm:g} mm of a surface,")
    found = [mesh.vertices]
    for rows in np.unique(across).tolist():
        for row in range(rows):
            found.append(_row_of_points(turned, base, side, along, across == rows, row / rows))
    return np.concatenate(found)


def _row_of_points(
    turned: Points, base: Points, side: Points, along: NDArray[np.int64], chosen: Flags, share: float
) -> Points:
    """Points along one row, at the same share of the height of each triangle, (n, 3)."""
    count = np.maximum(1, np.ceil(along[chosen] * (1.0 - share)).astype(np.int64)) + 1
    which = np.repeat(np.flatnonzero(chosen), count)
    step = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    place = step / np.repeat(count - 1, count) * (1.0 - share)
    row: Points = turned[which, 0] + place[:, None] * base[which] + share * side[which]
    return row


def point_tree(points: Points) -> cKDTree:
    """Points, (n, 3), laid out for questions about what is near."""
    return cKDTree(points, balanced_tree=False, compact_nodes=False)


def patch_of(points: Points, grid: Grid) -> Patch:
    """Cells that hold a point; points outside the grid are left out."""
    cells = [np.floor((points[:, axis] - grid.origin_mm[axis]) / grid.cell_mm).astype(np.int32) for axis in range(3)]
    inside = np.ones(len(points), dtype=bool)
    for axis in range(3):
        inside &= (cells[axis] >= 0) & (cells[axis] < grid.shape[axis])
    if not inside.any():
        return Patch(low=(0, 0, 0), flags=np.zeros((1, 1, 1), dtype=bool))
    x, y, z = (axis[inside] for axis in cells)
    low = (int(x.min()), int(y.min()), int(z.min()))
    shape = (int(x.max()) - low[0] + 1, int(y.max()) - low[1] + 1, int(z.max()) - low[2] + 1)
    _check_cells(shape, 1)
    flags = np.zeros(shape, dtype=bool)
    flags[x - low[0], y - low[1], z - low[2]] = True
    return Patch(low=low, flags=flags)


def check_box(low_mm: Points, high_mm: Points, cell_mm: float, what: str) -> None:
    """Nothing, when distances can be worked out in a box of cells.

    Parameters
    ----------
    low_mm, high_mm : (3,) float64
        The box.
    cell_mm
        Edge of a cell.
    what
        Whose box it is.

    Raises
    ------
    InputError
        If that takes more memory than is allowed.
    """
    size = np.asarray(high_mm) - np.asarray(low_mm)
    sides = " x ".join(f"{side / 1000:.3g}" for side in size.tolist())
    check_room(float(np.prod(size / cell_mm)) * _DISTANCE_BYTES, f"{what} of {sides} m in cells of {cell_mm:g} mm")


def _check_cells(shape: Sequence[int], each_bytes: int) -> None:
    cells = " x ".join(str(count) for count in shape)
    check_room(float(np.prod(shape, dtype=float)) * each_bytes, f"a grid of {cells} cells")


def grown(patch: Patch, radius_mm: float, grid: Grid) -> Patch:
    """All cells whose centre lies nearer than a radius to the centre of a taken cell."""
    away_mm, low = _distances(patch, radius_mm, grid)
    return Patch(low=low, flags=away_mm < radius_mm)


def _distances(patch: Patch, reach_mm: float, grid: Grid) -> tuple[NDArray[np.float64], Cell]:
    """Distance of each cell within reach to the centre of a taken cell, mm, and the first of these cells."""
    pad = math.ceil(reach_mm / grid.cell_mm)
    low = np.maximum(np.asarray(patch.low) - pad, 0)
    high = np.minimum(np.asarray(patch.low) + patch.flags.shape + pad, grid.shape)
    _check_cells((high - low).tolist(), _DISTANCE_BYTES)
    flags = np.zeros(high - low, dtype=bool)
    offset = np.asarray(patch.low) - low
    flags[tuple(slice(o, o + n) for o, n in zip(offset, patch.flags.shape, strict=True))] = patch.flags
    away_mm = distance_transform_edt(~flags) * grid.cell_mm if flags.any() else np.full(flags.shape, np.inf)
    return np.asarray(away_mm), (int(low[0]), int(low[1]), int(low[2]))


def grown_from(points: cKDTree, patch: Patch, radius_mm: float, grid: Grid) -> Patch:
    """All cells whose centre lies nearer than a radius to a point of a surface.

    Parameters
    ----------
    points
        On the surface, closer together than a cell.
    patch
        Cells that hold them.
    radius_mm, grid
        As for `grown`, which measures from the middle of each taken cell and so blocks up to a cell more, or less.
    """
    half_mm = math.sqrt(3.0) / 2.0 * grid.cell_mm
    away_mm, low = _distances(patch, radius_mm + half_mm, grid)
    # A point lies within half a diagonal of the middle of its cell: most cells are settled by that.
    flags = away_mm < radius_mm - half_mm
    doubtful = np.argwhere((away_mm < radius_mm + half_mm) & ~flags)
    if len(doubtful):
        centres = (doubtful + low + 0.5) * grid.cell_mm + grid.origin_mm
        nearest, _ = points.query(centres, distance_upper_bound=radius_mm)
        x, y, z = doubtful[np.isfinite(nearest)].T
        flags[x, y, z] = True
    return Patch(low=low, flags=flags)


def combined(patches: Iterable[Patch], grid: Grid) -> Flags:
    """The union of patches over the whole grid."""
    return combined_within(patches, (0, 0, 0), grid.shape)


def combined_within(patches: Iterable[Patch], low: Cell, high: Cell) -> Flags:
    """The union of patches over the cells from `low` up to, not including, `high`."""
    shape = tuple(max(0, b - a) for a, b in zip(low, high, strict=True))
    # Regions are told apart in what is combined.
    _check_cells(shape, _LABEL_BYTES)
    taken = np.zeros(shape, dtype=bool)
    for patch in patches:
        first = [max(a, p) for a, p in zip(low, patch.low, strict=True)]
        last = [min(b, p + n) for b, p, n in zip(high, patch.low, patch.flags.shape, strict=True)]
        if any(f >= e for f, e in zip(first, last, strict=True)):
            continue
        here = tuple(slice(f - a, e - a) for f, e, a in zip(first, last, low, strict=True))
        there = tuple(slice(f - p, e - p) for f, e, p in zip(first, last, patch.low, strict=True))
        taken[here] |= patch.flags[there]
    return taken


def part_of_grid(grid: Grid, low: Cell, high: Cell) -> Grid:
    """The cells of a grid from `low` up to, not including, `high`, as a grid of their own."""
    x, y, z = (origin + a * grid.cell_mm for origin, a in zip(grid.origin_mm, low, strict=True))
    a, b, c = (end - start for start, end in zip(low, high, strict=True))
    return Grid(origin_mm=(x, y, z), cell_mm=grid.cell_mm, shape=(a, b, c))


def outside_of(blocked: Flags, radius_mm: float, grid: Grid) -> Flags:
    """Cells that a ball rolling in from the edge of the grid can cover: where the body of a person can be.

    Parameters
    ----------
    blocked
        Cells that the centre of the ball cannot take (parts grown by its radius).
    radius_mm
        Of the ball.
    grid
        Where `blocked` lies; its margin must be wider than the ball.
    """
    regions, _ = label(~blocked)
    rim = [regions[index].ravel() for axis in range(3) for index in _faces(axis)]
    numbers = np.unique(np.concatenate(rim))
    centres = np.isin(regions, numbers[numbers > 0])
    if not centres.any():
        return centres
    # Cells hold surface anywhere inside them: stay two half diagonals away, or the far side of a thin wall is covered.
    return _in_balls(centres, radius_mm / grid.cell_mm - math.sqrt(3.0))


def _in_balls(centres: Flags, radius: float) -> Flags:
    """Cells nearer than a radius, in cells, to any centre: rows of a ball laid side by side, for balls of few cells."""
    reach = math.ceil(radius) - 1
    rows: dict[int, list[tuple[int, int]]] = {}
    for x, y in product(range(-reach, reach + 1), repeat=2):
        left = radius * radius - x * x - y * y
        if left > 0.0:
            rows.setdefault(math.ceil(math.sqrt(left)) - 1, []).append((x, y))
    found = np.zeros(np.asarray(centres.shape) + (2 * reach, 2 * reach, 0), dtype=bool)
    a, b, _ = centres.shape
    for half, places in rows.items():
        thick = maximum_filter1d(centres.view(np.uint8), 2 * half + 1, axis=2, mode="constant").view(bool)
        for x, y in places:
            found[reach + x : reach + x + a, reach + y : reach + y + b] |= thick
    return found[reach : reach + a, reach : reach + b]


def _faces(axis: int) -> list[tuple[slice | int, ...]]:
    found: list[tuple[slice | int, ...]] = []
    for end in (0, -1):
        index: list[slice | int] = [slice(None)] * 3
        index[axis] = end
        found.append(tuple(index))
    return found


def refined(flags: Flags, factor: int) -> Flags:
    """Flags of a coarser grid on the finer one."""
    a, b, c = flags.shape
    found = np.empty((a, factor, b, factor, c * factor), dtype=bool)
    found[...] = np.repeat(flags, factor, axis=2)[:, None, :, None, :]
    return found.reshape(a * factor, b * factor, c * factor)
