"""A step's picture cut to what it shows, with the key figure where there is room and words below.

In: the raster of the full sheet, boxes of what lies over it, the key figure, words. Out: the finished raster and where
everything went. White margins are cut away, since the book sets a picture as large as its page allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.image import darker
from assembler.drawing.style import px

Raster = NDArray[np.uint8]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom, px."""

LEAST_MM = (128.0, 84.0)
"""A small scene is not blown up beyond its references."""
PAD_MM = 2.0
GROW_MM = 4.0
"""Step in which the sheet is widened to make room for the key figure."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Composition:
    """A finished raster.

    Parameters
    ----------
    raster : (h, w, 3) uint8
        The picture.
    shift_px
        What coordinates of the full sheet are moved by.
    key_px
        Upper left corner of the key figure.
    foot_px
        Upper edge of the room for words.
    """

    raster: Raster
    shift_px: tuple[float, float]
    key_px: tuple[int, int]
    foot_px: int


def composed(raster: Raster, over: Sequence[Box], key: Raster | None, foot_px: float) -> Composition:
    """The sheet cut to its content, with the key figure in the corner that has to grow least for it.

    Parameters
    ----------
    raster
        The full sheet.
    over
        Boxes of what is drawn over it.
    key
        The key figure; None: without.
    foot_px
        Height to leave for words below.
    """
    left, top, right, bottom = _content(raster, over)
    tall, wide = key.shape[:2] if key is not None else (0, 0)
    taken = _taken(raster, over)
    grow, key_x, key_y = _room(taken, (left, top, right, bottom), wide, tall) if key is not None else (0, 0, 0)
    left, right = left - (grow if key_x < left else 0), right + (grow if key_x + wide > right else 0)
    height, width = bottom - top + round(foot_px), right - left
    picture = np.full((height, width, 3), 255, dtype=np.uint8)
    source = (max(left, 0), max(top, 0), min(right, raster.shape[1]), min(bottom, raster.shape[0]))
    picture[source[1] - top : source[3] - top, source[0] - left : source[2] - left] = raster[
        source[1] : source[3], source[0] : source[2]
    ]
    at = (key_x - left, key_y - top)
    if key is not None:
        picture[at[1] : at[1] + tall, at[0] : at[0] + wide] = key
    return Composition(raster=picture, shift_px=(float(-left), float(-top)), key_px=at, foot_px=bottom - top)


def _content(raster: Raster, over: Sequence[Box]) -> tuple[int, int, int, int]:
    """Box of all that is drawn, padded and at least `LEAST_MM` large."""
    inked = darker(raster, 250)
    rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    boxes = list(over)
    if len(rows):
        boxes.append((float(columns[0]), float(rows[0]), float(columns[-1] + 1), float(rows[-1] + 1)))
    if not boxes:
        boxes = [(0.0, 0.0, float(raster.shape[1]), float(raster.shape[0]))]
    every = np.asarray(boxes)
    low, high = every[:, :2].min(axis=0) - px(PAD_MM), every[:, 2:].max(axis=0) + px(PAD_MM)
    spare = np.maximum(np.array([px(LEAST_MM[0]), px(LEAST_MM[1])]) - (high - low), 0.0) / 2.0
    low, high = np.floor(low - spare).astype(int), np.ceil(high + spare).astype(int)
    return int(low[0]), int(low[1]), int(high[0]), int(high[1])


def _taken(raster: Raster, over: Sequence[Box]) -> NDArray[np.bool_]:
    """Where something is drawn on the sheet, leaders and references included."""
    taken = darker(raster, 245)
    for left, top, right, bottom in over:
        taken[max(int(top), 0) : max(int(bottom) + 1, 0), max(int(left), 0) : max(int(right) + 1, 0)] = True
    return taken


def _room(taken: NDArray[np.bool_], box: tuple[int, int, int, int], wide: int, tall: int) -> tuple[int, int, int]:
    """Least widening that gives the key figure an empty place, and its upper left corner on the full sheet."""
    left, top, right, bottom = box
    step = round(px(GROW_MM))
    widest = wide + step
    for grow in (*range(0, widest, step), widest):
        for x in (right + grow - wide, left - grow):
            for y in (bottom - tall, top):
                if not _seen(taken, x, y, wide, tall):
                    return grow, x, y
    return widest, right + widest - wide, bottom - tall


def _seen(taken: NDArray[np.bool_], x: int, y: int, wide: int, tall: int) -> bool:
    """Whether something is drawn in a box; beyond the sheet nothing is."""
    gap = round(px(1.0))
    rows = slice(max(y - gap, 0), max(y + tall + gap, 0))
    columns = slice(max(x - gap, 0), max(x + wide + gap, 0))
    return bool(taken[rows, columns].any())
