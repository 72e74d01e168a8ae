"""Planes in the figure: where a cut lies, what it leaves on either side, which outline it shows.

Each plane carries its own frame (two axes in the plane, the normal third), so that sections and prisms are
two-dimensional work (manifold3d cross sections) in exact coordinates.
"""

from dataclasses import dataclass

import numpy as np
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray

Vector = NDArray[np.float64]
Triple = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A plane through `origin` (mm) with a unit normal; local x and y lie in it, y as far up as possible."""

    origin: Triple
    normal: Triple

    @classmethod
    def through(cls, origin: Vector | Triple, normal: Vector | Triple) -> "Plane":
        """Return the plane through a point, its normal brought to length 1."""
        n = np.asarray(normal, dtype=float)
        n = n / np.linalg.norm(n)
        o = [float(v) for v in origin]
        return cls(origin=(o[0], o[1], o[2]), normal=(float(n[0]), float(n[1]), float(n[2])))

    def moved(self, distance_mm: float) -> "Plane":
        """Return the plane moved along its normal."""
        return Plane.through(np.asarray(self.origin) + distance_mm * np.asarray(self.normal), self.normal)

    @property
    def axes(self) -> Vector:
        """Rows: local x, local y, normal, each of length 1 in figure coordinates."""
        n = np.asarray(self.normal)
        x = np.cross((0.0, 1.0, 0.0) if abs(n[2]) > 0.99 else (0.0, 0.0, 1.0), n)
        x /= np.linalg.norm(x)
        return np.stack([x, np.cross(n, x), n])

    def world_from_local(self) -> Vector:
        """Return the (3, 4) placement of the plane's frame in the figure."""
        return np.column_stack([self.axes.T, np.asarray(self.origin)])

    def local_from_world(self) -> Vector:
        """Return the (3, 4) inverse of `world_from_local`."""
        axes = self.axes
        return np.column_stack([axes, -axes @ np.asarray(self.origin)])

    def point(self, x: float, y: float, height_mm: float = 0.0) -> Vector:
        """Return the figure coordinates of a local point."""
        return np.asarray(self.origin) + np.array([x, y, height_mm]) @ self.axes

    def split(self, solid: Manifold) -> tuple[Manifold, Manifold]:
        """Return what lies in front of the plane (along the normal) and behind it."""
        front, back = solid.split_by_plane(self.normal, float(np.dot(self.normal, self.origin)))
        return front, back

    def section(self, solid: Manifold, height_mm: float = 0.0) -> CrossSection:
        """Return the outline of a solid at `height_mm` in front of the plane, in local coordinates."""
        return solid.transform(self.local_from_world()).slice(height_mm)

    def prism(self, outline: CrossSection, low_mm: float, high_mm: float) -> Manifold:
        """Return the outline drawn out along the normal from `low_mm` to `high_mm`."""
        body = outline.extrude(high_mm - low_mm).translate((0.0, 0.0, low_mm))
        return body.transform(self.world_from_local())


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A box in which a cut acts; its own faces must lie in free air or beyond the piece that is cut."""

    low: Triple
    high: Triple

    def box(self) -> Manifold:
        """Return the window as a solid."""
        size = np.subtract(self.high, self.low)
        return Manifold.cube(tuple(size)).translate(self.low)

    def contains(self, point: Vector) -> bool:
        """Say whether a point lies inside."""
        return bool(np.all(point >= self.low) and np.all(point <= self.high))


def circle(radius_mm: float, at: tuple[float, float] = (0.0, 0.0), segments: int = 64) -> CrossSection:
    """Return a polygon whose corners lie on the true radius, as drilled holes are drawn here."""
    return CrossSection.circle(radius_mm, segments).translate(at)
