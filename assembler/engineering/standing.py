"""Whether what stands would fall: tip angle, pushes by wind and people, anchors, transport.

Goes in: support points, centre of mass, forces. Comes out: angles, forces, safety. Numbers for planning the work; the
stability of the finished figure in public is for a licensed engineer and the local code.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.engineering.constants import AIR_KG_M3, GRAVITY_M_S2
from assembler.figure.parts import Vector

LEAST_ARM_MM = 10.0
"""Anchors nearer to one line than this take no moment about it (common practice, no source)."""

_FLAT_MM = 1e-9


def tip_angle_deg(support_points_mm: NDArray[np.float64], centre_mm: Vector, up: Vector) -> float:
    """Smallest lean that tips a body over an edge of its support; negative when it falls already.

    Parameters
    ----------
    support_points_mm : (n, 2) or (n, 3) float64, mm
        Where the body touches what carries it. Two columns: points on the floor at height 0, with `up` along the third
        axis.
    centre_mm
        Centre of mass in the same frame.
    up
        Direction that is up.

    Returns
    -------
    float
        Degrees. Support on a line or in a point gives 0 for a centre above it, and a negative angle otherwise. A centre
        at or below its support gives 90: it hangs.

    Raises
    ------
    ValueError
        If there is no support point.

    References
    ----------
    Any statics text: atan(distance of the projected centre to the edge / height of the centre above the edge).
    """
    points = np.asarray(support_points_mm, dtype=np.float64)
    if points.ndim != 2 or len(points) == 0:
        raise ValueError("a body without support has no tip angle")
    if points.shape[1] == 2:
        points = np.column_stack((points, np.zeros(len(points))))
    rise = np.asarray(up, dtype=np.float64)
    rise /= np.linalg.norm(rise)
    frame = _across(rise)
    height_mm = float((np.asarray(centre_mm) - points.mean(axis=0)) @ rise)
    inside_mm = _distance_inside(support_polygon(points @ frame.T), np.asarray(centre_mm) @ frame.T)
    if height_mm <= 0.0:
        return 90.0 if inside_mm >= 0.0 else -90.0
    return math.degrees(math.atan2(inside_mm, height_mm))


def overhang(
    support_points_mm: NDArray[np.float64], centre_mm: Vector, up: Vector
) -> tuple[float, tuple[float, float, float]]:
    """How far a centre of mass lies outside its support, and in which level direction; 0 and zeros where it does not.

    Parameters
    ----------
    support_points_mm : (n, 3) float64, mm
        Where the body touches what carries it.
    centre_mm
        Centre of mass in the same frame.
    up
        Direction that is up.

    References
    ----------
    Any statics text: the weight times this distance is the moment about the edge over which the body falls.
    """
    rise = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    frame = _across(rise)
    corners = support_polygon(np.asarray(support_points_mm, dtype=np.float64) @ frame.T)
    centre = np.asarray(centre_mm) @ frame.T
    away_mm = -_distance_inside(corners, centre)
    if away_mm <= 0.0:
        return 0.0, (0.0, 0.0, 0.0)
    x, y, z = ((centre - _nearest(corners, centre)) / away_mm @ frame).tolist()
    return away_mm, (x + 0.0, y + 0.0, z + 0.0)


def _nearest(corners: NDArray[np.float64], point: NDArray[np.float64]) -> NDArray[np.float64]:
    """Point on the outline of a polygon that is nearest to another."""
    along = np.roll(corners, -1, axis=0) - corners
    lengths = np.maximum(np.linalg.norm(along, axis=1), _FLAT_MM)
    share = np.clip(((point - corners) * along).sum(axis=1) / lengths**2, 0.0, 1.0)
    feet = corners + share[:, None] * along
    return np.asarray(feet[int(np.argmin(np.linalg.norm(point - feet, axis=1)))])


def _across(rise: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two unit vectors across `rise`, (2, 3), right-handed with it."""
    helper = np.eye(3)[int(np.argmin(np.abs(rise)))]
    first = np.cross(helper, rise)
    first /= np.linalg.norm(first)
    return np.vstack((first, np.cross(rise, first)))


