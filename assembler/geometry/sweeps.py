"""Which parts are in the way when a part moves along a straight line? Meshes in, verdicts out.

Two answers of different price. `blocked_pairs` answers for all pairs along one direction at once, from heights over a
grid across it. `Solid` and `overlap` answer for one pair in one place, exactly, by intersecting the solids.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from manifold3d import Error, Manifold
from manifold3d import Mesh as TriangleSoup
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.roombound import check_room

_HEIGHT_BYTES, _PIERCED_BYTES = 16, 85
"""What a cell of a height field, and a place where a line pierces a triangle, take while worked out: measured."""

# Grid lines must not run along the round coordinates that faces like to lie on.
OFF_GRID = 0.381966
"""Where in its cell each grid line lies: line k runs at (k + OFF_GRID) x cell."""

Strip = tuple[tuple[float, float], tuple[float, float]]
"""Lowest and highest corner across a direction, mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Rows and columns of a grid: the first, and how many."""

    row: int
    column: int
    rows: int
    columns: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heights:
    """Lowest and highest point of one part over the cells of a grid across a direction.

    Parameters
    ----------
    row, column
        Grid position of the window's first cell.
    low, high : (rows, columns) float64, mm
        Along the direction, at cell centres; +inf and -inf where the part does not cross the line of the cell.
    box_low, box_high : (3,) float64, mm
        Box of the part in the frame of the grid: across, across, along.
    """

    row: int
    column: int
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    box_low: NDArray[np.float64]
    box_high: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Blocking:
    """Who is in whose way along one direction, for travel to infinity.

    Parameters
    ----------
    direction
        Unit vector.
    wide : (n, n) bool
        [i, j]: part i, moving, meets part j over at least two by two cells.
    narrow : (n, n) bool
        [i, j]: it meets part j only over strips of a cell's width: grazing faces, or something thin. To be confirmed.
    leave_mm : (n, n) float64
        Travel after which the box of i has left the box of j along the direction; 0 where they pass beside each other.
    strips
        For narrow pairs the box across the direction in which they meet, as (low, high) corners in mm in the frame of
        `frame_of`.
    """

    direction: Vector
    wide: NDArray[np.bool_]
    narrow: NDArray[np.bool_]
    leave_mm: NDArray[np.float64]
    strips: Mapping[tuple[int, int], Strip]

    def backwards(self) -> Blocking:
        """The same for the opposite direction: i meets j going one way where j meets i going the other."""
        x, y, z = self.direction
        return Blocking(
            direction=(0.0 - x, 0.0 - y, 0.0 - z),
            wide=self.wide.T,
            narrow=self.narrow.T,
            leave_mm=self.leave_mm.T,
            strips={(j, i): strip for (i, j), strip in self.strips.items()},
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """How two solids penetrate each other.

    Parameters
    ----------
    volume_mm3
        Of the intersection.
    depth_mm
        Its mean thickness: twice the volume by the surface of the intersection.
    """

    volume_mm3: float
    depth_mm: float

    def is_collision(self, depth_mm: float) -> bool:
        """Whether this is more than touching within a tolerance."""
        return self.volume_mm3 > 1.0 and self.depth_mm > depth_mm


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A closed mesh, prepared for exact intersection."""

    _body: Manifold

    @property
    def triangles(self) -> int:
        """Triangles of the prepared mesh."""
        return int(self._body.num_tri())


def frame_of(direction: Vector) -> NDArray[np.float64]:
    """Frame whose third row is the direction; rows are unit vectors, (3, 3).

    Opposite directions share the two rows across, so that a grid serves both; for one of them the frame is
    left-handed.
    """
    along = np.asarray(direction, dtype=np.float64)
    along = along / np.linalg.norm(along)
    sign = 1.0 if tuple(along) > tuple(-along) else -1.0
    helper = np.eye(3)[int(np.argmin(np.abs(along)))]
    first = np.cross(helper, sign * along)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(sign * along, first), along])


def height_field(mesh: Mesh, frame: NDArray[np.float64], cell_mm: float, window: Window | None = None) -> Heights:
    """Lowest and highest points of a mesh at the cell centres of a grid.

    Heights are sampled at cell centres: spreading a triangle over every cell that it touches would make faces that
    slide along each other block each other.

    Parameters
    ----------
    mesh
        In mm.
    frame : (3, 3) float64
        Rows: across, across, along.
    cell_mm
        Edge of a cell.
    window
        First and last row and column of interest; None: all that the mesh covers.
    """
    x, y, w = (np.ascontiguousarray(mesh.vertices @ row) for row in frame)
    box_low = np.array([x.min(), y.min(), w.min()])
    box_high = np.array([x.max(), y.max(), w.max()])
    x, y = x / cell_mm - OFF_GRID, y / cell_mm - OFF_GRID
    if window is None:
        window = _window_around(x, y)
    check_room(_HEIGHT_BYTES * window.rows * window.columns, f"heights over {window.rows} x {window.columns} cells")
    low = np.full(window.rows * window.columns, np.inf)
    high = np.full(window.rows * window.columns, -np.inf)
    cells, heights = _samples(x - window.column, y - window.row, w, mesh.faces, window)
    np.minimum.at(low, cells, heights)
    np.maximum.at(high, cells, heights)
    return Heights(
        row=window.row,
        column=window.column,
        low=low.reshape(window.rows, window.columns),
        high=high.reshape(window.rows, window.columns),
        box_low=box_low,
        box_high=box_high,
    )


