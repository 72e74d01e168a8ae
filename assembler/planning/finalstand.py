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
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Part
from assembler.figure.settings import Base, Settings
from assembler.geometry.outerskin import fields, outer_skin_mm2
from assembler.geometry.silhouettes import Frames, Shadow, feet_in_plan, shadows, silhouettes
from assembler.geometry.sweeps import Heights
from assembler.projectfiles.keptarrays import KeptArrays


def final_exposure(
    parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings, kept: KeptArrays | None = None
) -> tuple[ExposureRow, ...]:
    """What six winds and one person do to the finished figure; nothing where no part has a mass.

    Parameters
    ----------
    parts, meshes
        Of the whole figure, in mm and kg.
    settings
        Up axis and base.
    kept
        What single parts of the same size of figure cover, from earlier runs.
    """
    memory = kept or KeptArrays()
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
        sides=silhouettes(
            solids, settings.up, shadows_of=lambda mesh, frames, cell_mm: _shadows(mesh, frames, cell_mm, memory)
        ),
    )
    return exposure_rows(on_base(figure, settings.base), _anchors(settings.base, frame))


def printed_skin_mm2(
    parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings, kept: KeptArrays | None = None
) -> float:
    """Outer skin of the printed parts, with all parts in their places, mm2.

    Parameters
    ----------
    parts, meshes, settings, kept
        As for `final_exposure`.
    """
    memory = kept or KeptArrays()
    solids = [(mesh_digest(meshes[part.id]), part.is_printed) for part in parts]
    key = memory.key("skin", solids, settings.up)
    known = memory.get(key)
    if known is not None:
        return float(known.value)
    areas = outer_skin_mm2(
        [meshes[part.id] for part in parts],
        settings.up,
        fields_of=lambda mesh, frames, cell_mm: _fields(mesh, frames, cell_mm, memory),
    )
    skin_mm2 = sum(area for area, part in zip(areas, parts, strict=True) if part.is_printed)
    memory.put(key, {}, skin_mm2)
    return skin_mm2


def _fields(mesh: Mesh, frames: Frames, cell_mm: float, kept: KeptArrays) -> tuple[Heights, ...]:
    """Foremost points of a mesh from each side; looked at only where no earlier run did."""
    key = kept.key("fields", mesh_digest(mesh), [frame.tolist() for frame in frames], cell_mm)
    known = kept.get(key)
    if known is not None:
        return tuple(
            Heights(
                row=row,
                column=column,
                **{name: known.arrays[f"{name} {side}"] for name in ("low", "high", "box_low", "box_high")},
            )
            for side, (row, column) in enumerate(known.value)
        )
    found = fields(mesh, frames, cell_mm)
    arrays = {
        f"{name} {side}": array
        for side, one in enumerate(found)
        for name, array in (("low", one.low), ("high", one.high), ("box_low", one.box_low), ("box_high", one.box_high))
    }
    kept.put(key, arrays, [[one.row, one.column] for one in found])
    return found


def _shadows(mesh: Mesh, frames: Frames, cell_mm: float, kept: KeptArrays) -> tuple[Shadow, ...]:
    """What a mesh covers from each side; looked at only where no earlier run did."""
    key = kept.key("shadows", mesh_digest(mesh), [frame.tolist() for frame in frames], cell_mm)
    known = kept.get(key)
    if known is not None:
        return tuple(_shadow(known.arrays[str(side)], *place) for side, place in enumerate(known.value))
    found = shadows(mesh, frames, cell_mm)
    places = [[one.row, one.column, *one.covered.shape] for one in found]
    kept.put(key, {str(side): np.packbits(one.covered) for side, one in enumerate(found)}, places)
    return found


def _shadow(bits: NDArray[np.uint8], row: int, column: int, height: int, width: int) -> Shadow:
    covered = np.unpackbits(bits, count=height * width).view(bool).reshape(height, width)
    return Shadow(row=row, column=column, covered=covered)


def _anchors(base: Base, frame: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Anchors in plan, (n, 2) mm; None where their places are not stated."""
    if not base.anchors_at_mm:
        return None
    return (np.asarray(base.anchors_at_mm, dtype=np.float64) @ frame.T)[:, :2]
