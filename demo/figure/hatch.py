"""The hatch in the upper back: the opening through which the last joint is closed, and the panel that shuts it.

The panel is a shallow tray: skin in front, a flat rim behind that lies on a flat lip in the torso, so that it can
only be put in from outside and its bond line is plane.
"""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold

from demo.figure.cells import Cell
from demo.figure.frames import Plane

TORSO = "torso 5 left"
CENTRE = (96.0, 116.0, 1550.0)
FACING = (0.56, 0.828, 0.0)
WIDE_MM, HIGH_MM = 172.0, 230.0
CORNER_MM = 26.0
LIP_MM = 13.0
RIM_MM = 8.0
FRAME_MM = 6.0
PLAY_MM = 0.4  # around the edge, so that the panel goes in after painting
SKIN_MM = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """The torso with its opening and lip, the panel, the plane of the seat, and the panel's outline there."""

    torso: Manifold
    panel: Manifold
    seat: Plane
    outline: CrossSection


def cut_hatch(cell: Cell, cavity: Manifold) -> Hatch:
    """Return the torso with a hatch opening and the panel that closes it; `cavity` is bare of flanges."""
    outline = _rounded(WIDE_MM, HIGH_MM)
    opening = outline.offset(-LIP_MM)
    seat = _seat(cell.outer, outline)
    deep = 300.0
    frame = seat.prism(outline.offset(FRAME_MM) - opening, -RIM_MM, deep)
    torso = cell.outer - (cell.hollow - frame) - seat.prism(outline, 0.0, deep)
    panel_outline = outline.offset(-PLAY_MM)
    panel = cell.outer ^ seat.prism(panel_outline, 0.0, deep)
    panel -= cavity ^ seat.prism(panel_outline.offset(-SKIN_MM), RIM_MM, deep)
    panel -= cavity ^ seat.prism(opening, -1.0, RIM_MM + 1.0)
    return Hatch(torso=torso, panel=panel, seat=seat, outline=panel_outline)


def _rounded(wide_mm: float, high_mm: float) -> CrossSection:
    inner = CrossSection.square((wide_mm - 2.0 * CORNER_MM, high_mm - 2.0 * CORNER_MM), center=True)
    return inner.offset(CORNER_MM, circular_segments=32)


def _seat(outer: Manifold, outline: CrossSection) -> Plane:
    """Return the plane of the lip: as shallow as the skin along the panel's edge allows for a full rim."""
    plane = Plane.through(CENTRE, FACING)
    edge = outline.offset(3.0) - outline
    # The lowest point of the skin over the edge strip is the height of what the strip's prism keeps everywhere.
    strip = edge.area()
    low, high = -100.0, 100.0
    for _ in range(30):
        middle = (low + high) / 2.0
        covered = (plane.section(outer, middle) ^ edge).area()
        low, high = (middle, high) if covered > 0.999 * strip else (low, middle)
    return Plane.through(plane.point(0.0, 0.0, low - RIM_MM - 1.0), FACING)


def seam_length_mm(hatch: Hatch, outer: Manifold) -> float:
    """Return the length of the panel's outline where it shows on the skin."""
    outline = np.asarray(hatch.outline.to_polygons()[0])
    closed = np.vstack([outline, outline[:1]])
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    at = np.linspace(0.0, steps[-1], 240)
    points = []
    for x, y in zip(*(np.interp(at, steps, closed[:, k]) for k in (0, 1)), strict=True):
        hits = outer.ray_cast(tuple(hatch.seat.point(x, y, 250.0)), tuple(hatch.seat.point(x, y, 0.0)))
        points.append(np.asarray(hits[0].position))
    return float(np.sum(np.linalg.norm(np.diff(points, axis=0), axis=1)))
