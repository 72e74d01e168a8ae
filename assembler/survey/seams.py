"""How much of a joint's edge is seen on the finished figure? Patches in, lengths out.

The edge of a mating patch is a seam where the faces beyond it, on both bodies, mate with nothing and can be seen from
outside. A place in a cavity is seen from few directions only, so an opening in the base does not make it a seam.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.facing import EdgePieces, Patch, edge_pieces
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.samples import Grid

SEEN = 0.13
"""Share of directions from which a seam is seen at least; places in a cavity stay below."""
_PIECE_MM = 4.0
_WINDOW_MM = 24.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outside:
    """What is needed to tell seams: the view of each cell, and the faces of each body that mate with something."""

    view: NDArray[np.float32]
    grid: Grid
    meshes: Sequence[Mesh]
    mating: Mapping[int, NDArray[np.bool_]]


def seam_length_mm(pair: tuple[int, int], patches: Sequence[Patch], outside: Outside) -> float:
    """Length of the edges of the patches that is seen from outside.

    Parameters
    ----------
    pair
        Numbers of the two bodies.
    patches
        Their mating patches.
    outside
        The whole figure.
    """
    return sum(_seen_mm(pair, patch, outside) for patch in patches)


def _seen_mm(pair: tuple[int, int], patch: Patch, outside: Outside) -> float:
    pieces = edge_pieces(patch, _PIECE_MM)
    is_open = np.ones(len(pieces.middle_mm), dtype=bool)
    for body, beyond in zip(pair, pieces.beyond, strict=True):
        is_open &= (beyond < 0) | ~outside.mating[body][beyond]
    is_open &= (pieces.beyond[0] >= 0) | (pieces.beyond[1] >= 0)
    look = _outward(pair, patch, pieces, outside)
    seen = np.zeros(len(look))
    for cells in (1.5, 2.5):
        key = outside.grid.keys(pieces.middle_mm + look * (cells * outside.grid.cell_mm))
        seen = np.maximum(seen, outside.view.reshape(-1)[key])
    total = 0.0
    for number in range(int(pieces.loop.max()) + 1):
        chosen = (pieces.loop == number) & is_open
        if np.any(chosen):
            length = pieces.length_mm[chosen]
            total += float(length[_smoothed(seen[chosen] >= SEEN, length)].sum())
    return total


def _outward(pair: tuple[int, int], patch: Patch, pieces: EdgePieces, outside: Outside) -> Points:
    """Direction away from both bodies at each piece: between the normals of the two surfaces that meet there."""
    total = np.zeros_like(pieces.middle_mm)
    for body, beyond, outline in zip(pair, pieces.beyond, (patch.one, patch.two), strict=True):
        normal, _ = normals_and_heights(outside.meshes[body], np.maximum(beyond, 0))
        total += np.where((beyond >= 0)[:, None], normal, outline.flat.normal)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-9)[:, None])


def _smoothed(is_seen: NDArray[np.bool_], length: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Majority within a window along a closed loop, by length."""
    around = np.concatenate((length, length, length))
    weight = np.concatenate((np.where(is_seen, length, 0.0),) * 3)
    place = np.cumsum(around) - around / 2
    sums = np.concatenate(([0.0], np.cumsum(weight)))
    sizes = np.concatenate(([0.0], np.cumsum(around)))
    first = np.searchsorted(place, place - _WINDOW_MM / 2)
    last = np.searchsorted(place, place + _WINDOW_MM / 2, side="right")
    share = (sums[last] - sums[first]) / (sizes[last] - sizes[first])
    return np.asarray(share[len(length) : 2 * len(length)] > 0.5)
