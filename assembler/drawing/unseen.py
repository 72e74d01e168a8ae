"""What stands in the background of a step, and whether a picture can tell one background from another.

In: the stages of a step before and now, as plain values. Out: whether nothing that differs reaches into the pictures.
A figure of sixty parts is drawn with its neighbourhood only, so a part that was cut again is out of most of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from assembler.drawing.camera import Camera
from assembler.drawing.raster import in_frame
from assembler.drawing.scenes import Role
from assembler.drawing.stage import Stage
from assembler.drawing.studio import Studio
from assembler.drawing.turning import turn_of
from assembler.figure.ids import PartId

Standing = Mapping[str, Any]
"""Values of JSON: `is_whole`, `ground` (corners of the bench top), `extent` (low and high of the background), `turn`
(words about how the work lies), `parts` (by name: solid, whether printed, low and high)."""


def standing(studio: Studio, stage: Stage, solids: Mapping[PartId, str]) -> Standing:
    """The background of a step.

    Parameters
    ----------
    studio, stage
        The scene.
    solids
        Digest of each part's mesh.
    """
    rest = [item for item in stage.items if item.role is Role.STANDING]
    boxes = {item.name: studio.rasteriser.box(item) for item in rest}
    ground = [studio.rasteriser.box(item).tolist() for item in stage.items if item.role is Role.GROUND]
    turn = turn_of(studio.plan, stage.step, {part: studio.box(part) for part in studio.names})
    return {
        "is_whole": stage.is_whole,
        "ground": ground,
        "extent": _extent(np.vstack(list(boxes.values()))) if boxes else [],
        "turn": turn.words if turn else "",
        "parts": {item.name: [solids[PartId(item.name)], item.is_printed, _extent(boxes[item.name])] for item in rest},
    }


def is_unseen(before: Standing, now: Standing, cameras: Sequence[Camera]) -> bool:
    """Whether pictures by these cameras are the same for both backgrounds, as far as boxes can tell.

    Where all that stands is shown, or the extent differs and with it the frame or the range of depths, the answer is
    no.
    """
    if before["is_whole"] or now["is_whole"]:
        return False
    if any(before[name] != now[name] for name in ("ground", "extent", "turn")):
        return False
    old, new = before["parts"], now["parts"]
    differing = [
        parts[name][2]
        for parts, others in ((old, new), (new, old))
        for name in parts
        if parts[name] != others.get(name)
    ]
    if not differing:
        return True
    corners = np.vstack([_corners(extent) for extent in differing])
    return not any(in_frame(corners, camera).any() for camera in cameras)


def _extent(points_mm: np.ndarray[Any, np.dtype[np.float64]]) -> list[float]:
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    return [float(value) for value in (*low, *high)]


def _corners(extent: Sequence[float]) -> np.ndarray[Any, np.dtype[np.float64]]:
    low, high = extent[:3], extent[3:]
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
