"""A step's picture while it is made: the scene, the camera and what the camera saw."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from assembler.drawing.camera import Camera
from assembler.drawing.explode import Hung
from assembler.drawing.raster import Buffers
from assembler.drawing.scenes import Item
from assembler.drawing.stage import Stage


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """A picture being made.

    Parameters
    ----------
    stage
        What was drawn.
    camera, buffers
        From where, and what was seen.
    subject
        Box of everything but the bench top, px: left, top, right, bottom.
    """

    stage: Stage
    camera: Camera
    buffers: Buffers
    subject: tuple[float, float, float, float]

    def pixels_of(self, piece: Hung) -> int:
        """Pixels that show a piece of hardware."""
        return self.counts[self.stage.items.index(piece.item) + 1]

    @property
    def digest(self) -> str:
        """Of everything in sight, pixel by pixel: two shots with the same one cannot be told apart."""
        return sight_digest(self.stage.items, self.buffers)

    @property
    def counts(self) -> tuple[int, ...]:
        """Pixels of each item, by its number in the id buffer."""
        return _counts(self.buffers, len(self.stage.items))


def sight_digest(items: Sequence[Item], buffers: Buffers) -> str:
    """Of everything in sight, pixel by pixel.

    Parameters
    ----------
    items, buffers
        What was drawn, and what was seen.
    """
    counts = _counts(buffers, len(items))
    numbers = [int(number) for number in np.flatnonzero(counts) if number]
    seen = [items[number - 1] for number in numbers]
    place = np.zeros(len(counts), dtype=np.uint16)
    place[numbers] = np.arange(1, len(seen) + 1)
    # Names instead of numbers: a part more in the background, out of sight, renumbers everything.
    found = hashlib.sha256(repr([(item.name, item.role, item.is_printed) for item in seen]).encode())
    for buffer in (place[buffers.ids], buffers.near_mm, buffers.normals):
        found.update(np.ascontiguousarray(buffer).data)
    return found.hexdigest()


@lru_cache(maxsize=1)
def _counts(buffers: Buffers, items: int) -> tuple[int, ...]:
    """Counted once for a picture; buffers are compared by identity."""
    return tuple(int(count) for count in np.bincount(buffers.ids.ravel(), minlength=items + 1))
