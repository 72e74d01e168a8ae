"""Which openings does a loop of a flat region stand for? Rims in, round holes, slots and other openings out.

One of the modules that own shapely (with `outlines` and `facing`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import shapely
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.circles import (
    LARGEST_HOLE_MM,
    LEAST_CORNERS,
    ROUND_MM,
    axis_frame,
    circle_through,
    true_corners,
    without_strays,
)
from assembler.geometry.flats import Flat
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.wallholes import inner_corners, is_of_other_form, round_wall, wall_faces
from assembler.geometry.walls import borders_wall, drilled_axis

_NOISE_MM = 0.01
"""Spread of a flat region that is no longer rounding to single precision."""
_LEAST_WALLED = 0.5
"""Share of the edges of a mouth that border a wall; where fewer do, the edge is cut off."""
_LEAST_FILLED = 0.4
"""Share of a cut off mouth that the slot below it fills at least: an edge of a third of its width is cut off."""
_WIDEST_TORN_DEG = 130.0
"""Widest gap in the rim of a hole that is torn but still told."""


class Shape(StrEnum):
    """Form of an opening in a flat region."""

    ROUND = "round"
    SLOT = "slot"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Opening:
    """An inner loop of a flat region.

    Parameters
    ----------
    centre_mm : (3,) float64
        In the plane of the region.
    width_mm
        Diameter of the true circle, or width of the slot; mean width of another form.
    length_mm
        Overall length of a slot; the width otherwise.
    along : (3,) float64
        Unit vector along a slot; zeros otherwise.
    shape
        Form.
    spread_mm
        Standard deviation of the rim from that form.
    axis : (3,) float64
        Unit vector out of the body along which the hole was drilled: the normal of its region, or another.
    margin_mm
        How far the edge of its region stays away from the opening, where re-meshing or noise has cut the edge off.
    is_doubtful
        Whether the edge is so torn or cut off that another form says nothing.
    """

    centre_mm: NDArray[np.float64]
    width_mm: float
    length_mm: float
    along: NDArray[np.float64]
    shape: Shape
    spread_mm: float
    axis: NDArray[np.float64]
    margin_mm: float = 0.0
    is_doubtful: bool = False


def openings_of_loop(
    mesh: Mesh, chain: list[int], loop: Points, flat: Flat, behind: Mapping[tuple[int, int], int]
) -> list[Opening]:
    """Openings that one edge loop of a flat region stands for; none for most outer edges.

    Parameters
    ----------
    mesh
        In mm.
    chain
        Vertices of the loop, the region on their left.
    loop : (n, 2) float64
        The same in the region's frame.
    flat
        The region.
    behind
        For each directed edge of the region's rim the face beyond, -1 for none.
    """
    opening = _opening(mesh, chain, loop, flat, behind) if _signed_area(loop) < 0 else None
    if opening is not None and opening.shape is not Shape.OTHER:
        return [opening]
    torn = _torn(mesh, chain, flat, behind)
    if opening is None:
        return torn
    if torn:
        return [*torn, opening]
    edges = zip(chain, [*chain[1:], chain[0]], strict=True)
    is_wall = borders_wall(mesh, np.array([behind[edge] for edge in edges]), flat.normal)
    is_cut_off = flat.spread_mm > _NOISE_MM or bool(np.mean(is_wall) < _LEAST_WALLED)
    read = _by_wall(mesh, loop, flat)
    # A wall all round that is neither round nor a slot's has been read, too: it is another form.
    return [read or replace(opening, is_doubtful=is_cut_off and not _has_other_form(mesh, loop, flat))]


def _has_other_form(mesh: Mesh, loop: Points, flat: Flat) -> bool:
    middle = (loop.max(axis=0) + loop.min(axis=0)) / 2
    reach = float(np.linalg.norm(loop - middle, axis=1).max())
    centre = flat.origin + middle @ flat.frame
    return is_of_other_form(mesh, wall_faces(mesh, centre, reach, flat.normal), centre, flat.frame)


def _by_wall(mesh: Mesh, loop: Points, flat: Flat) -> Opening | None:
    """The round hole below a loop that lies on no circle itself."""
    middle = (loop.max(axis=0) + loop.min(axis=0)) / 2
    reach = float(np.linalg.norm(loop - middle, axis=1).max())
    if 2 * reach > LARGEST_HOLE_MM:
        return None
    centre = flat.origin + middle @ flat.frame
    wall = round_wall(mesh, centre, reach, flat.normal)
    if wall is None:
        corners = inner_corners(mesh, wall_faces(mesh, centre, reach, flat.normal))
        slot = _slot((corners - flat.origin) @ flat.frame.T, flat)
        if slot is None or slot.width_mm * slot.length_mm < _LEAST_FILLED * abs(_signed_area(loop)):
            return None
        return replace(slot, margin_mm=max(reach - slot.length_mm / 2, 0.0))
    shift = float((flat.origin - wall.centre_mm) @ flat.normal) / float(wall.axis @ flat.normal)
    return Opening(
        centre_mm=wall.centre_mm + shift * wall.axis,
        width_mm=2 * wall.radius_mm,
        length_mm=2 * wall.radius_mm,
        along=np.zeros(3),
        shape=Shape.ROUND,
        spread_mm=wall.spread_mm,
        axis=wall.axis,
        margin_mm=max(reach - wall.radius_mm, 0.0),
    )


def _signed_area(loop: Points) -> float:
    following = np.roll(loop, -1, axis=0)
    return float((loop[:, 0] * following[:, 1] - loop[:, 1] * following[:, 0]).sum() / 2)


def _opening(
    mesh: Mesh, chain: list[int], loop: Points, flat: Flat, behind: Mapping[tuple[int, int], int]
) -> Opening | None:
    size = loop.max(axis=0) - loop.min(axis=0)
    if size.max() > 3 * LARGEST_HOLE_MM or size.min() < 1.0:
        return None
    if size.max() <= LARGEST_HOLE_MM:
        beyond = np.array([behind[edge] for edge in zip(chain, [*chain[1:], chain[0]], strict=True)])
        axis = drilled_axis(mesh, mesh.vertices[chain], beyond, flat.normal)
        if axis is not flat.normal and (askew := _askew(mesh.vertices[chain], axis, flat)) is not None:
            return askew
    corners = true_corners(loop)
    found = _round(corners, flat) or _slot(corners, flat)
    if found is not None:
        return found
    width = 2 * float(np.sqrt(abs(_signed_area(loop)) / np.pi))
    return Opening(
        centre_mm=flat.origin + loop.mean(axis=0) @ flat.frame,
        width_mm=width,
        length_mm=width,
        along=np.zeros(3),
        shape=Shape.OTHER,
        spread_mm=0.0,
        axis=flat.normal,
    )


def _torn(mesh: Mesh, chain: list[int], flat: Flat, behind: Mapping[tuple[int, int], int]) -> list[Opening]:
    """Round holes that missing or folded faces have joined to another edge: runs of edges that border a round wall."""
    edges = np.array(list(zip(chain, [*chain[1:], chain[0]], strict=True)))
    beyond = np.array([behind[one, two] for one, two in edges.tolist()])
    is_wall = borders_wall(mesh, beyond, flat.normal)
    if np.all(is_wall) or np.count_nonzero(is_wall) < LEAST_CORNERS:
        return []
    first = int(np.argmin(is_wall))
    is_wall, edges, beyond = (np.roll(values, -first, axis=0) for values in (is_wall, edges, beyond))
    found = []
    for run in np.split(np.arange(len(edges)), np.flatnonzero(np.diff(is_wall)) + 1):
        if not is_wall[run[0]] or len(run) < LEAST_CORNERS:
            continue
        # Cheapest first: most runs are outer edges of the region.
        rim = mesh.vertices[np.append(edges[run, 0], edges[run[-1], 1])]
        if not 1.0 < float(np.ptp(rim, axis=0).max()) < LARGEST_HOLE_MM:
            continue
        seen = _torn_mouth(rim, drilled_axis(mesh, rim, beyond[run], flat.normal), flat)
        if seen is None:
            continue
        normals, _ = normals_and_heights(mesh, beyond[run])
        if np.mean(np.einsum("ij,ij->i", normals, seen.centre_mm - rim[:-1]) > 0) > 0.8:
            found.append(seen)
    return found


def _torn_mouth(rim: Points, axis: NDArray[np.float64], flat: Flat) -> Opening | None:
    if axis is not flat.normal:
        return _askew(rim, axis, flat, _WIDEST_TORN_DEG)
    circle = circle_through((rim - flat.origin) @ flat.frame.T, _WIDEST_TORN_DEG)
    return None if circle is None else _round_of(circle, flat)


def _askew(rim: Points, axis: NDArray[np.float64], flat: Flat, widest_deg: float = 75.0) -> Opening | None:
    """The mouth of a hole that does not stand square on its region, its centre in the region's plane."""
    seen = round_opening(rim, axis, widest_deg)
    if seen is None:
        return None
    shift = float((flat.origin - seen.centre_mm) @ flat.normal) / float(axis @ flat.normal)
    return replace(seen, centre_mm=seen.centre_mm + shift * axis)


