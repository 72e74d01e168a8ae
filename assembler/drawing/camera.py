"""Where a picture is taken from: a parallel projection, and what it does to points.

In: directions and boxes in the frame of the figure, mm. Out: `Camera`, pixels. Parallel, because a crew measures and
compares: equal parts look equal wherever they stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector

Floats = NDArray[np.float64]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """A parallel projection onto a picture.

    Parameters
    ----------
    eye
        Unit vector from the subject to the eye, frame of the figure.
    up
        Unit vector that points up in the picture as far as `eye` allows.
    centre_mm
        Point in the middle of the picture.
    mm_per_px
        Scale.
    width_px, height_px
        Size of the picture.
    """

    eye: Vector
    up: Vector
    centre_mm: Vector
    mm_per_px: float
    width_px: int
    height_px: int

    @property
    def axes(self) -> Floats:
        """Rows: right, up and towards the eye, (3, 3), orthonormal; not writeable."""
        return _kept_axes(self.eye, self.up)

    def project(self, points_mm: Floats) -> Floats:
        """Pixel coordinates and nearness.

        Parameters
        ----------
        points_mm : (n, 3) float64

        Returns
        -------
        (n, 3) float64
            x to the right and y down, px (pixel centres at halves); then nearness to the eye, mm from `centre_mm`.
        """
        local = (np.asarray(points_mm, dtype=np.float64) - np.asarray(self.centre_mm)) @ self.axes.T
        return np.column_stack(
            [
                local[:, 0] / self.mm_per_px + self.width_px / 2.0,
                self.height_px / 2.0 - local[:, 1] / self.mm_per_px,
                local[:, 2],
            ]
        )

    def cropped(self, left: int, top: int, right: int, bottom: int) -> Camera:
        """The same view of a part of the picture, px: pixels from `left` and `top` to before `right` and `bottom`."""
        aside = ((left + right) / 2.0 - self.width_px / 2.0) * self.mm_per_px
        below = ((top + bottom) / 2.0 - self.height_px / 2.0) * self.mm_per_px
        x, y, z = np.asarray(self.centre_mm) + aside * self.axes[0] - below * self.axes[1]
        return Camera(
            eye=self.eye,
            up=self.up,
            centre_mm=(float(x), float(y), float(z)),
            mm_per_px=self.mm_per_px,
            width_px=right - left,
            height_px=bottom - top,
        )

    def resized(self, width_px: int, height_px: int) -> Camera:
        """The same view with another number of pixels; it shows at least what this one shows."""
        scale = max(self.width_px / width_px, self.height_px / height_px)
        return Camera(
            eye=self.eye,
            up=self.up,
            centre_mm=self.centre_mm,
            mm_per_px=self.mm_per_px * scale,
            width_px=width_px,
            height_px=height_px,
        )


def unit(vector: Floats | Vector) -> Floats:
    """Vector scaled to length 1; the zero vector stays zero."""
    array = np.asarray(vector, dtype=np.float64)
    length = float(np.linalg.norm(array))
    return array / length if length > 0.0 else array


def cross(one: Floats, other: Floats) -> Floats:
    """Cross product of two vectors; that of NumPy is made for many and costs thirty times as much for two."""
    a, b, c = one
    d, e, f = other
    return np.array([b * f - c * e, c * d - a * f, a * e - b * d])


def as_vector(array: Floats) -> Vector:
    """Three floats as the nouns hold them, rounded so that the last bits of a machine do not show."""
    x, y, z = (round(float(value), 9) + 0.0 for value in array)
    return (x, y, z)


def view_axes(eye: Floats | Vector, up: Floats | Vector) -> Floats:
    """Right, up and back of a view, rows of (3, 3).

    Where `up` is parallel to `eye` another axis stands in for it, always the same one.
    """
    back = unit(eye)
    side = cross(unit(up), back)
    if float(np.linalg.norm(side)) < 1e-6:
        stand_in = np.array([0.0, 1.0, 0.0]) if abs(back[1]) < 0.9 else np.array([1.0, 0.0, 0.0])
        side = cross(stand_in, back)
    right = unit(side)
    return np.stack([right, cross(back, right), back])


@lru_cache(maxsize=256)
def _kept_axes(eye: Vector, up: Vector) -> Floats:
    """A camera is asked for its axes some thirty times a picture."""
    axes = view_axes(eye, up)
    axes.flags.writeable = False
    return axes


def direction(azimuth_deg: float, elevation_deg: float, up: Floats | Vector) -> Floats:
    """Unit vector from the subject to an eye.

    Parameters
    ----------
    azimuth_deg
        Round `up`, counter-clockwise seen from above; 0 looks at the front of the figure (from -y when +z is up).
    elevation_deg
        Above the horizontal.
    up
        What is up on the bench.
    """
    above = unit(up)
    front = np.array([0.0, -1.0, 0.0]) if abs(above[1]) < 0.9 else np.array([0.0, 0.0, 1.0])
    front = unit(front - above * float(front @ above))
    side = cross(above, front)
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    level = np.cos(azimuth) * front + np.sin(azimuth) * side
    turned: Floats = np.cos(elevation) * level + np.sin(elevation) * above
    return turned


def framed(
    points_mm: Floats,
    eye: Floats | Vector,
    up: Floats | Vector,
    width_px: int,
    height_px: int,
    margin: float | tuple[float, float] = 0.05,
) -> Camera:
    """Camera that shows all points, with a margin.

    Parameters
    ----------
    points_mm : (n, 3) float64
        At least one.
    eye, up
        As in `Camera`.
    width_px, height_px
        Size of the picture.
    margin
        Share of the picture left free on every side; two numbers: left and right, top and bottom.
    """
    axes = view_axes(eye, up)
    local = np.asarray(points_mm, dtype=np.float64) @ axes.T
    low, high = local.min(axis=0), local.max(axis=0)
    across, down = margin if isinstance(margin, tuple) else (margin, margin)
    wide, tall = width_px * (1.0 - 2.0 * across), height_px * (1.0 - 2.0 * down)
    scale = max((high[0] - low[0]) / wide, (high[1] - low[1]) / tall, 1e-3)
    centre = axes.T @ ((low + high) / 2.0)
    return Camera(
        eye=as_vector(axes[2]),
        up=as_vector(unit(up)),
        centre_mm=as_vector(centre),
        mm_per_px=float(scale),
        width_px=width_px,
        height_px=height_px,
    )
