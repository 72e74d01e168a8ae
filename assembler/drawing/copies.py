"""Copies of the parts that are light enough to draw, made once for each solid and kept from run to run.

In: full meshes and a shelf. Out: `Copies`, fine ones for pictures and rough ones for the search of a view.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from assembler.codemark import code_mark
from assembler.drawing.scenes import light_mesh
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.shelf import Shelf

VIEW_PX = 1400.0
"""Pixels that the figure's longest edge spans where it is drawn whole."""
SIZE_STEPS = 4
"""Sizes of a figure between one and its double: a figure that grows less than such a step keeps its copies."""
ROUGH = 8.0
"""How much coarser the copies for camera search are."""
ROUGH_HASTE = 7.0
"""How soon the search for triangles to leave out accepts a larger error: as large as the rough copies may have."""

_LIBRARIES = ("numpy", "fast-simplification")


@dataclass(frozen=True, slots=True, kw_only=True)
class Copies:
    """Parts to draw.

    Parameters
    ----------
    fine
        By part: fine enough for a picture of the whole figure at print resolution.
    rough
        By part: for small buffers on which views are measured.
    """

    fine: Mapping[PartId, Mesh]
    rough: Mapping[PartId, Mesh]


def light_copies(meshes: Mapping[PartId, Mesh], shelf: Shelf) -> Copies:
    """Copies of all parts; those that the shelf has are not made again."""
    error_mm = half_pixel_mm(meshes)
    fine, rough = {}, {}
    for part in sorted(meshes):
        key = _key(mesh_digest(meshes[part]), error_mm)
        known = shelf.value(key)
        if known is None:
            fine[part] = light_mesh(meshes[part], error_mm)
            rough[part] = light_mesh(fine[part], ROUGH * error_mm, ROUGH_HASTE)
            shelf.keep_value(key, [_record(fine[part]), _record(rough[part])])
        else:
            fine[part], rough[part] = map(_mesh, known)
    return Copies(fine=fine, rough=rough)


def kept_copy(solid: str, meshes: Mapping[PartId, Mesh], shelf: Shelf, *, is_rough: bool = False) -> Mesh | None:
    """The fine copy of a solid that was drawn earlier, or the rough one; None if the shelf has it no more.

    Parameters
    ----------
    solid
        Digest of its mesh.
    meshes
        Those of now: they say how fine.
    shelf
        Where copies are kept.
    """
    known = shelf.value(_key(solid, half_pixel_mm(meshes)))
    return None if known is None else _mesh(known[int(is_rough)])


def _key(solid: str, error_mm: float) -> str:
    mark = code_mark(("drawing", "figure"), _LIBRARIES)
    return hashlib.sha256(f"copies {mark} {error_mm!r} {solid}".encode()).hexdigest()


def half_pixel_mm(meshes: Mapping[PartId, Mesh]) -> float:
    """Half a pixel of a picture that shows the whole figure, rounded down to one of `SIZE_STEPS` sizes an octave."""
    solid = [mesh.vertices for mesh in meshes.values() if len(mesh.vertices)]
    if not solid:
        return 1.0
    low = np.min([points.min(axis=0) for points in solid], axis=0)
    high = np.max([points.max(axis=0) for points in solid], axis=0)
    half_mm = max(float((high - low).max()) / VIEW_PX / 2.0, 1e-3)
    return float(2.0 ** (np.floor(np.log2(half_mm) * SIZE_STEPS) / SIZE_STEPS))


def _record(copy: Mesh) -> dict[str, str]:
    """A copy as text."""
    return {
        "vertices": base64.b64encode(copy.vertices.astype("<f8").tobytes()).decode(),
        "faces": base64.b64encode(copy.faces.astype("<i4").tobytes()).decode(),
    }


def _mesh(record: Mapping[str, Any]) -> Mesh:
    """The copy that such text stands for."""
    return Mesh(
        vertices=np.frombuffer(base64.b64decode(record["vertices"]), dtype="<f8").reshape(-1, 3).astype(np.float64),
        faces=np.frombuffer(base64.b64decode(record["faces"]), dtype="<i4").reshape(-1, 3).astype(np.int64),
    )
