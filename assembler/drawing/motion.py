"""How the new part moves: trails from its mating face to where it goes, and an arrow.

In: a `Shot` and its references. Out: SVG, at true length in the picture.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.axislines import visible_runs
from assembler.drawing.callouts import Callout, crosses
from assembler.drawing.mating import back_projected
from assembler.drawing.overlay import Point
from assembler.drawing.scenes import Role
from assembler.drawing.shot import Shot
from assembler.drawing.style import GREY, px


def motion_marks(shot: Shot, callouts: Sequence[Callout]) -> str:
    """Trails from the new part's mating face to where it goes, and the arrow of the movement, all at true length."""
    stage = shot.stage
    if stage.explode_mm <= 0.0:
        return ""
    centre = np.asarray(shot.camera.centre_mm)
    ends = shot.camera.project(np.vstack([centre, centre - np.asarray(stage.shift_mm)]))
    way = ends[1, :2] - ends[0, :2]
    length = float(np.hypot(*way))
    space = _leaving_points(shot)
    if length < px(4.0) or not len(space):
        return ""
    unit_way = way / length
    points = shot.camera.project(space)[:, :2]
    across = points @ np.array([-unit_way[1], unit_way[0]])
    ends_of_row = [int(np.argmin(across)), int(np.argmax(across))]
    corners = [points[index] for index in ends_of_row]
    trails = []
    for index in ends_of_row:
        goal = space[index] - np.asarray(stage.shift_mm)
        trails += visible_runs(shot, space[index], goal, overlay.PATH_DASHES_MM, GREY, 0.0)
    start = _beside(shot, corners, unit_way, length, callouts)
    end = start + way
    return (
        "".join(trails)
        + overlay.arrow(_point(start), _point(end), 1.3, 5.2, "#ffffff")
        + overlay.arrow(_point(start), _point(end), 0.7, 4.6)
    )


def _point(pair: NDArray[np.float64]) -> Point:
    return (float(pair[0]), float(pair[1]))


def _leaving_points(shot: Shot) -> NDArray[np.float64]:
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
    shot: Shot,
    corners: Sequence[NDArray[np.float64]],
    way: NDArray[np.float64],
    length: float,
    callouts: Sequence[Callout],
) -> NDArray[np.float64]:
    """Start of the arrow: next to a trail and near what moves, where it covers little and crosses no leader."""
    side = np.array([-way[1], way[0]])
    numbers = [n for n, item in enumerate(shot.stage.items, start=1) if item.role is Role.NEW]
    rows, columns = np.nonzero(np.isin(shot.buffers.ids[::6, ::6], numbers))
    # Without a visible pixel every place is as near as another.
    moving = np.column_stack([columns, rows]) * 6.0 if len(rows) else np.zeros((1, 2))
    options: list[tuple[float, int, float, float, NDArray[np.float64]]] = []
    for order, (corner, outwards) in enumerate(zip(corners, (-1.0, 1.0), strict=True)):
        for gap_mm in (4.0, 7.0, 11.0, 16.0):
            for back in (0.0, 0.35, 0.7, 1.05, 1.4):
                start = corner + side * outwards * px(gap_mm) - way * back * length
                end = start + way * length
                leaders = sum(crosses(_point(start), _point(end), one.foot, one.label.anchor) for one in callouts)
                near = float(np.hypot(*(moving - (start + end) / 2.0).T).min()) / px(1.0)
                cost = _covered(shot, start, way, length) + 10.0 * leaders + 3.0 * near + 0.4 * gap_mm + 3.0 * back
                options.append((round(cost, 3), order, gap_mm, back, start))
    best: NDArray[np.float64] = min(options, key=lambda option: option[:4])[4]
    return best


def _covered(shot: Shot, start: NDArray[np.float64], way: NDArray[np.float64], length: float) -> float:
    """How much of the drawing an arrow would lie on, and whether it leaves the picture."""
    height, width = shot.buffers.ids.shape
    # Looks beyond the tip too: an arrow that ends just before a standing part seems to mean that part.
    points = start + np.linspace(0.0, 1.2, 48)[:, None] * way * length
    inside = (points[:, 0] > 8) & (points[:, 0] < width - 8) & (points[:, 1] > 8) & (points[:, 1] < height - 8)
    column, row = np.clip(points[:, 0], 0, width - 1).astype(int), np.clip(points[:, 1], 0, height - 1).astype(int)
    grounds = [n for n, item in enumerate(shot.stage.items, start=1) if item.role is Role.GROUND]
    ids = shot.buffers.ids[row, column]
    return float(((ids > 0) & ~np.isin(ids, grounds)).mean() * 45.0 + (~inside).mean() * 400.0)
