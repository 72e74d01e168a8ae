"""The bodies of a figure as they are drawn: full meshes, and copies that are light enough, in one file for all workers.

In: full meshes and a cache. Out: `Figure`, fine copies for pictures and rough ones for the search of a view.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assembler.cache import Cache, code_mark, content_key
from assembler.drawing.scenes import light_mesh
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, mesh_digest

VIEW_PX = 1400.0
"""Pixels that the figure's longest edge spans where it is drawn whole."""
SIZE_STEPS = 4
"""Sizes of a figure between one and its double: a figure that grows less than such a step keeps its copies."""
ROUGH = 8.0
"""How much coarser the copies for camera search are."""
ROUGH_HASTE = 7.0
"""How soon the search for triangles to leave out accepts a larger error: as large as the rough copies may have."""

_LIBRARIES = ("numpy", "fast-simplification")
_KINDS = ("full", "fine", "rough")
_BOUGHT = "bought"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """Bodies to draw.

    Parameters
    ----------
    full
        By part: all its triangles.
    fine
        By part: fine enough for a picture of the whole figure at print resolution.
    rough
        By part: for small buffers on which views are measured.
    bought
        Parts that are carpentered or bought, not printed.
    """

    full: Mapping[PartId, Mesh]
    fine: Mapping[PartId, Mesh]
    rough: Mapping[PartId, Mesh]
    bought: frozenset[PartId]


def figure_of(
    meshes: Mapping[PartId, Mesh], bought: frozenset[PartId] = frozenset(), kept: Cache | None = None
) -> Figure:
    """A figure with copies of its parts; those that the cache has are not made again."""
    kept = kept or Cache()
    error_mm = half_pixel_mm(meshes)
    fine, rough = {}, {}
    for part in sorted(meshes):
        key = content_key("copies", code_mark(("drawing", "figure"), _LIBRARIES), error_mm, mesh_digest(meshes[part]))
        arrays = kept.arrays(key)
        if arrays is None:
            fine[part] = light_mesh(meshes[part], error_mm)
            rough[part] = light_mesh(fine[part], ROUGH * error_mm, ROUGH_HASTE)
            kept.keep_arrays(key, {**_arrays("fine", fine[part]), **_arrays("rough", rough[part])})
        else:
            fine[part], rough[part] = _mesh("fine", arrays), _mesh("rough", arrays)
    return Figure(full=meshes, fine=fine, rough=rough, bought=bought)


def write_figure(file: Path, figure: Figure) -> None:
    """Write a figure for the workers."""
    arrays: dict[str, NDArray[np.float64] | NDArray[np.int64] | NDArray[np.str_]] = {
        _BOUGHT: np.array(sorted(figure.bought), dtype=np.str_)
    }
    for kind, meshes in zip(_KINDS, (figure.full, figure.fine, figure.rough), strict=True):
        for part, mesh in meshes.items():
            arrays |= _arrays(f"{kind} {part}", mesh)
    with file.open("wb") as stream:
        np.savez(stream, **arrays)  # type: ignore[arg-type]


def read_figure(file: Path) -> Figure:
    """A figure that was written for the workers."""
    with np.load(file, allow_pickle=False) as archive:
        arrays = {name: archive[name] for name in archive.files}
    full, fine, rough = (
        {
            PartId(name.removeprefix(f"{kind} ").removesuffix(" faces")): _mesh(name.removesuffix(" faces"), arrays)
            for name in arrays
            if name.startswith(f"{kind} ") and name.endswith(" faces")
        }
        for kind in _KINDS
    )
    bought = frozenset(PartId(part) for part in arrays[_BOUGHT].tolist())
    return Figure(full=full, fine=fine, rough=rough, bought=bought)


def half_pixel_mm(meshes: Mapping[PartId, Mesh]) -> float:
    """Half a pixel of a picture that shows the whole figure, rounded down to one of `SIZE_STEPS` sizes an octave."""
    solid = [mesh.vertices for mesh in meshes.values() if len(mesh.vertices)]
    if not solid:
        return 1.0
    low = np.min([points.min(axis=0) for points in solid], axis=0)
    high = np.max([points.max(axis=0) for points in solid], axis=0)
    half_mm = max(float((high - low).max()) / VIEW_PX / 2.0, 1e-3)
    return float(2.0 ** (np.floor(np.log2(half_mm) * SIZE_STEPS) / SIZE_STEPS))


def _arrays(name: str, mesh: Mesh) -> dict[str, NDArray[np.float64] | NDArray[np.int64]]:
    return {f"{name} vertices": mesh.vertices, f"{name} faces": mesh.faces}


def _mesh(name: str, arrays: Mapping[str, NDArray[np.float64]]) -> Mesh:
    return Mesh(vertices=arrays[f"{name} vertices"], faces=arrays[f"{name} faces"].astype(np.int64))
