"""Does a picture that was printed still show what its camera sees? Only where something differs is looked at.

In: two scenes that differ in a few bodies, and one camera. Out: whether anybody could tell their pictures apart, and
that part of the picture in which they differ. It costs a fraction of a picture, and most pictures after a re-cut differ
by nothing but the last bits of a line.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera
from assembler.drawing.linework import drawing
from assembler.drawing.raster import Buffers, Rasteriser
from assembler.drawing.sameness import look_the_same
from assembler.drawing.scenes import Item
from assembler.drawing.style import Look, px

AROUND_MM = 3.0
"""On paper: a line follows from what is seen within this distance."""
FLUTTER_PX = 0.02
"""Differences of depth below this are rounding."""

Window = tuple[int, int, int, int]
"""Left, top, right and bottom, px; the last two are the first beyond."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Difference:
    """Where two pictures by one camera differ, with what is around.

    Parameters
    ----------
    place
        In the whole picture.
    frames
        What is seen there before and now.
    numbers
        For each of them: by the number of an item in its id buffer, a number that stands for the same in both.
    rasters
        What is drawn there before and now, (h, w, 3) uint8 each.
    mm_per_px
        Scale of the camera.
    """

    place: Window
    frames: tuple[Buffers, Buffers]
    numbers: tuple[NDArray[np.int64], NDArray[np.int64]]
    rasters: tuple[NDArray[np.uint8], NDArray[np.uint8]]
    mm_per_px: float

    @cached_property
    def is_seen(self) -> bool:
        """Whether anybody could tell the pictures apart."""
        return not look_the_same(*self.rasters)

    @property
    def differs(self) -> NDArray[np.bool_]:
        """Pixels that show something else, or the same farther away than rounding would put it, (h, w)."""
        return _differing(self.frames, self.numbers, self.mm_per_px)


def show_the_same(
    rasteriser: Rasteriser,
    before: Sequence[Item],
    now: Sequence[Item],
    camera: Camera,
    look: Callable[[Item], Look],
) -> bool:
    """Whether nobody can tell two pictures by one camera apart; see `difference`."""
    found = difference(rasteriser, before, now, camera, look)
    return found is None or not found.is_seen


def difference(
    rasteriser: Rasteriser,
    before: Sequence[Item],
    now: Sequence[Item],
    camera: Camera,
    look: Callable[[Item], Look],
) -> Difference | None:
    """In what two pictures by one camera differ; None if they do not.

    Parameters
    ----------
    rasteriser
        Knows all shapes.
    before, now
        What is drawn in one and in the other, both in the order in which it is drawn.
    camera
        Of both.
    look
        How an item is drawn.
    """
    shared = set(before) & set(now)
    differing = [item for item in (*before, *now) if item not in shared and rasteriser.has(item.shape)]
    if not differing:
        return None
    window = _window_of(np.vstack([rasteriser.box(item) for item in differing]), camera)
    if window is None:
        return None
    part = camera.cropped(*window)
    first, second = (rasteriser.draw(items, part, within=now) for items in (before, now))
    numbers = _numbers(before, now)
    place = _around(_differing((first, second), numbers, camera.mm_per_px))
    if place is None:
        return None
    frames = (_cut(first, place), _cut(second, place))
    one, other = (
        drawing(frame, [look(item) for item in items], camera.mm_per_px)
        for frame, items in zip(frames, (before, now), strict=True)
    )
    left, top = window[:2]
    return Difference(
        place=(place[0] + left, place[1] + top, place[2] + left, place[3] + top),
        frames=frames,
        numbers=numbers,
        rasters=(one, other),
        mm_per_px=camera.mm_per_px,
    )


def _window_of(corners_mm: NDArray[np.float64], camera: Camera) -> Window | None:
    """The part of a picture in which some boxes lie, with what is around; None if they lie out of it."""
    where = camera.project(corners_mm)[:, :2]
    low, high = np.floor(where.min(axis=0)) - px(AROUND_MM), np.ceil(where.max(axis=0)) + px(AROUND_MM)
    left, top = (max(int(value), 0) for value in low)
    right, bottom = (
        min(int(value), size) for value, size in zip(high, (camera.width_px, camera.height_px), strict=True)
    )
    return (left, top, right, bottom) if left < right and top < bottom else None


def _numbers(before: Sequence[Item], now: Sequence[Item]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """For each scene: by the number of an item in its id buffer, a number that stands for the same in both."""
    known: dict[tuple[object, ...], int] = {}
    first, second = (
        np.array([0, *(known.setdefault((item.name, item.role, item.is_printed), len(known) + 1) for item in items)])
        for items in (before, now)
    )
    return first, second


def _differing(
    frames: tuple[Buffers, Buffers], numbers: tuple[NDArray[np.int64], NDArray[np.int64]], mm_per_px: float
) -> NDArray[np.bool_]:
    """Pixels of which two frames show something else."""
    first, second = frames
    differs: NDArray[np.bool_] = numbers[0][first.ids] != numbers[1][second.ids]
    for axis in range(3):
        differs |= first.normals[..., axis] != second.normals[..., axis]
    differs |= np.abs(first.near_mm - second.near_mm) > np.float32(FLUTTER_PX * mm_per_px)
    return differs


def _around(differs: NDArray[np.bool_]) -> Window | None:
    """The part of a frame in which pixels are marked, with what is around; None if there are none."""
    rows, columns = np.flatnonzero(differs.any(axis=1)), np.flatnonzero(differs.any(axis=0))
    if not len(rows):
        return None
    around = int(px(AROUND_MM))
    height, width = differs.shape
    return (
        max(int(columns[0]) - around, 0),
        max(int(rows[0]) - around, 0),
        min(int(columns[-1]) + 1 + around, width),
        min(int(rows[-1]) + 1 + around, height),
    )


def _cut(frame: Buffers, place: Window) -> Buffers:
    left, top, right, bottom = place
    window = (slice(top, bottom), slice(left, right))
    return Buffers(ids=frame.ids[window], near_mm=frame.near_mm[window], normals=frame.normals[window])
