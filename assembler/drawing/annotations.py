"""Vector marks over a step's picture: how the new part moves, and where bolt axes and hidden hardware run.

In: a `Shot` and its references. Out: SVG, at true length in the picture. Trails lead from a mating face to where it
goes. Axes are narrow long-dash dot lines that stop where a body covers them; screws and nuts that something covers are
outlined as hidden lines, so that side and direction of every bolt can be seen.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.callouts import Callout, crosses
from assembler.drawing.camera import Point, unit
from assembler.drawing.explode import Hung, way_back
from assembler.drawing.mating import back_projected
from assembler.drawing.scenes import Role
from assembler.drawing.shot import Shot
from assembler.drawing.style import BLACK, GREY, px
from assembler.drawing.viewpoints import visible
from assembler.figure.plan import StepKind

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The marks of a movement: SVG, and the corners of its arrow in pixels for whatever has to stay clear of it."""

    svg: str = ""
    arrow: tuple[Point, ...] = ()


def motion_marks(shot: Shot, callouts: Sequence[Callout]) -> Marks:
    """Trails from the new part's mating face to where it goes, at true length, and the arrow of the movement.

    Both follow the legs of the path, round its corner where it has one; the arrow of a straight path is kept short, so
    that it lies beside what moves.
    """
    stage = shot.stage
    if stage.explode_mm <= 0.0:
        return Marks()
    shifts = np.asarray(way_back(stage.step.path, stage.explode_mm))
    route = shot.camera.project(np.asarray(shot.camera.centre_mm) + shifts)[:, :2]
    route = route - route[0]
    space = _leaving_points(shot)
    legs = np.hypot(*np.diff(route, axis=0).T)
    if legs.sum() < px(4.0) or not len(space):
        return Marks()
    way = np.asarray(route[-1] if np.hypot(*route[-1]) > 1.0 else route[1])
    unit_way = way / np.hypot(*way)
    points = shot.camera.project(space)[:, :2]
    across = points @ np.array([-unit_way[1], unit_way[0]])
    ends_of_row = [int(np.argmin(across)), int(np.argmax(across))]
    trails = []
    for index in ends_of_row:
        corners = space[index] - shifts[0] + shifts
        for here, there in itertools.pairwise(corners):
            trails += visible_runs(shot, here, there, overlay.PATH_DASHES_MM, GREY, 0.0)
    if len(route) == 2:
        route = np.array([(0.0, 0.0), unit_way * min(float(np.hypot(*way)), px(ARROW_MM))])
    start = _beside(shot, [points[index] for index in ends_of_row], route, callouts, float(np.hypot(*way)))
    arrow = [_point(start + corner) for corner in route]
    # What is taken out again is shown where it goes to: the arrow leads there, not back.
    drawn = arrow[::-1] if stage.step.kind is StepKind.OPEN else arrow
    svg = overlay.bent_arrow(drawn, 1.3, 5.2, "#ffffff") + overlay.bent_arrow(drawn, 0.7, 4.6)
    return Marks(svg="".join(trails) + svg, arrow=tuple(arrow))


def _point(pair: Floats) -> Point:
    return (float(pair[0]), float(pair[1]))


def _leaving_points(shot: Shot) -> Floats:
    """Points of the new part's mating faces where they are in the picture, (n, 3) mm; of its surface if none mates."""
    shift = np.asarray(shot.stage.shift_mm)
    faces = [found.points_mm + shift for found in shot.stage.maps]
    if faces:
        return np.vstack(faces)
    numbers = [n for n, item in enumerate(shot.stage.items, start=1) if item.role is Role.NEW]
    rows, columns = np.nonzero(np.isin(shot.buffers.ids, numbers))
    rows, columns = rows[::97], columns[::97]
    return back_projected(shot.camera, columns, rows, shot.buffers.near_mm[rows, columns])


def _beside(
    shot: Shot, corners: Sequence[Floats], route: Floats, callouts: Sequence[Callout], trail_px: float
) -> Floats:
    """Start of the arrow: next to a trail and near what moves, where it covers little and crosses no leader."""
    total = route[-1] - route[0]
    length = float(np.hypot(*total))
    way = total / max(length, 1e-6)
    side = np.array([-way[1], way[0]])
    # Without a visible pixel every place is as near as another.
    moving = _places_of(shot, Role.NEW)
    goal = _goal(shot)
    options: list[tuple[float, int, float, float, Floats]] = []
    for order, (corner, outwards) in enumerate(zip(corners, (-1.0, 1.0), strict=True)):
        for gap_mm in (3.5, 5.5, 8.0, 11.0, 16.0):
            for ahead in np.linspace(-1.5 * length, max(trail_px - length, 0.0), 9):
                start = corner + side * outwards * px(gap_mm) + way * ahead
                away = np.hypot(*(moving - (start + route.mean(axis=0))).T).min() / px(1.0)
                missed = np.abs((goal - start) @ side).min(initial=np.inf) / px(1.0) if len(goal) else 0.0
                cost = _covered(shot, start, route) + _in_the_way(start, route, callouts) + 0.4 * gap_mm
                cost += 1.5 * away + ASTRAY * max(missed - 6.0, 0.0) + BEHIND * max(-ahead, 0.0) / length
                options.append((round(float(cost), 3), order, gap_mm, float(ahead), start))
    best: Floats = min(options, key=lambda option: option[:4])[4]
    return best


