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
        self._alone: dict[int, _Alone] = {}
        windows = [_window(rasteriser.box(item), camera) for item in items]
        for group in _apart(windows):
            buffers = rasteriser.draw([items[place] for place in group], camera, within=items)
            for number, place in enumerate(group, start=1):
                self._alone[place + 1] = _alone(buffers, windows[place], number)

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
            one = self._alone[number]
            nearer = one.seen & (one.near_mm > near_mm[one.window])
            ids[one.window][nearer] = number
            near_mm[one.window][nearer] = one.near_mm[nearer]
            normals[one.window][nearer] = one.normals[nearer]
        return Buffers(ids=ids, near_mm=near_mm, normals=normals)


def _window(corners: NDArray[np.float64], camera: Camera) -> tuple[slice, slice]:
    """Rows and columns of the picture that a box may fill."""
    where = camera.project(corners)[:, :2]
    low, high = np.floor(where.min(axis=0)).astype(int) - 1, np.ceil(where.max(axis=0)).astype(int) + 1
    rows, columns = (
        slice(min(max(int(first), 0), size), min(max(int(last), 0), size))
        for first, last, size in zip(low[::-1], high[::-1], (camera.height_px, camera.width_px), strict=True)
    )
    return rows, columns


def _apart(windows: Sequence[tuple[slice, slice]]) -> list[list[int]]:
    """Places of windows in groups within which none overlap: what fills them can be drawn in one pass."""
    groups: list[list[int]] = []
    for place, window in enumerate(windows):
        for group in groups:
            if not any(_overlap(window, windows[other]) for other in group):
                group.append(place)
                break
        else:
            groups.append([place])
    return groups


def _overlap(one: tuple[slice, slice], other: tuple[slice, slice]) -> bool:
    return all(a.start < b.stop and b.start < a.stop for a, b in zip(one, other, strict=True))


def _alone(buffers: Buffers, window: tuple[slice, slice], number: int) -> _Alone:
    return _Alone(
        window=window,
        seen=buffers.ids[window] == number,
        near_mm=buffers.near_mm[window].copy(),
        normals=buffers.normals[window].copy(),
    )
