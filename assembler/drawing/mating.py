"""Where two parts face each other: a height map of the joint, looked up from any view.

In: a joint and a rasteriser that holds both parts. Out: `MatingMap`. The joint is seen along its normal from both
sides; where both surfaces lie at the same height, they mate. Works for flat and for gently curved or stepped faces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera, as_vector, framed, unit, view_axes
from assembler.drawing.raster import Buffers, Rasteriser
from assembler.drawing.scenes import Item
from assembler.figure.joints import Joint

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SIZE_PX = 320
CLOSE_MM = 2.0
"""Facing surfaces nearer than this mate: largest gap of a joint, and twice the error of light copies."""
DEPTH_MM = 40.0
"""Steps in a mating face reach this far from its mean plane; what overhangs farther is cut away."""

READABLE = 0.2
"""Sine of the angle between the view and a face from which the face can be read: 12 degrees."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatingMap:
    """Height map of the mating faces of a joint.

    Parameters
    ----------
    joint
        Whose faces.
    camera
        Looks at `joint.parts[0]` against the normal.
    mask : (n, n) bool
        Where the faces mate.
    height_mm : (n, n) float32
        Along the normal from the camera's centre.
    """

    joint: Joint
    camera: Camera
    mask: Mask
    height_mm: NDArray[np.float32]

    @property
    def area_mm2(self) -> float:
        """Mating area across the normal."""
        return float(self.mask.sum()) * self.camera.mm_per_px**2

    @property
    def points_mm(self) -> Floats:
        """Points of the mating faces, thinned to a few thousand, (n, 3)."""
        rows, columns = np.nonzero(self.mask)
        step = max(len(rows) // 4000, 1)
        rows, columns = rows[::step], columns[::step]
        return back_projected(self.camera, columns, rows, self.height_mm[rows, columns])

    @property
    def corners_mm(self) -> Floats:
        """Corners of a box round the mating faces, (8, 3)."""
        rows, columns = np.nonzero(self.mask)
        levels = self.height_mm[rows, columns]
        ends = [(int(v.min()), int(v.max()) + 1) for v in (columns, rows)]
        x = [(c - self.camera.width_px / 2.0) * self.camera.mm_per_px for c in ends[0]]
        y = [(self.camera.height_px / 2.0 - r) * self.camera.mm_per_px for r in ends[1]]
        local = np.array([[a, b, c] for a in x for b in y for c in (float(levels.min()), float(levels.max()))])
        corners: Floats = local @ self.camera.axes + np.asarray(self.camera.centre_mm)
        return corners

    def holds(self, points_mm: Floats) -> Mask:
        """Whether points lie on the mating face, (n,)."""
        if not len(points_mm):
            return np.zeros(0, dtype=np.bool_)
        where = self.camera.project(points_mm)
        column = np.floor(where[:, 0]).astype(np.int64)
        row = np.floor(where[:, 1]).astype(np.int64)
        height, width = self.mask.shape
        inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
        column, row = np.clip(column, 0, width - 1), np.clip(row, 0, height - 1)
        level = np.abs(where[:, 2] - self.height_mm[row, column]) < CLOSE_MM
        on_it: Mask = inside & self.mask[row, column] & level
        return on_it


def mating_map(joint: Joint, first: Item, second: Item, rasteriser: Rasteriser, size_px: int = SIZE_PX) -> MatingMap:
    """Height map of a joint with both parts in their places.

    Parameters
    ----------
    joint
        Its normal points from `first` to `second`.
    first, second
        The two parts, unmoved.
    rasteriser
        Holds their meshes.
    size_px
        Resolution.
    """
    normal = unit(joint.normal)
    up = _flat_up(normal)
    low = np.maximum(rasteriser.box(first).min(axis=0), rasteriser.box(second).min(axis=0)) - 2.0
    high = np.minimum(rasteriser.box(first).max(axis=0), rasteriser.box(second).max(axis=0)) + 2.0
    high = np.maximum(high, low + 1.0)
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    ahead = framed(corners, normal, up, size_px, size_px, margin=0.02)
    middle = np.asarray(ahead.centre_mm)
    middle = middle + normal * float((np.asarray(joint.centre_mm) - middle) @ normal)
    ahead = _looking(ahead, normal, middle)
    behind = _looking(ahead, -normal, middle)
    front = rasteriser.draw([first], ahead, nearest_mm=DEPTH_MM)
    back = rasteriser.draw([second], behind, nearest_mm=DEPTH_MM)
    height = front.near_mm
    facing = -back.near_mm[:, ::-1]
    both = (front.ids > 0) & (back.ids[:, ::-1] > 0)
    flat = (front.normals[..., 2] > 0.5) & (back.normals[:, ::-1, 2] > 0.5)
    mask = both & flat & (np.abs(height - facing) < CLOSE_MM)
    return MatingMap(joint=joint, camera=ahead, mask=mask, height_mm=height)


def marked(buffers: Buffers, camera: Camera, items: list[Item], found: MatingMap, part: str) -> Mask:
    """Pixels of a view that show one part's side of a joint.

    Parameters
    ----------
    buffers, camera, items
        A picture and what was drawn in it; the part may be shifted.
    found
        The joint.
    part
        One of its two parts.
    """
    shown = np.zeros(buffers.ids.shape, dtype=np.bool_)
    side = 1.0 if part == found.joint.parts[0] else -1.0
    facing = (camera.axes @ (unit(found.joint.normal) * side)).astype(np.float32)
    if facing[2] < 0.02:
        return shown
    for number, item in enumerate(items, start=1):
        if item.name != part:
            continue
        top, bottom, left, right = _window(found, camera, np.asarray(item.shift_mm), shown.shape)
        if bottom <= top or right <= left:
            continue
        rows, columns = np.nonzero(buffers.ids[top:bottom, left:right] == number)
        rows, columns = rows + top, columns + left
        upright = buffers.normals[rows, columns] @ facing > 0.5
        rows, columns = rows[upright], columns[upright]
        points = back_projected(camera, columns, rows, buffers.near_mm[rows, columns])
        on_it = found.holds(points - np.asarray(item.shift_mm))
        shown[rows[on_it], columns[on_it]] = True
    return shown


def _window(found: MatingMap, camera: Camera, shift_mm: Floats, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Rows and columns of a picture that a joint can lie in: top, bottom, left, right."""
    where = camera.project(found.corners_mm + shift_mm)
    low, high = np.floor(where.min(axis=0)).astype(int) - 1, np.ceil(where.max(axis=0)).astype(int) + 2
    return max(low[1], 0), min(high[1], shape[0]), max(low[0], 0), min(high[0], shape[1])


def back_projected(
    camera: Camera, columns: NDArray[np.int64], rows: NDArray[np.int64], near_mm: NDArray[np.float32]
) -> Floats:
    """Points in the frame of the figure that pixels show, (n, 3), mm."""
    x = (columns + 0.5 - camera.width_px / 2.0) * camera.mm_per_px
    y = (camera.height_px / 2.0 - rows - 0.5) * camera.mm_per_px
    points: Floats = np.column_stack([x, y, near_mm]) @ camera.axes + np.asarray(camera.centre_mm)
    return points


def shown_share(pixels: int, camera: Camera, found: MatingMap) -> float:
    """Share of the mating face that a number of its pixels stands for, 0 to 1.

    A face that is seen almost edge on counts less, since nobody can read it: in full from `READABLE` on.
    """
    lean = abs(float(camera.axes[2] @ unit(found.joint.normal)))
    if found.area_mm2 <= 0.0 or lean < 0.05:
        return 0.0
    return min(pixels * camera.mm_per_px**2 / lean / found.area_mm2, 1.0) * min(lean / READABLE, 1.0)


def _flat_up(normal: Floats) -> Floats:
    """The figure's up within the face, or its back where the face is level."""
    up = np.array([0.0, 0.0, 1.0])
    return up if abs(float(normal @ up)) < 0.95 else np.array([0.0, 1.0, 0.0])


def _looking(camera: Camera, eye: Floats, centre: Floats) -> Camera:
    axes = view_axes(eye, camera.up)
    return Camera(
        eye=as_vector(axes[2]),
        up=camera.up,
        centre_mm=as_vector(centre),
        mm_per_px=camera.mm_per_px,
        width_px=camera.width_px,
        height_px=camera.height_px,
    )