def _in_the_way(start: Floats, route: Floats, callouts: Sequence[Callout]) -> float:
    """What it costs that an arrow crosses leaders or runs into the box of a reference."""
    legs = [(_point(start + a), _point(start + b)) for a, b in itertools.pairwise(route)]
    leaders = sum(crosses(*leg, one.foot, one.label.anchor) for leg in legs for one in callouts)
    points = start + np.linspace(route[0], route[-1], 12)
    hit = [
        (np.abs(points - np.asarray(one.centre)) < np.array([one.half_width, one.half_height]) + px(1.5)).all(axis=1)
        for one in callouts
    ]
    return 8.0 * leaders + 100.0 * bool(np.any(hit))


def _places_of(shot: Shot, role: Role) -> Floats:
    """Pixels that show a role, thinned, (n, 2) as x and y; the origin if there is none."""
    numbers = [n for n, item in enumerate(shot.stage.items, start=1) if item.role is role]
    rows, columns = np.nonzero(np.isin(shot.buffers.ids[::6, ::6], numbers))
    return np.column_stack([columns, rows]).astype(np.float64) * 6.0 if len(rows) else np.zeros((1, 2))


def _goal(shot: Shot) -> Floats:
    """Where the standing side of the joints is seen, (n, 2) px."""
    points = [found.points_mm for found in shot.stage.maps]
    if not points:
        return np.zeros((0, 2))
    every = np.vstack(points)
    seen: Floats = shot.camera.project(every[visible(shot.buffers, shot.camera, every)])[:, :2]
    return seen


COVERED = {Role.NEW: 70.0, Role.HARDWARE: 70.0, Role.NEIGHBOUR: 40.0, Role.CUT: 40.0, Role.STANDING: 16.0}
"""What it costs to lay the whole arrow over a role; the bench top costs nothing."""
CROSSED = 5.0
"""What it costs to cross one outline."""
MISLEADING = {Role.STANDING: 30.0, Role.NEIGHBOUR: 10.0}
"""What it costs that an arrow ends at the edge of something: most where it is not even joined."""
ASTRAY = 0.8
"""What it costs for each mm that the line of an arrow misses the faces it leads to by."""
BEHIND = 10.0
"""What it costs that an arrow lies its own length behind what moves."""
ARROW_MM = 16.0
"""Longest arrow of a straight path, on paper."""
ASIDE_MM = 1.6
"""Half the width of what an arrow is felt to cover."""


def _covered(shot: Shot, start: Floats, route: Floats) -> float:
    """How much of the drawing an arrow would lie on, whether it leaves the picture, and what it seems to point at."""
    height, width = shot.buffers.ids.shape
    line = start + np.vstack([a + np.linspace(0.0, 1.0, 32)[:, None] * (b - a) for a, b in itertools.pairwise(route)])
    last = route[-1] - route[-2]
    way = last / max(float(np.hypot(*last)), 1e-6)
    aside = np.array([-way[1], way[0]]) * px(ASIDE_MM)
    points = np.vstack([line, line + aside, line - aside])
    inside = (points[:, 0] > 8) & (points[:, 0] < width - 8) & (points[:, 1] > 8) & (points[:, 1] < height - 8)
    weights = np.array([0.0, *(COVERED.get(item.role, 0.0) for item in shot.stage.items)])
    ids = _ids_at(shot, points)
    # The bench top is like paper here: its edge says nothing.
    bodies = np.where(weights[ids] > 0.0, ids, 0)
    crossings = int((np.diff(bodies.reshape(3, -1), axis=1) != 0).sum())
    ahead = line[-1] + way * np.linspace(0.0, px(5.0), 9)[:, None]
    tip = _ids_at(shot, np.vstack([line[-8:], ahead]))
    ends = len(np.unique(tip)) > 1
    seems = max(
        (MISLEADING.get(shot.stage.items[number - 1].role, 0.0) for number in np.unique(tip) if number), default=0.0
    )
    return float(weights[ids].mean() + CROSSED * crossings + (~inside).mean() * 400.0 + seems * ends)


