"""The finished figure against wind and people: what it shows to the side, and what a push does to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Silhouette:
    """What a figure shows to a wind from one side.

    Parameters
    ----------
    toward
        Unit vector in plan: where the wind blows to.
    area_mm2
        Projected area.
    centre_height_mm
        Of the area's centre, above the lowest point of the figure.
    """

    toward: tuple[float, float]
    area_mm2: float
    centre_height_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """The finished figure as it stands on its ground.

    Parameters
    ----------
    mass_kg
        Of figure and base.
    centre_mm
        Centre of mass in plan.
    feet_mm : (n, 2) float64, mm
        Points in plan on which it stands.
    height_mm
        From the ground to its top.
    sides
        Silhouettes over half a turn; from behind it looks the same.
    """

    mass_kg: float
    centre_mm: tuple[float, float]
    feet_mm: NDArray[np.float64]
    height_mm: float
    sides: tuple[Silhouette, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExposureRow:
    """One push and what it does to the figure, towards the side where it does most.

    Parameters
    ----------
    wind_m_s
        Gust; 0 for a person who pushes at shoulder height.
    force_n, moment_nm
        Force, and moment about the ground.
    tip_safety
        Moment of the weight over moment of the push, about the edge that gives way first; without anchors.
    slide_safety
        Friction over force; without anchors.
    anchor_tension_n, anchor_shear_n
        On the anchor that is pulled hardest, and on each one; None where the places of the anchors are not stated.
    """

    wind_m_s: float
    force_n: float
    moment_nm: float
    tip_safety: float
    slide_safety: float
    anchor_tension_n: float | None = None
    anchor_shear_n: float | None = None

    @property
    def safety(self) -> float:
        """The smaller of both."""
        return min(self.tip_safety, self.slide_safety)
