"""What does each part take off the room for hands and bodies? A block of cells for each part and width."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.spatial import cKDTree

from assembler.geometry.freespace import Grid, Patch, grown, grown_from, patch_of
from assembler.planning.handsizes import BODY_MM


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


def part_grids(cloud: cKDTree, widths: Widths) -> PartGrids:
    """Grids of a part.

    Parameters
    ----------
    cloud
        Points on its surface, closer together than a cell.
    widths
        What is asked.
    """
    taken = patch_of(cloud.data, widths.grid)
    return PartGrids(
        taken=taken,
        arm=grown_from(cloud, taken, widths.arm_mm / 2.0, widths.grid),
        pair=grown_from(cloud, taken, widths.pair_mm / 2.0, widths.grid),
        body=grown(patch_of(cloud.data, widths.rough), BODY_MM, widths.rough),
    )
