"""Which openings of two bodies are one hole, where rims are torn or faces not flat? Faces in, mouths and pairs out.

A hole in a cone or a sculpted cut has no mouth in one plane. Its mouth is a rim of the mating faces at which the
surface turns sharply into a wall, and the wall gives the axis. Noise and missing faces tear rims, seldom on both sides
at once: where one side shows a hole, the wall of its partner is looked for on the same axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.geometry.circles import LARGEST_HOLE_MM, axis_frame, fit_circle
from assembler.geometry.facing import HolePair, LoneHole, is_coaxial, pair_of
from assembler.geometry.flats import NOISY_MM, neighbour_pairs
from assembler.geometry.healing import rim_loops
from assembler.geometry.openings import Opening, Shape, round_opening
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.rims import rim_of
from assembler.geometry.walls import borders_wall, wall_axis

_RINGS = 3
"""Rows of faces by which the mating area is widened: sampling leaves a ragged edge beside a hole."""
_SMOOTH = np.cos(np.radians(40.0))
_APART_MM = 2.0
_WIDEST_TORN_DEG = 130.0
_ALONG = np.cos(np.radians(5.0))


def openings_in(mesh: Mesh, faces: NDArray[np.int64], known: Sequence[Opening]) -> tuple[Opening, ...]:
    """Round openings in mating faces of any form, those known from flat regions left out.

    Parameters
    ----------
    mesh
        In mm.
    faces : (k,) int64
        Mating faces.
    known
        Openings found otherwise.
    """
    if not len(faces):
        return ()
    normals, heights = normals_and_heights(mesh, np.arange(len(mesh.faces)))
    region = _widened(mesh, faces, normals)
    rim, beyond = rim_of(mesh, region)
    behind = dict(zip(map(tuple, rim.tolist()), beyond.tolist(), strict=True))
    found = []
    for loop in rim_loops(rim):
        points = mesh.vertices[loop]
        if not 1.0 < float(np.ptp(points, axis=0).max()) < LARGEST_HOLE_MM:
            continue
        edges = list(zip(loop, [*loop[1:], loop[0]], strict=True))
        wall = np.array([behind.get(edge, -1) for edge in edges])
        near = region[np.isin(mesh.faces[region], loop).any(axis=1)]
        like = (normals[near] * heights[near, None]).sum(axis=0)
        like /= max(float(np.linalg.norm(like)), 1e-12)
        is_wall = borders_wall(mesh, wall, like)
        axis = wall_axis(mesh, np.unique(wall[is_wall]), like)
        if axis is None:
            continue
        opening = round_opening(points, axis.axis)
        if opening is None:
            torn = mesh.vertices[np.unique(np.array(edges)[is_wall])]
            opening = round_opening(torn, axis.axis, _WIDEST_TORN_DEG)
            opening = opening or round_opening(torn, axis.axis, _WIDEST_TORN_DEG, is_torn=True)
        if opening is not None and not any(_is_same(opening, other) for other in known):
            found.append(opening)
    return tuple(sorted(found, key=lambda opening: tuple(np.round(opening.centre_mm, 3).tolist())))


def _is_same(one: Opening, two: Opening) -> bool:
    return float(np.linalg.norm(one.centre_mm - two.centre_mm)) < _APART_MM


def _widened(mesh: Mesh, faces: NDArray[np.int64], normals: NDArray[np.float64]) -> NDArray[np.int64]:
    """The faces with some rows of faces round them, over edges that do not turn sharply."""
    is_inside = np.zeros(len(mesh.faces), dtype=bool)
    is_inside[faces] = True
    for _ in range(_RINGS):
        is_touched = np.zeros(len(mesh.vertices), dtype=bool)
        is_touched[mesh.faces[is_inside]] = True
        near = np.flatnonzero(is_touched[mesh.faces].sum(axis=1) >= 2)
        pairs = near[neighbour_pairs(mesh.faces[near], len(mesh.vertices))]
        one, two = pairs[:, 0], pairs[:, 1]
        is_smooth = np.einsum("ij,ij->i", normals[one], normals[two]) > _SMOOTH
        is_smooth |= ~is_inside[one] & _is_level(mesh, one, two, normals)
        is_smooth |= ~is_inside[two] & _is_level(mesh, two, one, normals)
        is_edge = is_smooth & (is_inside[one] != is_inside[two])
        if not np.any(is_edge):
            break
        is_inside[pairs[is_edge]] = True
    return np.flatnonzero(is_inside)


def _is_level(
    mesh: Mesh, thin: NDArray[np.int64], beside: NDArray[np.int64], normals: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Whether faces too thin for their normal to mean anything lie in the planes of those beside them."""
    corners = mesh.vertices[mesh.faces[thin]]
    off = np.einsum("ikj,ij->ik", corners - mesh.vertices[mesh.faces[beside, 0]][:, None], normals[beside])
    is_thin = normals_and_heights(mesh, thin)[1] < NOISY_MM
    is_sound = normals_and_heights(mesh, beside)[1] >= NOISY_MM
    return np.asarray(is_thin & is_sound & (np.abs(off).max(axis=1) < 2 * NOISY_MM))


