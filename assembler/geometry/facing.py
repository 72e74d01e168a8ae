"""Which flat regions of two bodies mate, over which area, and where does its edge run? Outlines in, patches out.

One of the modules that own shapely (with `outlines` and `openings`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from assembler.figure.mesh import Points
from assembler.figure.tolerances import Tolerances
from assembler.geometry.flats import CLEAN_MM, Flat
from assembler.geometry.openings import Opening, Shape
from assembler.geometry.outlines import Outline

_LEAST_PATCH_MM2 = 5.0
_COAXIAL_MM = 0.5
_ON_EDGE_MM = 0.3
_FIT_MM = 0.05
"""How far noise may shift a fitted plane: a gap of just the tolerance still mates."""
_ALIKE, _UNREAD_SHARE = 1.5, 0.25
"""Ratio of widths and distance, as a share of the width, of two unread openings that may be one hole."""
_FACING_MM = 3.0
"""Distance along the axis of two mouths on curved faces: gap, and mouths of unequal width on a slope."""
_ONE_LEAN = 0.7
"""Largest difference of the lean of two holes that are one, as a share of their common lean."""
_BESIDE_MM = 80.0
_LEAST_FACETS = 6
_LEAST_BEND, _LARGEST_BEND = np.cos(np.radians(1.0)), np.cos(np.radians(20.0))
_COAXIAL_SHARE = 0.12
"""Holes whose centres are nearer than this, or this share of the diameter, are meant to be one."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patch:
    """Two flat regions of two bodies facing each other.

    Parameters
    ----------
    one, two
        The regions.
    polygon
        Net facing area in the plane of `one`.
    area_mm2
        Its area.
    gap_mm
        Distance of the planes at its centre, negative for an overlap.
    centre_mm : (3,) float64
        Centre of the area, half way between the planes.
    """

    one: Outline
    two: Outline
    polygon: BaseGeometry
    area_mm2: float
    gap_mm: float
    centre_mm: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HolePair:
    """Openings of two bodies on one axis.

    Parameters
    ----------
    one, two
        The openings.
    at_mm : (3,) float64
        Where the axis meets the bond plane.
    axis : (3,) float64
        Unit vector from the first body into the second.
    gap_mm
        Between the faces, along the axis.
    """

    one: Opening
    two: Opening
    at_mm: NDArray[np.float64]
    axis: NDArray[np.float64]
    gap_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LoneHole:
    """A round opening without a partner; `is_first` tells the side, `is_covered` whether material faces its rim."""

    opening: Opening
    is_first: bool
    is_covered: bool = True


def facing_patches(ones: Sequence[Outline], twos: Sequence[Outline], tolerances: Tolerances) -> tuple[Patch, ...]:
    """All mating patches between the flat regions of two bodies, largest first."""
    found = [
        patch
        for one, two in _near_pairs(ones, twos, tolerances)
        if (patch := _patch(ones[one], twos[two], tolerances)) is not None
    ]
    return tuple(sorted(found, key=lambda patch: (-round(patch.area_mm2, 3), *np.round(patch.centre_mm, 3).tolist())))


def _near_pairs(ones: Sequence[Outline], twos: Sequence[Outline], tolerances: Tolerances) -> list[tuple[int, int]]:
    """Numbers of regions that look at each other and whose boxes meet, in order."""
    if not ones or not twos:
        return []
    slack = tolerances.gap_mm + 0.1
    normals = [np.array([outline.flat.normal for outline in outlines]) for outlines in (ones, twos)]
    low = [np.array([outline.low_mm for outline in outlines]) - slack / 2 for outlines in (ones, twos)]
    high = [np.array([outline.high_mm for outline in outlines]) + slack / 2 for outlines in (ones, twos)]
    is_near = normals[0] @ normals[1].T <= -np.cos(np.radians(tolerances.angle_deg))
    for axis in range(3):
        is_near &= (low[0][:, axis, None] <= high[1][:, axis]) & (low[1][:, axis] <= high[0][:, axis, None])
    return [(int(one), int(two)) for one, two in np.argwhere(is_near)]