def round_opening(
    rim: Points, axis: NDArray[np.float64], widest_deg: float = 75.0, *, is_torn: bool = False
) -> Opening | None:
    """The mouth of a drilled hole, seen along its axis; None where it is not round.

    Parameters
    ----------
    rim : (k, 3) float64, mm
        Corners of the mouth, in order, on a surface of any form.
    axis : (3,) float64
        Unit vector, out of the body.
    widest_deg
        Widest gap between neighbouring corners.
    is_torn
        Whether some corners may lie beside the mouth: up to a quarter of them is left out.
    """
    middle = rim.mean(axis=0)
    frame = axis_frame(axis)
    corners = true_corners((rim - middle) @ frame[:2].T)
    if is_torn:
        corners = without_strays(corners)
    circle = circle_through(corners, widest_deg)
    if circle is None:
        return None
    centre, radius, spread = circle
    return Opening(
        centre_mm=middle + centre @ frame[:2],
        width_mm=2 * radius,
        length_mm=2 * radius,
        along=np.zeros(3),
        shape=Shape.ROUND,
        spread_mm=spread,
        axis=axis,
    )


def _round(corners: Points, flat: Flat) -> Opening | None:
    circle = circle_through(corners)
    return None if circle is None else _round_of(circle, flat)


def _round_of(circle: tuple[NDArray[np.float64], float, float], flat: Flat) -> Opening:
    centre, radius, spread = circle
    return Opening(
        centre_mm=flat.origin + centre @ flat.frame,
        width_mm=2 * radius,
        length_mm=2 * radius,
        along=np.zeros(3),
        shape=Shape.ROUND,
        spread_mm=spread,
        axis=flat.normal,
    )


def _slot(corners: Points, flat: Flat) -> Opening | None:
    """A slot: every corner at half the width from a straight middle line."""
    if len(corners) < LEAST_CORNERS:
        return None
    box = shapely.minimum_rotated_rectangle(shapely.multipoints(corners))
    ring = shapely.get_coordinates(box)
    if len(ring) < 5:
        return None
    sides = ring[1:3] - ring[:2]
    lengths = np.linalg.norm(sides, axis=1)
    length, width = float(lengths.max()), float(lengths.min())
    along = sides[int(lengths.argmax())] / length
    centre = ring[:4].mean(axis=0)
    local = (corners - centre) @ np.array([along, [-along[1], along[0]]]).T
    past = np.maximum(np.abs(local[:, 0]) - (length - width) / 2, 0)
    distance = np.hypot(past, local[:, 1]) - width / 2
    if np.abs(distance).max() > 2 * ROUND_MM or width < 1.0 or length - width < 0.5:
        return None
    return Opening(
        centre_mm=flat.origin + centre @ flat.frame,
        width_mm=width,
        length_mm=length,
        along=along @ flat.frame,
        shape=Shape.SLOT,
        spread_mm=float(distance.std()),
        axis=flat.normal,
    )