def match_openings(
    ones: Sequence[Opening], twos: Sequence[Opening]
) -> tuple[tuple[HolePair, ...], tuple[LoneHole, ...]]:
    """Openings of two bodies on one axis, and those that are alone."""
    pairs, lone = [], []
    taken: set[int] = set()
    for one in ones:
        near = [
            (round(float(np.linalg.norm(two.centre_mm - one.centre_mm)), 4), number)
            for number, two in enumerate(twos)
            if number not in taken and one.axis @ two.axis < -_ALONG and is_coaxial(one, two)
        ]
        if not near:
            lone.append(LoneHole(opening=one, is_first=True))
            continue
        number = min(near)[1]
        taken.add(number)
        pairs.append(pair_of(one, twos[number]))
    lone += [LoneHole(opening=two, is_first=False) for number, two in enumerate(twos) if number not in taken]
    return tuple(pairs), tuple(lone)


_SECTORS = 12
_LEAST_SECTORS = 9
_OFF_MM, _OFF_SHARE = 0.5, 0.12
_MOUTH_MM = 2.0
"""Depth within which the wall has to begin."""
_STEEP = 0.5


def hole_opposite(mesh: Mesh, mouth: Opening) -> Opening | None:
    """The mouth of the partner of a hole in another body; None where no round wall surrounds its axis.

    Parameters
    ----------
    mesh
        The body opposite, mm.
    mouth
        A round mouth; its axis points into the body opposite.
    """
    if mouth.shape is not Shape.ROUND:
        return None
    low, high = mesh.vertices.min(axis=0) - 1.0, mesh.vertices.max(axis=0) + 1.0
    if np.any(mouth.centre_mm < low) or np.any(mouth.centre_mm > high):
        return None
    arms = mesh.vertices - mouth.centre_mm
    along = arms @ mouth.axis
    reach = np.sqrt(np.maximum(np.einsum("ij,ij->i", arms, arms) - along**2, 0.0))
    radius = mouth.width_mm / 2
    slack = max(_OFF_MM, _OFF_SHARE * mouth.width_mm)
    is_near = (np.abs(reach - radius) <= slack) & (along > -slack) & (along < 12 * radius)
    faces = np.flatnonzero(is_near[mesh.faces].all(axis=1))
    if len(faces) < _LEAST_SECTORS:
        return None
    normals, _ = normals_and_heights(mesh, faces)
    middle = arms[mesh.faces[faces]].mean(axis=1)
    outward = middle - (middle @ mouth.axis)[:, None] * mouth.axis
    outward /= np.maximum(np.linalg.norm(outward, axis=1), 1e-12)[:, None]
    is_wall = (np.abs(normals @ mouth.axis) < _STEEP) & (np.einsum("ij,ij->i", normals, outward) < -_STEEP)
    is_wall &= along[mesh.faces[faces]].min(axis=1) < _MOUTH_MM
    return _mouth_of(mesh, faces[is_wall], mouth, slack)


def _mouth_of(mesh: Mesh, wall: np.ndarray, mouth: Opening, slack: float) -> Opening | None:
    used = np.unique(mesh.faces[wall])
    if len(used) < _LEAST_SECTORS:
        return None
    arms = mesh.vertices[used] - mouth.centre_mm
    frame = axis_frame(mouth.axis)[:2]
    flat = arms @ frame.T
    sector = (np.arctan2(flat[:, 1], flat[:, 0]) / (2 * np.pi) * _SECTORS).astype(int) % _SECTORS
    if len(np.unique(sector)) < _LEAST_SECTORS:
        return None
    centre, radius, off = fit_circle(flat)
    if np.linalg.norm(centre) > slack or np.abs(off).max() > slack:
        return None
    along = arms @ mouth.axis
    start = float(np.median([along[sector == number].min() for number in np.unique(sector)]))
    at = mouth.centre_mm + start * mouth.axis + centre @ frame
    return replace(
        mouth, centre_mm=at, width_mm=2 * radius, length_mm=2 * radius, axis=-mouth.axis, spread_mm=float(off.std())
    )