def support_polygon(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners of the convex hull of points in the plane, counter-clockwise.

    Parameters
    ----------
    points : (n, 2) float64
        One point or several; repeats and points on an edge are dropped.

    Returns
    -------
    (m, 2) float64
        One corner for a point, two for a line.

    References
    ----------
    Andrew, Another efficient algorithm for convex hulls in two dimensions, 1979.
    """
    ordered = [tuple(point) for point in np.unique(np.round(points, 6), axis=0)]
    if len(ordered) < 3:
        return np.array(ordered, dtype=np.float64)

    def half(run: list[tuple[float, ...]]) -> list[tuple[float, ...]]:
        kept: list[tuple[float, ...]] = []
        for point in run:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], point) <= _FLAT_MM:
                kept.pop()
            kept.append(point)
        return kept[:-1]

    return np.array(half(ordered) + half(ordered[::-1]), dtype=np.float64)


def _turn(first: tuple[float, ...], second: tuple[float, ...], third: tuple[float, ...]) -> float:
    return (second[0] - first[0]) * (third[1] - first[1]) - (second[1] - first[1]) * (third[0] - first[0])


def _distance_inside(corners: NDArray[np.float64], point: NDArray[np.float64]) -> float:
    """Distance from a point to the nearest edge, negative outside; for a line or a point never positive."""
    if len(corners) == 1:
        return -float(np.linalg.norm(point - corners[0]))
    following = np.roll(corners, -1, axis=0)
    along = following - corners
    lengths = np.linalg.norm(along, axis=1)
    offset = point - corners
    side = (along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0]) / lengths
    if len(corners) > 2 and bool(np.all(side >= 0)):
        return float(side.min())
    return -float(np.linalg.norm(point - _nearest(corners, point)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Push:
    """A horizontal force at a height.

    Parameters
    ----------
    force_n
        Force.
    height_mm
        Above the base.
    """

    force_n: float
    height_mm: float

    @property
    def moment_nm(self) -> float:
        """Overturning moment about the base."""
        return self.force_n * self.height_mm / 1000.0


def wind_push(area_mm2: float, centre_height_mm: float, speed_m_s: float, drag: float = 1.2) -> Push:
    """Force of the wind: 0.5 rho v^2 x drag x projected area, at the height of the area's centre.

    Parameters
    ----------
    area_mm2, centre_height_mm
        Projected area across the wind and the height of its centre.
    speed_m_s
        Gust.
    drag
        Coefficient: 1.2 for bluff bodies (from memory; 0.5 to 2 by shape).

    References
    ----------
    Dynamic pressure 0.5 rho v^2 with rho = 1.225 kg/m3. Local codes add exposure, gusts and safety.
    """
    pressure_pa = 0.5 * AIR_KG_M3 * speed_m_s**2
    return Push(force_n=pressure_pa * drag * area_mm2 / 1e6, height_mm=centre_height_mm)


def tip_safety(
    mass_kg: float,
    centre_mm: tuple[float, float],
    feet_mm: NDArray[np.float64],
    push: Push,
    toward: tuple[float, float],
) -> float:
    """Moment of the weight over the moment of a push, about the edge of the support that gives way first.

    Parameters
    ----------
    mass_kg, centre_mm
        What stands, and its centre in plan.
    feet_mm : (n, 2) float64, mm
        Where it stands.
    push
        Horizontal force and its height.
    toward
        Unit vector in plan.

    Returns
    -------
    float
        Infinite without a push; 0 or less where the weight does not hold it at all.

    References
    ----------
    For an edge with outward normal n at distance a from the centre: W a / (F h n.d), the least over the edges that face
    the push (any statics text).
    """
    if push.moment_nm <= 0:
        return math.inf
    corners = support_polygon(np.asarray(feet_mm, dtype=np.float64))
    if len(corners) < 3:
        return 0.0
    along = np.roll(corners, -1, axis=0) - corners
    outward = np.column_stack((along[:, 1], -along[:, 0])) / np.linalg.norm(along, axis=1)[:, None]
    distance_mm = ((corners - np.asarray(centre_mm)) * outward).sum(axis=1)
    facing = outward @ np.asarray(toward)
    over = facing > 1e-9
    weight_n = mass_kg * GRAVITY_M_S2
    return float((weight_n * distance_mm[over] / 1000.0 / (push.moment_nm * facing[over])).min())


def elastic_bolt_group(
    bolts_mm: NDArray[np.float64], load_n: tuple[float, float], at_mm: tuple[float, float]
) -> NDArray[np.float64]:
    """Force on each bolt of a group in shear, equal bolts on a rigid plate.

    Parameters
    ----------
    bolts_mm : (n, 2) float64, mm
        Axes in the plane of the plate.
    load_n
        Force in the plane.
    at_mm
        Where it acts.

    Returns
    -------
    (n, 2) float64, N
        What the plate puts on each bolt; they sum to the load.

    Raises
    ------
    ValueError
        If there is no bolt, or a single one off the line of the force.

    References
    ----------
    Elastic method: F / n plus M r / sum(r^2) at right angles to r (any text on machine design).
    """
    bolts = np.asarray(bolts_mm, dtype=np.float64)
    if len(bolts) == 0:
        raise ValueError("a bolt group without bolts carries nothing")
    centre = bolts.mean(axis=0)
    arms = bolts - centre
    lever = np.asarray(at_mm, dtype=np.float64) - centre
    moment = float(lever[0] * load_n[1] - lever[1] * load_n[0])
    polar = float((arms**2).sum())
    if polar == 0.0 and abs(moment) > 1e-9:
        raise ValueError("a single bolt carries no moment")
    turned = np.column_stack((-arms[:, 1], arms[:, 0]))
    shares = np.tile(np.asarray(load_n, dtype=np.float64) / len(bolts), (len(bolts), 1))
    return shares + (turned * (moment / polar) if polar else 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorDemand:
    """What each ground anchor has to hold.

    Parameters
    ----------
    tension_n
        On the anchor pulled hardest; 0 when the weight alone holds; None where one anchor, or several in line across
        the push, give the moment no arm.
    shear_n
        On each anchor.
    """

    tension_n: float | None
    shear_n: float


def anchor_demand(
    anchors_mm: NDArray[np.float64],
    mass_kg: float,
    centre_mm: tuple[float, float],
    push: Push,
    toward: tuple[float, float],
) -> AnchorDemand:
    """Tension and shear on ground anchors under a push, the weight of the figure helping.

    Parameters
    ----------
    anchors_mm : (n, 2) float64, mm
        Anchors in plan.
    mass_kg, centre_mm
        What stands, and its centre in plan.
    push
        Horizontal force.
    toward
        Direction of the push in plan.

    Raises
    ------
    ValueError
        If there is no anchor.

    References
    ----------
    Elastic bolt group in tension: M y / sum(y^2) - N / n about the centre of the anchors. The design of anchors is for
    the engineer responsible.
    """
    anchors = np.asarray(anchors_mm, dtype=np.float64)
    if len(anchors) == 0:
        raise ValueError("no anchors")
    direction = np.asarray(toward, dtype=np.float64) / np.linalg.norm(toward)
    middle = anchors.mean(axis=0)
    arms = (anchors - middle) @ direction
    weight_n = mass_kg * GRAVITY_M_S2
    shift_mm = float((np.asarray(centre_mm) - middle) @ direction)
    moment_nmm = push.force_n * push.height_mm + weight_n * shift_mm
    shear_n = push.force_n / len(anchors)
    if float(np.abs(arms).max()) < LEAST_ARM_MM:
        return AnchorDemand(tension_n=None, shear_n=shear_n)
    pull = -arms * (moment_nmm / float((arms**2).sum()))
    tension_n = float((pull - weight_n / len(anchors)).max())
    return AnchorDemand(tension_n=max(0.0, tension_n), shear_n=shear_n)
