"""What stands in the background of a step, and whether a picture can tell one background from another.

In: the stages of a step before and now, as plain values. Out: whether nothing that differs reaches into the pictures.
A figure of sixty parts is drawn with its neighbourhood only, so a part that was cut again is out of most of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera
from assembler.drawing.raster import in_frame
from assembler.drawing.scenes import Role
from assembler.drawing.stage import Stage
from assembler.drawing.studio import Studio
from assembler.drawing.turning import turn_of
from assembler.drawing.viewpoints import Subject
from assembler.figure.ids import PartId

Floats = NDArray[np.float64]
Standing = Mapping[str, Any]
"""Values of JSON: `is_whole`, `ground` (corners of the bench top), `extent` (low and high of the background), `turn`
(words about how the work lies), `parts` (by name: solid, whether printed, low and high)."""


def standing(studio: Studio, stage: Stage, solids: Mapping[PartId, str], *, is_rough: bool = False) -> Standing:
    """The background of a step.

    Parameters
    ----------
    studio, stage
        The scene.
    solids
        Digest of each part's mesh.
    is_rough
        Whether it is drawn with the coarse copies, as in the search of a view.
    """
    items = stage.subject().items if is_rough else stage.items
    rest = [item for item in items if item.role is Role.STANDING]
    boxes = {item.name: studio.rasteriser.box(item) for item in rest}
    ground = [studio.rasteriser.box(item).tolist() for item in items if item.role is Role.GROUND]
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
    if before["is_whole"] or now["is_whole"] or before["turn"] != now["turn"] or not _reaches_alike(before, now):
        return False
    differing = _differing(before, now)
    return not any(in_frame(differing, camera).any() for camera in cameras)


def clear_views(
    studio: Studio, subject: Subject, before: Standing, now: Standing, cameras: Sequence[Camera]
) -> list[bool]:
    """For each camera whether nothing that differs between two backgrounds stands before a subject, told by boxes.

    Parameters
    ----------
    studio, subject
        What the pictures are measured for; the same with both backgrounds.
    before, now
        The backgrounds, rough.
    cameras
        Those of the pictures; the same with both backgrounds.
    """
    if not _reaches_alike(before, now):
        return [False] * len(cameras)
    meant = [studio.rasteriser.box(item) for item in subject.items if item.role in (Role.NEW, Role.NEIGHBOUR)]
    if not meant and not len(subject.axes_mm):
        return [True] * len(cameras)
    points = np.vstack([*meant, *(np.repeat(point[None], 8, axis=0) for point in subject.axes_mm)])
    differing = _differing(before, now)
    return [not _stands_before(differing, points, camera) for camera in cameras]


def _reaches_alike(before: Standing, now: Standing) -> bool:
    """Whether bench top and extent are the same: the range of depths follows from them."""
    return bool(before["ground"] == now["ground"] and before["extent"] == now["extent"])


def _differing(before: Standing, now: Standing) -> Floats:
    """Corners of the boxes of all parts that stand in one background only, (8 n, 3)."""
    old, new = before["parts"], now["parts"]
    boxes = [
        _corners(parts[name][2])
        for parts, others in ((old, new), (new, old))
        for name in parts
        if parts[name] != others.get(name)
    ]
    return np.vstack(boxes) if boxes else np.zeros((0, 3))


def _stands_before(boxes: Floats, subject: Floats, camera: Camera) -> bool:
    """Whether one of the boxes may hide something of one of the subject's, or cannot be told from it in depth."""
    low, high = _bounds(boxes, camera)
    subject_low, subject_high = _bounds(subject, camera)
    # A pixel, and what is called visible at a depth that is off by a few.
    slack = np.array([1.0, 1.0, 4.0 * camera.mm_per_px])
    over = (low[:, None, :2] <= subject_high[None, :, :2] + slack[:2]) & (
        high[:, None, :2] >= subject_low[None, :, :2] - slack[:2]
    )
    nearer = high[:, None, 2] >= subject_low[None, :, 2] - slack[2]
    return bool((over.all(axis=2) & nearer).any())


def _bounds(corners: Floats, camera: Camera) -> tuple[Floats, Floats]:
    """Least and greatest pixel and nearness of each box, (n, 3) each."""
    where = camera.project(corners).reshape(-1, 8, 3)
    return where.min(axis=1), where.max(axis=1)


def _extent(points_mm: Floats) -> list[float]:
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    return [float(value) for value in (*low, *high)]


def _corners(extent: Sequence[float]) -> Floats:
    low, high = extent[:3], extent[3:]
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
