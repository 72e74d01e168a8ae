"""How much of a joint's edge is seen on the finished figure? Patches in, lengths out.

The edge of a mating patch is a seam where the faces beyond it, on both bodies, mate with nothing and can be seen from
outside. A place in a cavity is seen from few directions only, so an opening in the base does not make it a seam.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.curved import CurvedFacing
from assembler.geometry.facing import EdgePieces, Patch, edge_pieces
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.rims import owners_of, rim_of
from assembler.geometry.samples import Grid

_SEEN = 0.1
"""Mean share of directions from which a seam is seen at least; in a cavity it is nearly zero."""
_SEEN_THROUGH = 0.4
"""The same for the inner edge of a ring, which is the cavity's as a rule: only a wide open one is a skin."""
_SLIVER_MM = 0.3
"""Height of a face that noise or rounding may have turned anywhere."""
_CREASE = np.cos(np.radians(35.0))
"""Cosine of the least turn of the surface at an edge of the body."""
PIECE_MM = 4.0
"""Length of the pieces in which an edge is looked at."""
_WINDOW_MM = 6.0
_TURN_DEG = 50.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outside:
    """What is needed to tell seams.

    Parameters
    ----------
    view, grid
        Share of directions from which each cell is seen.
    meshes, mating
        All bodies, and which faces of each mate with something.
    """

    view: NDArray[np.float32]
    grid: Grid
    meshes: Sequence[Mesh]
    mating: Sequence[NDArray[np.bool_]]


def seam_length_mm(
    pair: tuple[int, int], patches: Sequence[Patch], curved: CurvedFacing | None, outside: Outside
) -> float:
    """Length of the edges of the patches that is seen from outside.

    Parameters
    ----------
    pair
        Numbers of the two bodies.
    patches
        Their flat mating patches.
    curved
        What mates without being flat.
    outside
        The whole figure.
    """
    total = sum(_seen_mm(pair, patch, outside) for patch in patches)
    if curved is not None:
        # Where one face reaches beyond the other its own set of facing faces ends on no edge of the body.
        both = zip(pair, curved.faces, strict=True)
        measured = [_seen_on_curved(outside.meshes[body], body, faces, outside) for body, faces in both]
        total += min(measured, key=lambda side: (side[0], -side[1]))[1]
    return total


def _seen_on_curved(mesh: Mesh, body: int, faces: NDArray[np.int64], outside: Outside) -> tuple[int, float]:
    """How the edge of a set of curved faces that mates with nothing runs: percent without a crease; length seen."""
    rim, beyond = rim_of(mesh, faces)
    is_open = (beyond >= 0) & ~outside.mating[body][np.maximum(beyond, 0)]
    if not np.any(is_open):
        return 0, 0.0
    rim, beyond = rim[is_open], beyond[is_open]
    ends = mesh.vertices[rim]
    middle = ends.mean(axis=1)
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    look, heights = normals_and_heights(mesh, beyond)
    seen = _view(middle, look, outside)
    # A sliver may look anywhere: its edge is seen where the edge of a sound face close by is.
    is_sound = heights > _SLIVER_MM
    if np.any(is_sound):
        away, nearest = cKDTree(middle[is_sound]).query(middle)
        seen = np.where(away < _WINDOW_MM, seen[is_sound][nearest], seen)
    own, own_heights = normals_and_heights(mesh, owners_of(mesh, faces, rim))
    is_smooth = is_sound & (own_heights > _SLIVER_MM) & (np.einsum("ij,ij->i", own, look) > _CREASE)
    return round(100 * float(length[is_smooth].sum() / length.sum())), float(length[seen >= _SEEN].sum())


def _view(points: Points, look: Points, outside: Outside) -> NDArray[np.float64]:
    """Share of directions from which places just outside the surface are seen."""
    seen = np.zeros(len(points))
    for cells in (1.0, 1.5, 2.5):
        key = outside.grid.keys(points + look * (cells * outside.grid.cell_mm))
        seen = np.maximum(seen, outside.view.reshape(-1)[key])
    return seen


def _seen_mm(pair: tuple[int, int], patch: Patch, outside: Outside) -> float:
    pieces = edge_pieces(patch, PIECE_MM)
    is_open = np.ones(len(pieces.middle_mm), dtype=bool)
    for body, beyond in zip(pair, pieces.beyond, strict=True):
        is_open &= (beyond < 0) | ~outside.mating[body][beyond]
    is_open &= (pieces.beyond[0] >= 0) | (pieces.beyond[1] >= 0)
    look = _outward(pair, patch, pieces, outside)
    seen = _view(pieces.middle_mm, look, outside)
    total = 0.0
    for number in range(int(pieces.loop.max()) + 1):
        chosen = pieces.loop == number
        least = _SEEN_THROUGH if pieces.is_inner[number] else _SEEN
        total += _seen_in_loop(pieces.length_mm[chosen], is_open[chosen], look[chosen], seen[chosen], least)
    return total


def _seen_in_loop(
    length: NDArray[np.float64], is_open: NDArray[np.bool_], look: Points, seen: NDArray[np.float64], least: float
) -> float:
    """Length of the runs of a loop that are seen; a run ends where the loop turns from one surface to another."""
    if not np.any(is_open):
        return 0.0
    run = np.cumsum(_starts(length, is_open, look))
    run[run == run[-1]] = run[0] if not _starts(length, is_open, look)[0] else run[-1]
    run = np.where(is_open, run, -1)
    total = 0.0
    for number in np.unique(run[is_open]):
        inside = run == number
        size = float(length[inside].sum())
        if float(length[inside] @ seen[inside]) >= least * size:
            total += size
    return total


def _starts(length: NDArray[np.float64], is_open: NDArray[np.bool_], look: Points) -> NDArray[np.bool_]:
    """Pieces at which a run begins: after a hidden piece, or where the surfaces beyond the edge turn sharply."""
    count = len(length)
    around = np.tile(length, 3)
    sums = np.vstack((np.zeros(3), np.cumsum(np.tile(look * length[:, None], (3, 1)), axis=0)))
    ends = np.concatenate(([0.0], np.cumsum(around)))
    here = ends[count : 2 * count]
    middle = np.arange(count, 2 * count)
    before = sums[middle] - sums[np.searchsorted(ends, here - _WINDOW_MM)]
    after = sums[np.searchsorted(ends, here + _WINDOW_MM, side="right") - 1] - sums[middle]
    scale = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    bend = np.einsum("ij,ij->i", before, after)
    sharp = bend < np.cos(np.radians(_TURN_DEG)) * scale
    # One start for each turn: the sharpest piece within the window.
    measure = np.where(sharp, bend / np.maximum(scale, 1e-12), np.inf)
    is_least = measure <= np.minimum(np.roll(measure, 1), np.roll(measure, -1))
    return np.asarray((sharp & is_least) | (is_open != np.roll(is_open, 1)))


def _outward(pair: tuple[int, int], patch: Patch, pieces: EdgePieces, outside: Outside) -> Points:
    """Direction away from both bodies at each piece: between the normals of the two surfaces that meet there."""
    total = np.zeros_like(pieces.middle_mm)
    for body, beyond, outline in zip(pair, pieces.beyond, (patch.one, patch.two), strict=True):
        normal, _ = normals_and_heights(outside.meshes[body], np.maximum(beyond, 0))
        total += np.where((beyond >= 0)[:, None], normal, outline.flat.normal)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-9)[:, None])
