"""What does each part take off the room for hands and bodies? A block of cells for each part and width."""

from __future__ import annotations

from scipy.spatial import cKDTree

from assembler.geometry.freespace import Grid, Patch, grown, grown_from, patch_of
from assembler.planning.handsizes import BODY_MM


class PartGrids:
    """Cells of one part, those for a width made when they are asked for.

    Parameters
    ----------
    cloud
        Points on its surface, closer together than a cell.
    grid, rough
        For hands and for bodies.

    Attributes
    ----------
    taken
        Cells that hold a point of its surface.
    body
        Cells of the coarser grid that the middle of a body cannot take.
    """

    def __init__(self, cloud: cKDTree, grid: Grid, rough: Grid) -> None:
        self._cloud = cloud
        self._grid = grid
        self._beside: dict[float, Patch] = {}
        self.taken = patch_of(cloud.data, grid)
        self.body = grown(patch_of(cloud.data, rough), BODY_MM, rough)

    def beside(self, width_mm: float) -> Patch:
        """Cells that the axis of something so wide, one arm or two side by side, cannot take."""
        if width_mm not in self._beside:
            self._beside[width_mm] = grown_from(self._cloud, self.taken, width_mm / 2.0, self._grid)
        return self._beside[width_mm]
