"""What one camera sees of each part alone, so that any set of them can be put together without drawing again.

In: items and a camera. Out: buffers of any of them. Key figures need this: sixty pictures of one figure from a few
sides, each with other parts in front of the paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera
from assembler.drawing.raster import NOWHERE_MM, Buffers, Rasteriser
from assembler.drawing.scenes import Item


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Alone:
    """The part of a picture that one item fills."""

    window: tuple[slice, slice]
    seen: NDArray[np.bool_]
    near_mm: NDArray[np.float32]
    normals: NDArray[np.float32]


class PartViews:
    """Items seen one by one.

    Parameters
    ----------
    items
        All on one range of depths, so that they can be compared.
    camera
        Parallel projection.
    rasteriser
        Holds their meshes.
    """

    def __init__(self, items: Sequence[Item], camera: Camera, rasteriser: Rasteriser) -> None:
        self._shape = (camera.height_px, camera.width_px)
        self._alone = [_alone(rasteriser.draw([item], camera, within=items)) for item in items]

    def together(self, numbers: Iterable[int]) -> Buffers:
        """What the camera sees of some of the items; the first one where two are equally near.

        Parameters
        ----------
        numbers
            Positions of the items, from 1; they are the ids in the buffer too.
        """
        ids = np.zeros(self._shape, dtype=np.uint16)
        near_mm = np.full(self._shape, NOWHERE_MM, dtype=np.float32)
        normals = np.zeros((*self._shape, 3), dtype=np.float32)
        for number in sorted(numbers):
            one = self._alone[number - 1]
            if one is None:
                continue
            nearer = one.seen & (one.near_mm > near_mm[one.window])
            ids[one.window][nearer] = number
            near_mm[one.window][nearer] = one.near_mm[nearer]
            normals[one.window][nearer] = one.normals[nearer]
        return Buffers(ids=ids, near_mm=near_mm, normals=normals)


def _alone(buffers: Buffers) -> _Alone | None:
    """The window of a picture of one item; None if it is not in the picture."""
    seen = buffers.ids > 0
    rows, columns = np.flatnonzero(seen.any(axis=1)), np.flatnonzero(seen.any(axis=0))
    if not len(rows):
        return None
    window = (slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1))
    return _Alone(
        window=window,
        seen=seen[window].copy(),
        near_mm=buffers.near_mm[window].copy(),
        normals=buffers.normals[window].copy(),
    )