def _ids_at(shot: Shot, points: Floats) -> NDArray[np.uint16]:
    """Item numbers under points of the picture, the nearest pixel for those outside."""
    height, width = shot.buffers.ids.shape
    column = np.clip(points[:, 0], 0, width - 1).astype(int)
    row = np.clip(points[:, 1], 0, height - 1).astype(int)
    found: NDArray[np.uint16] = shot.buffers.ids[row, column]
    return found


def hidden_hardware(shot: Shot) -> str:
    """Outlines of screws and nuts that something covers, as hidden lines."""
    pieces = []
    for piece in shot.stage.hung:
        if piece.kind == "washer":
            continue
        outline = _outline(shot, piece)
        whole = _area(outline)
        if whole > 0.0 and shot.pixels_of(piece) < 0.4 * whole:
            pieces.append(overlay.polyline([*outline, outline[0]], 0.18, GREY, overlay.HIDDEN_DASHES_MM))
    return "".join(pieces)


def _outline(shot: Shot, piece: Hung) -> list[Point]:
    """Box of a piece as the picture shows it, as a convex outline."""
    where = shot.camera.project(_piece_corners(piece))[:, :2]
    return _hull(where)


def _piece_corners(piece: Hung) -> NDArray[np.float64]:
    stack = piece.axis.stack
    size = float(stack.size[1:])
    if piece.kind == "screw":
        rings = [
            (size / 2.0, -stack.length_mm),
            (size / 2.0, 0.0),
            (stack.head_outer_mm / 2.0, 0.0),
            (stack.head_outer_mm / 2.0, stack.head_mm),
        ]
    else:
        radius = stack.nut_across_flats_mm / np.sqrt(3.0)
        rings = [(radius, 0.0), (radius, stack.nut_mm)]
    angles = np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False)
    points = np.array([[r * np.cos(a), r * np.sin(a), z] for r, z in rings for a in angles])
    return piece.item.placed(points)


def _hull(points: NDArray[np.float64]) -> list[Point]:
    """Convex hull, counter-clockwise in pixel axes."""
    ordered = sorted({(round(float(x), 2), round(float(y), 2)) for x, y in points})

    def half(sequence: list[Point]) -> list[Point]:
        chain: list[Point] = []
        for point in sequence:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0.0:
                chain.pop()
            chain.append(point)
        return chain[:-1]

    return half(ordered) + half(ordered[::-1])


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _area(outline: list[Point]) -> float:
    closed = [*outline, outline[0]] if outline else []
    return abs(sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(closed, closed[1:], strict=False))) / 2.0


def axis_lines(shot: Shot) -> str:
    """Bolt axes as narrow long-dash dot lines, interrupted where a body covers them."""
    lines = []
    for axis in shot.stage.axes:
        pieces = [piece for piece in shot.stage.hung if piece.axis is axis]
        middles = np.array([piece.middle_mm for piece in pieces])
        along = middles @ unit(axis.bolt.axis)
        across = middles - np.outer(along, unit(axis.bolt.axis))
        # Pieces of one bolt lie on two lines where the part slides across the axis.
        for group in _groups(across):
            order = sorted(group, key=lambda i: (float(along[i]), i))
            first, last = middles[order[0]], middles[order[-1]]
            lines += visible_runs(shot, first, last)
    return "".join(lines)


def _groups(across: NDArray[np.float64]) -> list[list[int]]:
    groups: list[list[int]] = []
    for index, place in enumerate(across):
        home = next((g for g in groups if float(np.linalg.norm(across[g[0]] - place)) < 0.5), None)
        if home is None:
            groups.append([index])
        else:
            home.append(index)
    return groups


def visible_runs(
    shot: Shot,
    first: NDArray[np.float64],
    last: NDArray[np.float64],
    dashes_mm: Sequence[float] = overlay.AXIS_DASHES_MM,
    colour: str = BLACK,
    beyond_mm: float = 8.0,
) -> list[str]:
    """The runs of a line in space that nothing covers.

    Parameters
    ----------
    shot
        The picture.
    first, last : (3,) float64
        Ends, mm.
    dashes_mm, colour
        Of the line on paper.
    beyond_mm
        True length added at both ends.
    """
    way = unit(last - first)
    first, last = first - way * beyond_mm, last + way * beyond_mm
    where = shot.camera.project(np.vstack([first, last]))
    steps = max(int(np.hypot(*(where[1, :2] - where[0, :2])) / 3.0), 2)
    share = np.linspace(0.0, 1.0, steps)[:, None]
    points = first * (1.0 - share) + last * share
    seen = visible(shot.buffers, shot.camera, points)
    flat = shot.camera.project(points)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], seen.astype(np.int8), [0]])))
    runs = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if end - begin > 2:
            a, b = flat[begin], flat[end - 1]
            ends = (float(a[0]), float(a[1])), (float(b[0]), float(b[1]))
            runs.append(overlay.line(*ends, 0.2, colour, dashes_mm))
    return runs