def _patch(one: Outline, two: Outline, tolerances: Tolerances) -> Patch | None:
    polygon = _common(one, two)
    if polygon.area < _LEAST_PATCH_MM2:
        return None
    points = in_space(one, shapely.get_coordinates(polygon))
    gaps = (points - two.flat.origin) @ two.flat.normal
    centre = in_space(one, np.array(polygon.centroid.coords))[0]
    gap = float((centre - two.flat.origin) @ two.flat.normal)
    if not -tolerances.overlap_mm - _FIT_MM <= gap <= tolerances.gap_mm + _FIT_MM:
        return None
    if gaps.max() > tolerances.gap_mm + 0.2 or gaps.min() < -tolerances.overlap_mm - 0.2:
        return None
    return Patch(
        one=one,
        two=two,
        polygon=polygon,
        area_mm2=float(polygon.area),
        gap_mm=gap,
        centre_mm=centre + one.flat.normal * gap / 2,
    )


def _common(one: Outline, two: Outline) -> BaseGeometry:
    frame = one.flat.frame
    matrix = two.flat.frame @ frame.T
    shift = (two.flat.origin - one.flat.origin) @ frame.T
    moved = shapely.transform(two.polygon, lambda points: points @ matrix + shift)
    if not moved.is_valid:
        moved = moved.buffer(0)
    common = shapely.intersection(one.polygon, moved)
    return common if common.geom_type in ("Polygon", "MultiPolygon") else common.buffer(0)


def in_space(outline: Outline, points: Points) -> Points:
    """Points of an outline's plane, (n, 2), in the frame of the figure, (n, 3)."""
    return np.asarray(outline.flat.origin + points @ outline.flat.frame)


def match_holes(patch: Patch) -> tuple[tuple[HolePair, ...], tuple[LoneHole, ...]]:
    """Holes of both sides on one axis, and round holes of one side that solid material covers.

    Two holes are a pair where they lie in or beside the mating area; faces may be missing round one of them.
    """
    pairs, lone = [], []
    mine = [opening for opening in patch.one.openings if opening.shape is not Shape.OTHER]
    others = [opening for opening in patch.two.openings if opening.shape is not Shape.OTHER]
    taken: set[int] = set()
    for opening in mine:
        if not _is_beside(patch, opening):
            continue
        near = [
            (distance, number)
            for number, other in enumerate(others)
            if number not in taken and (distance := _offset(patch, opening, other)) is not None
        ]
        if near:
            number = min(near)[1]
            taken.add(number)
            pairs.append(_pair(patch, opening, others[number]))
        else:
            lone.append(LoneHole(opening=opening, is_first=True, is_covered=_is_at(patch, opening)))
    for number, other in enumerate(others):
        if number not in taken and _is_beside(patch, other):
            lone.append(LoneHole(opening=other, is_first=False, is_covered=_is_at(patch, other)))
    return tuple(pairs), tuple(lone)


def unread_pairs(patch: Patch) -> tuple[tuple[NDArray[np.float64], float], ...]:
    """Places, and widths in mm, at which both sides have an opening whose form noise or re-meshing has left unread."""
    twos = [opening for opening in patch.two.openings if opening.is_doubtful]
    found = []
    for one in (opening for opening in patch.one.openings if opening.is_doubtful):
        for two in twos:
            width = min(one.width_mm, two.width_mm)
            is_alike = max(one.width_mm, two.width_mm) < _ALIKE * width
            arm = two.centre_mm - one.centre_mm
            if is_alike and np.linalg.norm(arm) < _UNREAD_SHARE * width + abs(patch.gap_mm) and _is_beside(patch, one):
                found.append(((one.centre_mm + two.centre_mm) / 2, width))
                break
    return tuple(found)


