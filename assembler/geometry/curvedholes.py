"""Which holes lie in mating faces that are not flat, and which of two bodies belong together? Faces in, pairs out.

A hole in a cone or a sculpted cut has no mouth in one plane. Its mouth is a rim of the mating faces at which the
surface turns sharply into a wall, and the wall gives the axis.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.geometry.circles import LARGEST_HOLE_MM
from assembler.geometry.facing import HolePair, LoneHole, is_coaxial, pair_of
from assembler.geometry.flats import NOISY_MM, neighbour_pairs
from assembler.geometry.healing import rim_loops
from assembler.geometry.openings import Opening, round_opening
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