def _window_around(x: NDArray[np.float64], y: NDArray[np.float64]) -> Window:
    return Window(
        row=int(np.floor(y.min())),
        column=int(np.floor(x.min())),
        rows=int(np.ceil(y.max()) - np.floor(y.min())) + 1,
        columns=int(np.ceil(x.max()) - np.floor(x.min())) + 1,
    )


def pierced_heights(
    mesh: Mesh, frame: NDArray[np.float64], cell_mm: float
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Row, column and height of every place where the line over a cell centre pierces a mesh; same grid."""
    x, y, w = (np.ascontiguousarray(mesh.vertices @ row) for row in frame)
    x, y = x / cell_mm - OFF_GRID, y / cell_mm - OFF_GRID
    window = _window_around(x, y)
    cells, heights = _samples(x - window.column, y - window.row, w, mesh.faces, window)
    return cells // window.columns + window.row, cells % window.columns + window.column, heights


def _samples(
    x: NDArray[np.float64], y: NDArray[np.float64], w: NDArray[np.float64], faces: NDArray[np.int64], window: Window
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Flat cell number and height wherever a grid line pierces a triangle, row by row of the grid."""
    chosen = _pierced(np.ceil(x).astype(np.int64), np.ceil(y).astype(np.int64), faces, window)
    corner = faces[chosen]
    order = np.argsort(y[corner], axis=1, kind="stable")
    corner = np.take_along_axis(corner, order, axis=1)
    a, b, c = (np.ascontiguousarray(corner[:, k]) for k in range(3))
    # The half-open rule counts a line through a shared edge once.
    first = np.maximum(np.ceil(y[a]).astype(np.int64), 0)
    count = np.maximum(np.minimum(np.ceil(y[c]).astype(np.int64), window.rows) - first, 0)
    tri = np.repeat(np.arange(len(a)), count)
    row = _counted(count) + first[tri]
    at = row.astype(np.float64)
    a, b, c = a[tri], b[tri], c[tri]
    is_upper = at >= y[b]
    start, end = np.where(is_upper, b, a), np.where(is_upper, c, b)
    long_share, short_share = _share(at, y[a], y[c]), _share(at, y[start], y[end])
    long_x, short_x = x[a] + long_share * (x[c] - x[a]), x[start] + short_share * (x[end] - x[start])
    long_w, short_w = w[a] + long_share * (w[c] - w[a]), w[start] + short_share * (w[end] - w[start])
    swap = long_x > short_x
    left_x, right_x = np.where(swap, short_x, long_x), np.where(swap, long_x, short_x)
    left_w, right_w = np.where(swap, short_w, long_w), np.where(swap, long_w, short_w)
    first = np.maximum(np.ceil(left_x).astype(np.int64), 0)
    count = np.maximum(np.minimum(np.ceil(right_x).astype(np.int64), window.columns) - first, 0)
    lines = int(count.sum())
    check_room(_PIERCED_BYTES * lines, f"{lines} places where lines pierce a part")
    line = np.repeat(np.arange(len(row)), count)
    column = _counted(count) + first[line]
    share = _share(column.astype(np.float64), left_x[line], right_x[line])
    return row[line] * window.columns + column, left_w[line] + share * (right_w[line] - left_w[line])


def _pierced(
    columns: NDArray[np.int64], rows: NDArray[np.int64], faces: NDArray[np.int64], window: Window
) -> NDArray[np.int64]:
    """Triangles whose box holds a grid line of the window: of a dense mesh, few."""
    a, b, c = (np.ascontiguousarray(faces[:, k]) for k in range(3))
    row_a, row_b, row_c = rows[a], rows[b], rows[c]
    crosses = (row_a != row_b) | (row_a != row_c)
    column_a, column_b, column_c = columns[a], columns[b], columns[c]
    crosses &= (column_a != column_b) | (column_a != column_c)
    for first, second, third, end in (
        (row_a, row_b, row_c, window.rows),
        (column_a, column_b, column_c, window.columns),
    ):
        crosses &= np.maximum(np.maximum(first, second), third) > 0
        crosses &= np.minimum(np.minimum(first, second), third) < end
    return np.flatnonzero(crosses)


def _counted(count: NDArray[np.int64]) -> NDArray[np.int64]:
    """0, 1, ... within each run of the given lengths."""
    ends = np.cumsum(count)
    total = int(ends[-1]) if len(ends) else 0
    return np.arange(total) - np.repeat(ends - count, count)


def _share(at: NDArray[np.float64], first: NDArray[np.float64], last: NDArray[np.float64]) -> NDArray[np.float64]:
    """Where between two values each lies, 0 to 1; 0 where they are equal."""
    span = last - first
    return np.divide(at - first, span, out=np.zeros_like(span), where=span > 0)


def blocked_pairs(meshes: Sequence[Mesh], direction: Vector, *, cell_mm: float, overlap_mm: float) -> Blocking:
    """Who is in whose way along a direction and, by transposition, against it.

    Exact for travel to infinity up to the cell: over one cell, i moving along the direction meets j exactly when j's
    highest point lies above i's lowest.

    Parameters
    ----------
    meshes
        One for each part, in a common frame.
    direction
        Unit vector.
    cell_mm
        Edge of a cell; parts thinner than it across the direction may be missed.
    overlap_mm
        Overlap along the direction that is still contact.

    References
    ----------
    Wilson & Latombe, Geometric reasoning about mechanical assembly, Artificial Intelligence 71, 1994 (directional
    blocking graphs; cited from memory).
    """
    frame = frame_of(direction)
    fields = [height_field(mesh, frame, cell_mm) for mesh in meshes]
    return compare_heights(fields, direction, overlap_mm, cell_mm)


def compare_heights(fields: Sequence[Heights], direction: Vector, overlap_mm: float, cell_mm: float) -> Blocking:
    """`blocked_pairs` from height fields on one grid."""
    count = len(fields)
    wide = np.zeros((count, count), dtype=bool)
    narrow = np.zeros((count, count), dtype=bool)
    leave = np.zeros((count, count))
    strips: dict[tuple[int, int], Strip] = {}
    for i in range(count):
        for j in range(count):
            if i == j or not _boxes_meet(fields[i], fields[j]):
                continue
            leave[i, j] = max(0.0, float(fields[j].box_high[2] - fields[i].box_low[2]))
            windows = _common_window(fields[i], fields[j])
            if windows is None or leave[i, j] <= overlap_mm:
                continue
            excess = fields[j].high[windows[1]] - fields[i].low[windows[0]]
            meets = excess > overlap_mm
            if not meets.any():
                continue
            wide[i, j] = _has_block(meets)
            narrow[i, j] = not wide[i, j]
            if narrow[i, j]:
                strips[i, j] = _strip(meets, fields[i], windows[0], cell_mm)
    return Blocking(direction=direction, wide=wide, narrow=narrow, leave_mm=leave, strips=strips)


def _strip(meets: NDArray[np.bool_], field: Heights, window: tuple[slice, slice], cell_mm: float) -> Strip:
    rows, columns = np.nonzero(meets)
    row, column = field.row + window[0].start, field.column + window[1].start
    low = ((column + columns.min() - 1 + OFF_GRID) * cell_mm, (row + rows.min() - 1 + OFF_GRID) * cell_mm)
    high = ((column + columns.max() + 1 + OFF_GRID) * cell_mm, (row + rows.max() + 1 + OFF_GRID) * cell_mm)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def is_blocked_in_strip(
    first: Mesh, second: Mesh, direction: Vector, strip: Strip, *, cell_mm: float, overlap_mm: float
) -> bool:
    """Whether a part meets another within a strip across its direction, over at least two by two cells of a fine grid.

    Parameters
    ----------
    first, second
        The moving part, and what may be in its way.
    direction
        Unit vector, the very one that the strip comes from or its opposite turned round by `Blocking.backwards`.
    strip
        From `Blocking.strips`.
    cell_mm
        Fine: narrower overlaps count as sliding along.
    overlap_mm
        As for `blocked_pairs`.
    """
    frame = frame_of(direction)
    (x_low, y_low), (x_high, y_high) = strip
    window = Window(
        row=int(np.floor(y_low / cell_mm)),
        column=int(np.floor(x_low / cell_mm)),
        rows=int(np.ceil((y_high - y_low) / cell_mm)) + 1,
        columns=int(np.ceil((x_high - x_low) / cell_mm)) + 1,
    )
    moving, standing = (height_field(mesh, frame, cell_mm, window) for mesh in (first, second))
    return _has_block(standing.high - moving.low > overlap_mm)


def _has_block(meets: NDArray[np.bool_]) -> bool:
    return bool((meets[:-1, :-1] & meets[1:, :-1] & meets[:-1, 1:] & meets[1:, 1:]).any())


def _boxes_meet(first: Heights, second: Heights) -> bool:
    return bool(np.all(first.box_low[:2] < second.box_high[:2]) and np.all(second.box_low[:2] < first.box_high[:2]))


def _common_window(first: Heights, second: Heights) -> tuple[tuple[slice, slice], tuple[slice, slice]] | None:
    row = max(first.row, second.row)
    column = max(first.column, second.column)
    rows = min(first.row + first.low.shape[0], second.row + second.low.shape[0]) - row
    columns = min(first.column + first.low.shape[1], second.column + second.low.shape[1]) - column
    if rows < 1 or columns < 1:
        return None
    return _window(first, row, column, rows, columns), _window(second, row, column, rows, columns)


def _window(field: Heights, row: int, column: int, rows: int, columns: int) -> tuple[slice, slice]:
    top, left = row - field.row, column - field.column
    return slice(top, top + rows), slice(left, left + columns)


def solid(mesh: Mesh) -> Solid | None:
    """The mesh as a solid for exact intersection; None when it is not closed."""
    soup = TriangleSoup(vert_properties=mesh.vertices.astype(np.float32), tri_verts=mesh.faces.astype(np.uint32))
    soup.merge()
    body = Manifold(soup)
    if body.status() != Error.NoError or body.is_empty():
        return None
    return Solid(body)


def simplified(body: Solid, tolerance_mm: float) -> Solid:
    """A solid without surface detail finer than a tolerance: for movements that are looked at in many places."""
    return Solid(body._body.simplify(tolerance_mm))


def swung(body: Solid, axis: Vector, at_mm: Vector, degrees: float) -> Solid:
    """A solid turned about a line through a point, by the right-hand rule."""
    x, y, z = (float(value) for value in np.asarray(axis) / np.linalg.norm(axis))
    angle = np.radians(degrees)
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turn = np.eye(3) + np.sin(angle) * cross + (1.0 - np.cos(angle)) * cross @ cross
    shift = np.asarray(at_mm) - turn @ np.asarray(at_mm)
    return Solid(body._body.transform(np.column_stack([turn, shift])))


def union(solids: Sequence[Solid]) -> Solid:
    """Several solids as one, for movements of a group; they must not overlap by more than noise."""
    return Solid(Manifold.compose([item._body for item in solids]))


def overlap(moving: Solid, standing: Solid, shift_mm: Vector | NDArray[np.float64]) -> Overlap:
    """How far a solid, shifted, penetrates another."""
    dx, dy, dz = (float(value) for value in shift_mm)
    return _penetration(moving._body.translate((dx, dy, dz)), standing._body)


def rod_overlap(standing: Solid, start: Vector, end: Vector, radius_mm: float) -> Overlap:
    """How far a cylinder between two points penetrates a solid."""
    return _penetration(_rod(start, end, radius_mm), standing._body)


def _rod(start: Vector, end: Vector, radius_mm: float) -> Manifold:
    line = np.subtract(end, start)
    length = float(np.linalg.norm(line))
    frame = frame_of((float(line[0]), float(line[1]), float(line[2])))
    rod = Manifold.cylinder(length, radius_mm, radius_mm, 24)
    frame[1] = np.cross(frame[2], frame[0])
    return rod.transform(np.column_stack([frame.T, np.asarray(start, dtype=np.float64)]))


def _penetration(first: Manifold, second: Manifold) -> Overlap:
    if not _near(first.bounding_box(), second.bounding_box()):
        return Overlap(volume_mm3=0.0, depth_mm=0.0)
    common = first ^ second
    volume = float(common.volume())
    area = float(common.surface_area())
    return Overlap(volume_mm3=volume, depth_mm=2.0 * volume / area if area > 0.0 else 0.0)


def _near(first: Sequence[float], second: Sequence[float]) -> bool:
    return all(first[k] < second[k + 3] and second[k] < first[k + 3] for k in range(3))


def surface_hits(standing: Solid, start: Vector, direction: Vector, length_mm: float) -> tuple[float, ...]:
    """Distances at which a ray pierces the surface of a solid, nearest first; an odd count: it starts inside."""
    end = np.asarray(start) + np.asarray(direction) * length_mm
    hits = standing._body.ray_cast(tuple(float(v) for v in start), tuple(float(v) for v in end))
    return tuple(sorted(float(np.dot(np.subtract(hit.position, start), direction)) for hit in hits))


def bar_overlap(standing: Solid, world_from_bar: NDArray[np.float64], size_mm: Vector) -> Overlap:
    """How far a box penetrates a solid.

    Parameters
    ----------
    standing
        The solid.
    world_from_bar : (3, 4) float64
        Rotation and place of the box's frame.
    size_mm
        Of the box; it starts at its frame's origin along the first axis and is centred on the others.
    """
    bar = Manifold.cube(size_mm).translate((0.0, -size_mm[1] / 2, -size_mm[2] / 2)).transform(world_from_bar)
    return _penetration(bar, standing._body)
