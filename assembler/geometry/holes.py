"""Where does a hole lead? From its mouth in a flat face to the seat at its other end.

The hole is probed with lines parallel to its axis, on rings of growing radius: where they leave the material is the
seat; whether it is flat, conical or walled in tells washers' room, countersinks and pockets for nuts.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.circles import axis_frame
from assembler.geometry.openings import Opening

_SPOKES = 24
_FLAT_MM = 0.35
"""Largest difference of height on a ring that is still flat: noise of 0.05 mm on both the seat's large faces."""
_STEP_MM = 0.15
_FINE = 8
"""Parts into which the step between two rings is divided to find where a seat ends."""
_OPEN_SHARE = 0.25
"""Share of the spokes round a hole that tells its mouth where a wall stands close by."""
_NUT_RATIOS = ((1.06, 1.2), (1.3, 1.45))
"""Widest to narrowest reach of a pocket, seen from its middle: hexagon 1.155, square 1.414; a circle has 1."""
_START_MM = 0.5
_SEAT_RINGS_MM = (0.6, 1.0, 1.5)
"""Beyond the edge of a hole: any washer and any nut bears there, and a rounded rim does not reach that far."""
_SHORT_MM, _LONG_MM = 90.0, 400.0


class Kind(StrEnum):
    """What lies below the mouth of a hole."""

    THROUGH = "through"
    BLIND = "blind"
    SOLID = "solid"
    """No hole at all: the loop surrounds a pin."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bore:
    """A hole followed from its mouth into the material.

    Parameters
    ----------
    kind
        What was found.
    depth_mm
        From the mouth to the seat along the axis (THROUGH), to the floor (BLIND), 0 (SOLID).
    room_mm
        Diameter of the flat round the seat; 0 where there is none.
    is_pocket
        Whether walls that keep a nut from turning stand round the seat.
    is_counterbored
        Whether a round wall or a cone stands round the seat.
    """

    kind: Kind
    depth_mm: float
    room_mm: float = 0.0
    is_pocket: bool = False
    is_counterbored: bool = False


class BoreProbe:
    """A mesh made ready for following its holes.

    Parameters
    ----------
    mesh
        In mm.
    """

    def __init__(self, mesh: Mesh) -> None:
        a, b, c = (mesh.vertices[mesh.faces[:, corner]] for corner in range(3))
        self._mesh = mesh
        self._low = np.minimum(np.minimum(a, b), c).T.copy()
        self._high = np.maximum(np.maximum(a, b), c).T.copy()

    @property
    def mesh(self) -> Mesh:
        """The mesh that is probed."""
        return self._mesh

    def follow(self, mouth: Opening, inward: NDArray[np.float64]) -> Bore:
        """The hole behind a mouth.

        Parameters
        ----------
        mouth
            Round or slotted opening in a flat face.
        inward : (3,) float64
            Unit vector along the axis into the material.
        """
        near = self._follow(mouth, inward, _SHORT_MM)
        if near.kind is Kind.THROUGH and near.depth_mm > 0:
            return near
        return self._follow(mouth, inward, _LONG_MM)

    def seat_mm(self, at_mm: Points, outward: Points, hole_mm: float, longest_mm: float) -> float | None:
        """How far along an axis the face lies that a washer or nut round the hole bears on.

        Parameters
        ----------
        at_mm, outward : (3,) float64
            A point on the axis in the bond plane, and the unit vector towards the seat.
        hole_mm
            Diameter of the hole.
        longest_mm
            Where to stop looking.

        Returns
        -------
        float or None
            Median over rings just outside the hole, mm; None where most of them meet nothing.
        """
        radii = hole_mm / 2 + np.array(_SEAT_RINGS_MM)
        local = self._near(at_mm, axis_frame(outward), float(radii[-1]) + 0.5, longest_mm)
        leave = _Lines(local, 0.0).leave(np.repeat(radii[:, None], _SPOKES, axis=1))
        met = leave[np.isfinite(leave) & (leave <= longest_mm)]
        return float(np.median(met)) if 2 * len(met) > leave.size else None

    def _follow(self, mouth: Opening, inward: NDArray[np.float64], longest_mm: float) -> Bore:
        frame = _frame(inward, mouth)
        half = (mouth.length_mm - mouth.width_mm) / 2
        reach = 2.0 * mouth.width_mm + 3.0
        local = self._near(mouth.centre_mm, frame, reach + half, longest_mm)
        edge = mouth.width_mm / 2
        steps: NDArray[np.float64] = np.concatenate((np.arange(0.25, 3.0, 0.25), np.arange(3.0, reach - edge, 0.75)))
        lines = _Lines(local, half)
        inside = np.vstack((np.zeros((1, 2)), 0.3 * mouth.width_mm * lines.spokes[::4]))
        enter, leave = lines.crossings(inside)
        kind, floor = _kind(enter, leave)
        if kind is Kind.SOLID:
            return Bore(kind=kind, depth_mm=0.0)
        radii = edge + steps
        leave = lines.leave(np.repeat(radii[:, None], _SPOKES, axis=1))
        seat = _seat(radii, leave, lines)
        if floor is not None and (seat is None or floor < seat.depth_mm + _STEP_MM):
            # What lines meet beyond a mouth that the hole has already left, if only on one side, is no floor of it.
            is_open = np.mean(leave[0] < floor - _STEP_MM) >= _OPEN_SHARE
            if not is_open:
                return Bore(kind=Kind.BLIND, depth_mm=floor)
        return seat or Bore(kind=Kind.THROUGH, depth_mm=_rough_depth(radii[:2], leave[:2], lines.spokes))

    def _near(self, mouth: NDArray[np.float64], frame: NDArray[np.float64], reach: float, longest: float) -> Points:
        """Faces about the axis in its own frame: x and y across, z along it from the mouth, (k, 3, 3)."""
        end = mouth + frame[2] * longest
        low = np.minimum(mouth, end) - reach
        high = np.maximum(mouth, end) + reach
        chosen = np.flatnonzero((self._low[0] <= high[0]) & (self._high[0] >= low[0]))
        for axis in (1, 2):
            chosen = chosen[(self._low[axis][chosen] <= high[axis]) & (self._high[axis][chosen] >= low[axis])]
        local = (self._mesh.vertices[self._mesh.faces[chosen]] - mouth) @ frame.T
        inside = (_highest(local, 2) > _START_MM) & (_lowest(local, 2) < longest)
        for axis in (0, 1):
            inside &= (_lowest(local, axis) <= reach) & (_highest(local, axis) >= -reach)
        return np.asarray(local[inside])


class _Lines:
    """Lines parallel to the axis on spokes round it; round a slot they start from the nearer end of its middle line.

    Parameters
    ----------
    local : (k, 3, 3) float64
        Triangles in the frame of the axis.
    half_mm
        Half the length of a slot's middle line; 0 for a round hole.
    """

    def __init__(self, local: Points, half_mm: float) -> None:
        angle = 2 * np.pi * (np.arange(_SPOKES) + 0.37) / _SPOKES
        self._local = local
        self.spokes = np.column_stack((np.cos(angle), np.sin(angle)))
        self._start = np.column_stack((np.sign(self.spokes[:, 0]) * half_mm, np.zeros(_SPOKES)))

    def crossings(self, points: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Where lines through points across the axis enter and leave the material."""
        return _first_crossings(self._local, points)

    def leave(self, radii: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where the material ends at each of the radii of each spoke, (rings, spokes) like the radii."""
        points = radii[:, :, None] * self.spokes + self._start
        return _first_crossings(self._local, points.reshape(-1, 2))[1].reshape(radii.shape)


def _lowest(local: Points, axis: int) -> NDArray[np.float64]:
    return np.asarray(np.minimum(np.minimum(local[:, 0, axis], local[:, 1, axis]), local[:, 2, axis]))


def _highest(local: Points, axis: int) -> NDArray[np.float64]:
    return np.asarray(np.maximum(np.maximum(local[:, 0, axis], local[:, 1, axis]), local[:, 2, axis]))


def _frame(inward: NDArray[np.float64], mouth: Opening) -> NDArray[np.float64]:
    """Unit vectors across and along the axis, the first along a slot, (3, 3)."""
    across = mouth.along
    if not np.any(across):
        return axis_frame(inward)
    across = across - inward * (across @ inward)
    across /= np.linalg.norm(across)
    return np.array([across, np.cross(inward, across), inward])


def _rough_depth(radii: NDArray[np.float64], leave: NDArray[np.float64], spokes: NDArray[np.float64]) -> float:
    """Depth on the axis where no ring is level: of a sloping face, else of what a head meets first, 0 for nothing."""
    met = np.isfinite(leave)
    if not np.any(met):
        return 0.0
    places = (radii[:, None, None] * spokes)[met]
    heights = leave[met]
    terms = np.column_stack((np.ones(len(places)), places))
    solution, *_ = np.linalg.lstsq(terms, heights, rcond=None)
    if len(heights) >= _SPOKES and np.abs(heights - terms @ solution).max() <= _FLAT_MM:
        return float(solution[0])
    first = heights <= heights.min() + _FLAT_MM
    return float(np.median(heights[first] if np.mean(first) >= _OPEN_SHARE else heights))


def _first_crossings(local: Points, lines: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where lines parallel to z first enter and first leave the material beyond the mouth; infinite for never.

    Parameters
    ----------
    local : (k, 3, 3) float64
        Triangles.
    lines : (n, 2) float64
        Where the lines pass through z = 0.
    """
    a, b, c = local[:, 0], local[:, 1], local[:, 2]
    double = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    is_across = np.abs(double) > 1e-9
    a, b, c, double = a[is_across], b[is_across], c[is_across], double[is_across]
    line, face = _candidates(local[is_across], lines)
    x, y = lines[line, 0], lines[line, 1]

    def share(p: Points, q: Points, face: NDArray[np.int64]) -> NDArray[np.float64]:
        slope_x, slope_y = (q[:, 0] - p[:, 0]) / double, (q[:, 1] - p[:, 1]) / double
        constant = slope_y * p[:, 0] - slope_x * p[:, 1]
        return np.asarray(constant[face] + slope_x[face] * y - slope_y[face] * x)

    for_c = share(a, b, face)
    for_a = share(b, c, face)
    hit = (for_a >= 0) & (for_c >= 0) & (for_a + for_c <= 1.0)
    line, face, for_a, for_c = line[hit], face[hit], for_a[hit], for_c[hit]
    height = b[face, 2] + for_a * (a[face, 2] - b[face, 2]) + for_c * (c[face, 2] - b[face, 2])
    found = []
    for is_wanted in (double[face] < 0, double[face] > 0):
        chosen = is_wanted & (height > _START_MM)
        first = np.full(len(lines), np.inf)
        np.minimum.at(first, line[chosen], height[chosen])
        found.append(first)
    return found[0], found[1]


def _candidates(local: Points, lines: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs of line and face whose boxes across the axis overlap."""
    order = np.argsort(lines[:, 0], kind="stable")
    x = lines[order, 0]
    first = np.searchsorted(x, _lowest(local, 0), side="left")
    count = np.searchsorted(x, _highest(local, 0), side="right") - first
    face = np.repeat(np.arange(len(local)), count)
    start = np.repeat(first - (np.cumsum(count) - count), count)
    line = order[start + np.arange(len(face))]
    y = lines[line, 1]
    inside = (y >= _lowest(local, 1)[face]) & (y <= _highest(local, 1)[face])
    return line[inside], face[inside]


def _kind(enter: NDArray[np.float64], leave: NDArray[np.float64]) -> tuple[Kind, float | None]:
    """What lines inside the hole meet: nothing, a floor, or the far side of solid material; height of the floor."""
    is_solid = leave < enter
    if np.count_nonzero(is_solid) * 2 > len(enter):
        return Kind.SOLID, None
    if np.all(np.isfinite(enter)):
        return Kind.THROUGH, float(np.max(enter))
    return Kind.THROUGH, None


def _seat(radii: NDArray[np.float64], leave: NDArray[np.float64], lines: _Lines) -> Bore | None:
    """The first flat ring round the hole, and how far it reaches."""
    finite = np.all(np.isfinite(leave), axis=1)
    spread = np.where(finite, np.ptp(np.where(np.isfinite(leave), leave, 0.0), axis=1), np.inf)
    height = np.median(leave, axis=1)
    is_cone = False
    for ring in range(len(radii) - 1):
        if not finite[ring]:
            return None
        is_level = abs(height[ring + 1] - height[ring]) <= _STEP_MM
        if spread[ring] <= _FLAT_MM and spread[ring + 1] <= _FLAT_MM and is_level:
            return _measured(radii[ring:], leave[ring:], lines, is_cone)
        is_cone = is_cone or height[ring + 1] > height[ring] + _STEP_MM
    return None


def _measured(radii: NDArray[np.float64], leave: NDArray[np.float64], lines: _Lines, is_cone: bool) -> Bore:
    """The seat that begins with the first ring."""
    is_flat: NDArray[np.bool_] = np.abs(leave - float(np.median(leave[:2]))) <= _FLAT_MM
    whole = np.all(is_flat, axis=1)
    rings = len(whole) if np.all(whole) else max(int(np.argmin(whole)), 1)
    depth = float(np.mean(leave[: min(rings, 6)]))
    if np.all(is_flat):
        return Bore(kind=Kind.THROUGH, depth_mm=depth, room_mm=2 * float(radii[-1]), is_counterbored=is_cone)
    edge, is_walled = _edges(radii, leave, depth, lines)
    ratio = float(edge.max() / edge.min())
    is_closed = bool(np.all(is_walled))
    is_pocket = is_closed and any(low < ratio < high for low, high in _NUT_RATIOS)
    # The narrowest place of a pocket may lie half way between two spokes.
    room = 2 * float(edge.min()) * (np.cos(np.pi / _SPOKES) if is_pocket else 1.0)
    return Bore(
        kind=Kind.THROUGH,
        depth_mm=depth,
        room_mm=float(room),
        is_pocket=is_pocket,
        is_counterbored=is_cone or (is_closed and ratio <= _NUT_RATIOS[0][0]),
    )


def _edges(
    radii: NDArray[np.float64], leave: NDArray[np.float64], depth: float, lines: _Lines
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """How far the flat goes along each spoke, and whether a wall rises there."""
    is_flat: NDArray[np.bool_] = np.abs(leave - depth) <= _FLAT_MM
    last = len(radii) - 1
    first_off = np.where(np.all(is_flat, axis=0), last, np.argmin(is_flat, axis=0))
    far = radii[first_off]
    near = radii[np.maximum(first_off - 1, 0)]
    fine = near + (far - near) * (np.arange(_FINE) / _FINE)[:, None]
    still_flat = np.abs(lines.leave(fine) - depth) <= _FLAT_MM
    count = np.where(np.all(still_flat, axis=0), _FINE, np.argmin(still_flat, axis=0))
    edge = np.where(np.all(is_flat, axis=0), far, near + (far - near) * (np.maximum(count - 1, 0) / _FINE))
    off = leave[first_off, np.arange(_SPOKES)] - depth
    return edge, (off > _FLAT_MM) & ~np.all(is_flat, axis=0)
