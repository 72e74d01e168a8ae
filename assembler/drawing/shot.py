"""A step's picture while it is made: the scene, the camera and what the camera saw."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from assembler.drawing.camera import Camera
from assembler.drawing.explode import Hung
from assembler.drawing.raster import Buffers
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
    def counts(self) -> tuple[int, ...]:
        """Pixels of each item, by its number in the id buffer."""
        return _counts(self.buffers, len(self.stage.items))


@lru_cache(maxsize=1)
def _counts(buffers: Buffers, items: int) -> tuple[int, ...]:
    """Counted once for a picture; buffers are compared by identity."""
    return tuple(int(count) for count in np.bincount(buffers.ids.ravel(), minlength=items + 1))
