"""Where adhesive goes on a face: a bead along the edges, a ring round every hole, open for the air.

In: the face as a mask, its scale, its bolts, where the hollow lies. Out: a `BeadPlan`. The rule is common practice, no
source: a bead along every edge, a quarter of the flange's width in and at most 8 mm; a ring round every hole, 4 mm off
it; on a wide face further beads inside, 25 mm apart; on the side of the hollow the bead is left open for 10 mm between
neighbouring bolts, so that air gets out and what is squeezed out does so where nobody sees it. The data sheet of the
adhesive comes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]

MOST_INSET_MM = 8.0
INSET_SHARE = 0.25
OFF_HOLE_MM = 4.0
NEXT_MM = 25.0
GAP_MM = 10.0
PRESSES = 4
"""Marks at which a face without bolts is pressed together."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BeadPlan:
    """A pattern of beads in a picture.

    Parameters
    ----------
    edge, rings : (h, w) bool
        Pixels of the beads along the edges and round the holes.
    length_mm
        Of all beads, true size.
    inset_mm
        From an edge to the middle of its bead.
    """

    edge: Mask
    rings: Mask
    length_mm: float
    inset_mm: float

    def bead_mm(self, volume_ml: float) -> float:
        """Diameter of a round bead that lays a volume, mm; 0 for no bead."""
        return float(np.sqrt(4.0 * volume_ml * 1000.0 / (np.pi * self.length_mm))) if self.length_mm > 0.0 else 0.0


def bead_plan(
    face: Mask,
    mm_per_px: float,
    bolts_px: Floats,
    hole_mm: Sequence[float],
    hollow_px: tuple[float, float],
    width_px: float,
    least_ring_px: float,
) -> BeadPlan:
    """Beads on a face.

    Parameters
    ----------
    face
        Mating face as the picture shows it, holes left out.
    mm_per_px
        Scale.
    bolts_px : (n, 2) float64
        Bolt axes, x and y.
    hole_mm
        Diameter of each hole.
    hollow_px
        Middle of the hollow that the flange runs round.
    width_px
        Of the drawn bead: a sign, not its true width.
    least_ring_px
        Rings are drawn at least this large, to show round the numbers that stand at the holes.
    """
    x, y = np.meshgrid(np.arange(face.shape[1]) + 0.5, np.arange(face.shape[0]) + 0.5)
    away = [np.hypot(x - bx, y - by) for bx, by in bolts_px]
    whole = face.copy()
    for distance, hole in zip(away, hole_mm, strict=True):
        whole |= distance < (hole / 2.0 + 1.5) / mm_per_px
    depth = ndimage.distance_transform_edt(np.pad(whole, 1))[1:-1, 1:-1]
    inset_mm = min(MOST_INSET_MM, INSET_SHARE * _mean_width_px(whole, depth) * mm_per_px)
    levels = np.arange(inset_mm, float(depth.max()) * mm_per_px - NEXT_MM / 5.0, NEXT_MM)
    levels = levels if len(levels) else np.array([inset_mm])
    edge = np.zeros_like(face)
    for level in levels / mm_per_px:
        edge |= whole & (np.abs(depth - level) < width_px / 2.0)
    edge &= ~_openings(depth, away, (x, y), hollow_px, GAP_MM / mm_per_px)
    rings = np.zeros_like(face)
    for distance, hole in zip(away, hole_mm, strict=True):
        radius = max((hole / 2.0 + OFF_HOLE_MM) / mm_per_px, least_ring_px)
        rings |= (np.abs(distance - radius) < width_px / 2.0) & whole
    true_rings = sum(2.0 * np.pi * (hole / 2.0 + OFF_HOLE_MM) for hole in hole_mm)
    return BeadPlan(
        edge=edge,
        rings=rings,
        length_mm=float(edge.sum()) / width_px * mm_per_px + float(true_rings),
        inset_mm=float(inset_mm),
    )


def _mean_width_px(whole: Mask, depth: Floats) -> float:
    """Width of a band with the area and the border of the face; a face far from a band is as wide as it is deep."""
    border = float((whole & (depth <= 1.0)).sum())
    return min(2.0 * float(whole.sum()) / border, 2.0 * float(depth.max())) if border else 0.0


def _openings(
    depth: Floats, away: Sequence[Floats], grid: tuple[Floats, Floats], hollow_px: tuple[float, float], gap_px: float
) -> Mask:
    """Where the bead on the hollow's side is left open: midway between neighbouring bolts; once without bolts."""
    x, y = grid
    down, across = np.gradient(ndimage.gaussian_filter(depth, 1.5))
    # Depth grows away from an edge: on the hollow's side that is away from the hollow.
    inner = ((x - hollow_px[0]) * across + (y - hollow_px[1]) * down > 0.0) & (depth > 0.0)
    if len(away) >= 2:
        near = np.partition(np.stack(away), 1, axis=0)
        return np.asarray(inner & (near[1] - near[0] < gap_px), dtype=np.bool_)
    if not inner.any():
        return np.zeros(depth.shape, dtype=np.bool_)
    lowest = int(np.argmax(np.where(inner, y, -1.0)))
    row, column = np.unravel_index(lowest, depth.shape)
    return np.asarray(np.hypot(x - column, y - row) < gap_px, dtype=np.bool_)


def press_points(face: Mask) -> tuple[tuple[float, float], ...]:
    """Points spread over a face, the first where it is widest, each next one where most of it is still far: x, y px."""
    left = ndimage.distance_transform_edt(np.pad(face, 1))[1:-1, 1:-1]
    width = float(left.max())
    rows, columns = np.indices(face.shape)
    spread = np.full(face.shape, np.inf)
    points: list[tuple[float, float]] = []
    while width > 0.0 and len(points) < PRESSES:
        # The middle of the band, as far as can be from the points before.
        worth = np.where(left > 0.35 * width, np.minimum(spread, 1e6) + left, -1.0)
        row, column = np.unravel_index(int(np.argmax(worth)), face.shape)
        points.append((float(column) + 0.5, float(row) + 0.5))
        spread = np.minimum(spread, np.hypot(columns - column, rows - row))
    return tuple(points)
