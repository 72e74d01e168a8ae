"""What does each part take off the room for hands and bodies? A block of cells for each part and width, kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from assembler.geometry.freespace import Grid, Patch, grown, grown_from, patch_of
from assembler.planning.handsizes import BODY_MM
from assembler.projectfiles.keptarrays import KeptArrays

_NAMES = ("taken", "arm", "pair", "body")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PartGrids:
    """Cells of one part.

    Parameters
    ----------
    taken
        That hold a point of its surface.
    arm, pair
        That the axis of one arm, or of two side by side, cannot take beside it.
    body
        Of the coarser grid: that the middle of a body cannot take.
    """

    taken: Patch
    arm: Patch
    pair: Patch
    body: Patch


@dataclass(frozen=True, slots=True, kw_only=True)
class Widths:
    """What grids of parts are made with.

    Parameters
    ----------
    grid, rough
        For hands and for bodies.
    arm_mm, pair_mm
        Widths.
    """

    grid: Grid
    rough: Grid
    arm_mm: float
    pair_mm: float


def part_grids(
    points: Sequence[cKDTree], solids: Sequence[str], spacing_mm: float, widths: Widths, kept: KeptArrays
) -> tuple[PartGrids, ...]:
    """Grids of all parts; made only where no earlier run made them.

    Parameters
    ----------
    points
        On the surface of each part; asked for only where its grids are made.
    solids
        Digest of the mesh of each part.
    spacing_mm
        Distance of the points.
    widths
        What is asked.
    kept
        Of earlier runs.
    """
    found = []
    for number, solid in enumerate(solids):
        key = kept.key("hand grids", solid, spacing_mm, asdict(widths), BODY_MM)
        known = kept.get(key)
        if known is not None:
            found.append(_unpacked(known.arrays, known.value))
            continue
        made = _made(points[number], widths)
        kept.put(key, *_packed(made))
        found.append(made)
    return tuple(found)


def _made(cloud: cKDTree, widths: Widths) -> PartGrids:
    taken = patch_of(cloud.data, widths.grid)
    return PartGrids(
        taken=taken,
        arm=grown_from(cloud, taken, widths.arm_mm / 2.0, widths.grid),
        pair=grown_from(cloud, taken, widths.pair_mm / 2.0, widths.grid),
        body=grown(patch_of(cloud.data, widths.rough), BODY_MM, widths.rough),
    )


def _packed(grids: PartGrids) -> tuple[dict[str, NDArray[np.uint8]], dict[str, object]]:
    patches: dict[str, Patch] = {name: getattr(grids, name) for name in _NAMES}
    places = {name: [list(map(int, patch.low)), list(patch.flags.shape)] for name, patch in patches.items()}
    return {name: np.packbits(patch.flags) for name, patch in patches.items()}, dict(places)


def _unpacked(arrays: Mapping[str, NDArray[np.uint8]], places: Mapping[str, Sequence[Sequence[int]]]) -> PartGrids:
    return PartGrids(**{name: _patch(arrays[name], *places[name]) for name in _NAMES})


def _patch(bits: NDArray[np.uint8], low: Sequence[int], shape: Sequence[int]) -> Patch:
    flags = np.unpackbits(bits, count=int(np.prod(shape))).view(bool).reshape(tuple(shape))
    return Patch(low=(low[0], low[1], low[2]), flags=flags)
