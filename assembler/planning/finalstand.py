"""The finished figure: what wind and people do to it on its base, by what it shows to the side; and its outer skin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.engineering.exposure import exposure_rows, on_base
from assembler.engineering.weights import parts_together
from assembler.figure.exposure import ExposureRow, Standing
from assembler.figure.frames import plan_frame
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Base, Settings
from assembler.geometry.visibility import feet_in_plan, outer_skin_mm2, silhouettes


def final_exposure(parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings) -> tuple[ExposureRow, ...]:
    """What six winds and one person do to the finished figure; nothing where no part has a mass.

    Parameters
    ----------
    parts, meshes
        Of the whole figure, in mm and kg.
    settings
        Up axis and base.
    """
    bodies = [
        replace(part, mass_kg=part.mass_kg * settings.material_of(part.id).ballast_share)
        for part in parts
        if part.mass_kg > 0
    ]
    if not bodies:
        return ()
    solids = [meshes[part.id] for part in parts]
    frame = plan_frame(settings.up)
    mass_kg, centre_mm = parts_together(bodies)
    across_x, across_y, _ = (float(value) for value in frame @ np.asarray(centre_mm))
    heights = [mesh.vertices @ frame[2] for mesh in solids]
    figure = Standing(
        mass_kg=mass_kg,
        centre_mm=(across_x, across_y),
        feet_mm=feet_in_plan(solids, settings.up),
        height_mm=float(max(h.max() for h in heights) - min(h.min() for h in heights)),
        sides=silhouettes(solids, settings.up),
    )
    return exposure_rows(on_base(figure, settings.base), _anchors(settings.base, frame))


def printed_skin_mm2(parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings) -> float:
    """Outer skin of the printed parts, with all parts in their places, mm2.

    Parameters
    ----------
    parts, meshes, settings
        As for `final_exposure`.
    """
    areas = outer_skin_mm2([meshes[part.id] for part in parts], settings.up)
    return sum(area for area, part in zip(areas, parts, strict=True) if part.is_printed)


def _anchors(base: Base, frame: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Anchors in plan, (n, 2) mm; None where their places are not stated."""
    if not base.anchors_at_mm:
        return None
    return (np.asarray(base.anchors_at_mm, dtype=np.float64) @ frame.T)[:, :2]