def _is_beside(patch: Patch, opening: Opening) -> bool:
    """Whether a hole lies in the mating area or so near that missing faces may part them."""
    centre = (opening.centre_mm - patch.one.flat.origin) @ patch.one.flat.frame.T
    return bool(shapely.distance(shapely.Point(centre), patch.polygon) <= _BESIDE_MM)


def _pair(patch: Patch, one: Opening, two: Opening) -> HolePair:
    """Two openings of a patch as one bolt axis: the normal, or the common axis of holes that were drilled askew."""
    normal = axis = patch.one.flat.normal
    between = (one.axis - two.axis) / 2
    # Askew by noise alone, two holes lean to different sides.
    if np.linalg.norm(one.axis + two.axis) < _ONE_LEAN * np.linalg.norm(between - normal):
        axis = between / np.linalg.norm(between)
    at = _common_point(patch, one, two)
    gap = float((_on(patch.two.flat, at) - _on(patch.one.flat, at)) @ normal) / float(axis @ normal)
    return HolePair(one=one, two=two, at_mm=at, axis=axis, gap_mm=gap)


def _on(flat: Flat, point: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(point - flat.normal * ((point - flat.origin) @ flat.normal))


def _common_point(patch: Patch, one: Opening, two: Opening) -> NDArray[np.float64]:
    """Where the axis meets the bond plane; a slot gives way to the round hole opposite."""
    is_slot = [opening.shape is Shape.SLOT for opening in (one, two)]
    if is_slot[0] and not is_slot[1]:
        point = two.centre_mm
    elif is_slot[1] and not is_slot[0]:
        point = one.centre_mm
    else:
        point = (one.centre_mm + two.centre_mm) / 2
    return np.asarray((_on(patch.one.flat, point) + _on(patch.two.flat, point)) / 2)


def pair_of(one: Opening, two: Opening) -> HolePair:
    """Two openings that face each other on one axis, wherever their mouths lie."""
    axis = one.axis - two.axis
    axis /= np.linalg.norm(axis)
    gap = float((two.centre_mm - one.centre_mm) @ axis)
    return HolePair(one=one, two=two, at_mm=(one.centre_mm + two.centre_mm) / 2, axis=axis, gap_mm=gap)


def is_coaxial(one: Opening, two: Opening) -> bool:
    """Whether two round openings that face each other are meant to be one hole."""
    arm = two.centre_mm - one.centre_mm
    along = float(arm @ one.axis)
    across = float(np.linalg.norm(arm - along * one.axis))
    width = min(one.width_mm, two.width_mm)
    return abs(along) < _FACING_MM and across <= max(_COAXIAL_MM, _COAXIAL_SHARE * width)


def _is_at(patch: Patch, opening: Opening) -> bool:
    centre = (opening.centre_mm - patch.one.flat.origin) @ patch.one.flat.frame.T
    edge = opening.length_mm / 2 + opening.margin_mm
    ring = shapely.Point(centre).buffer(edge + 1.5).difference(shapely.Point(centre).buffer(edge + 0.5))
    return bool(shapely.intersection(ring, patch.polygon).area > 0.3 * ring.area)


def _offset(patch: Patch, one: Opening, two: Opening) -> float | None:
    """Distance of the two axes; None where they are too far apart to be meant as one."""
    difference = two.centre_mm - one.centre_mm
    difference = difference - patch.one.flat.normal * (difference @ patch.one.flat.normal)
    distance = float(np.linalg.norm(difference))
    allowed = max(_COAXIAL_MM, _COAXIAL_SHARE * min(one.width_mm, two.width_mm))
    for opening in (one, two):
        if opening.shape is Shape.SLOT:
            allowed = max(allowed, (opening.length_mm - opening.width_mm) / 2 + _COAXIAL_MM)
    return distance if distance <= allowed else None


def without_facets(patches: Sequence[Patch]) -> tuple[Patch, ...]:
    """The patches without those that noise has made of a curved face: neighbours that differ little in direction.

    Noise joins facets of the two bodies differently, so what they have in common flat by flat falls short; such faces
    are better measured as curved. Facets of a clean mesh stay.
    """
    if len(patches) < _LEAST_FACETS:
        return tuple(patches)
    return tuple(
        patch
        for patch in patches
        if patch.one.flat.spread_mm <= CLEAN_MM or not any(_is_facet_beside(patch, other) for other in patches)
    )


def _is_facet_beside(one: Patch, two: Patch) -> bool:
    cosine = float(one.one.flat.normal @ two.one.flat.normal)
    if not _LARGEST_BEND < cosine < _LEAST_BEND:
        return False
    near = 1.0
    return bool(np.all(one.one.low_mm - near <= two.one.high_mm) and np.all(two.one.low_mm - near <= one.one.high_mm))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EdgePieces:
    """The edge of a patch in short pieces, those of a loop in order.

    Parameters
    ----------
    middle_mm : (n, 3) float64
        Middle of each piece.
    length_mm : (n,) float64
        Its length.
    loop : (n,) int64
        Number of its loop.
    is_inner
        For each loop, whether it is an inner edge of the patch.
    beyond : ((n,), (n,)) int64
        For both bodies, the face beyond the edge of its region there; -1 where the piece lies inside the region.
    """

    middle_mm: Points
    length_mm: NDArray[np.float64]
    loop: NDArray[np.int64]
    is_inner: tuple[bool, ...]
    beyond: tuple[NDArray[np.int64], NDArray[np.int64]]


def edge_pieces(patch: Patch, longest_mm: float) -> EdgePieces:
    """The edge of a patch in short pieces, with what lies beyond it in both bodies.

    Parameters
    ----------
    patch
        The patch.
    longest_mm
        Longest piece.
    """
    normalised = shapely.orient_polygons(patch.polygon)
    middle, length, number = [], [], []
    rings = shapely.get_rings(shapely.get_parts(normalised))
    for index, ring in enumerate(rings):
        points = shapely.get_coordinates(shapely.segmentize(ring, longest_mm))
        size = np.linalg.norm(np.diff(points, axis=0), axis=1)
        keep = size > 1e-9
        middle.append(in_space(patch.one, ((points[:-1] + points[1:]) / 2)[keep]))
        length.append(size[keep])
        number.append(np.full(len(middle[-1]), index))
    middles = np.vstack(middle)
    return EdgePieces(
        middle_mm=middles,
        length_mm=np.concatenate(length),
        loop=np.concatenate(number),
        is_inner=tuple(not ring.is_ccw for ring in rings),
        beyond=(_beyond(patch.one, middles), _beyond(patch.two, middles)),
    )


def _beyond(outline: Outline, points: Points) -> NDArray[np.int64]:
    """Face beyond the edge of a region at points on that edge; -1 for points off it."""
    local = (points - outline.flat.origin) @ outline.flat.frame.T
    tree = shapely.STRtree(shapely.linestrings(outline.rim))
    (point, edge), distance = tree.query_nearest(shapely.points(local), return_distance=True, all_matches=False)
    beyond = np.full(len(points), -1)
    is_on = distance <= _ON_EDGE_MM
    beyond[point[is_on]] = outline.rim_beyond[edge[is_on]]
    return beyond


def patch_rings(patch: Patch, coarse_mm: float = 0.2) -> tuple[Points, ...]:
    """Closed outlines of a patch in the frame of the figure, each (n, 3); detail below `coarse_mm` left out."""
    simple = shapely.simplify(patch.polygon, coarse_mm)
    rings = shapely.get_rings(shapely.get_parts(simple))
    return tuple(in_space(patch.one, shapely.get_coordinates(ring)) for ring in rings)
