"""Bolt axes and hidden hardware over a step's picture.

In: a `Shot`. Out: SVG. Axes are narrow long-dash dot lines that stop where a body covers them; screws and nuts that
something covers are outlined as hidden lines, so that side and direction of every bolt can be seen.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.camera import unit
from assembler.drawing.explode import Hung
from assembler.drawing.overlay import Point
from assembler.drawing.shot import Shot
from assembler.drawing.style import BLACK, GREY
from assembler.drawing.viewpoints import visible


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
