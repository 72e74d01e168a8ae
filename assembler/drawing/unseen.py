"""What stands in the background of a step, and whether a picture can tell one background from another.

In: the stages of a step before and now, as plain values. Out: whether nothing that differs reaches into the pictures.
A figure of sixty parts is drawn with its neighbourhood only, so a part that was cut again is out of most of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera
from assembler.drawing.raster import in_frame, reach_mm
from assembler.drawing.scenes import Item, Role
from assembler.drawing.stage import Stage
from assembler.drawing.studio import Studio
from assembler.drawing.turning import turn_of
from assembler.drawing.viewpoints import Subject
from assembler.figure.ids import PartId

SLACK_PX = 4.0

Floats = NDArray[np.float64]
Standing = Mapping[str, Any]
"""Values of JSON: `is_whole`, `turn` (words about how the work lies), `parts` (those in the background by name: solid,
whether printed, low and high), `ground` (low and high of bench tops), `others` (low and high of all the rest)."""


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
    others = [item for item in items if item.role not in (Role.STANDING, Role.GROUND)]
    box = studio.rasteriser.box
    turn = turn_of(studio.plan, stage.step, {part: studio.box(part) for part in studio.names})
    return {
        "is_whole": stage.is_whole,
        "turn": turn.words if turn else "",
        "parts": {item.name: [solids[PartId(item.name)], item.is_printed, _extent(box(item))] for item in rest},
        "ground": [_extent(box(item)) for item in items if item.role is Role.GROUND],
        "others": _extent(np.vstack([box(item) for item in others])) if others else [],
    }


def is_unseen(before: Standing, now: Standing, cameras: Sequence[Camera]) -> bool:
    """Whether pictures by these cameras are the same for both backgrounds, as far as boxes can tell.

    Where all that stands is shown, the frame follows from it, and the answer is no.
    """
    if before["is_whole"] or now["is_whole"] or before["turn"] != now["turn"]:
        return False
    differing = _differing(before, now)
    return all(_reach_alike(before, now, cameras)) and not any(in_frame(differing, camera).any() for camera in cameras)


def is_framed_alike(before: Standing, now: Standing, slack_mm: float) -> bool:
    """Whether the main picture is taken by the same camera, of the same bench, with the same words below it.

    Parameters
    ----------
    before, now
        Two backgrounds.
    slack_mm
        So much may boxes differ.
    """
    if before["is_whole"] != now["is_whole"] or before["turn"] != now["turn"]:
        return False
    if now["is_whole"] and before["parts"].keys() != now["parts"].keys():
        return False
    pairs = [(before["others"], now["others"])]
    if len(before["ground"]) != len(now["ground"]):
        return False
    pairs += zip(before["ground"], now["ground"], strict=True)
    if now["is_whole"]:
        pairs += [(part[2], now["parts"][name][2]) for name, part in before["parts"].items()]
    return all(len(one) == len(other) and np.allclose(one, other, rtol=0.0, atol=slack_mm) for one, other in pairs)


def stood_before(
    stage: Stage, before: Standing, now: Standing, shape_of: Callable[[PartId, str], str | None]
) -> tuple[Item, ...] | None:
    """Items of a stage with the background that stood there before; None if a shape is not known any more.

    Parameters
    ----------
    stage
        The scene of now.
    before, now
        Its backgrounds.
    shape_of
        Key of the shape of a part that was another solid, by its name and digest.
    """
    items = []
    for item in stage.items:
        was = before["parts"].get(item.name)
        if item.role is not Role.STANDING or was == now["parts"][item.name]:
            items.append(item)
    gone = []
    for name, was in before["parts"].items():
        if was != now["parts"].get(name):
            shape = shape_of(PartId(name), was[0])
            if shape is None:
                return None
            gone.append(Item(name=name, shape=shape, role=Role.STANDING, is_printed=was[1]))
    return (*gone, *items)


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
    meant = [studio.rasteriser.box(item) for item in subject.items if item.role in (Role.NEW, Role.NEIGHBOUR)]
    if not meant and not len(subject.axes_mm):
        return [True] * len(cameras)
    points = np.vstack([*meant, *(np.repeat(point[None], 8, axis=0) for point in subject.axes_mm)])
    differing = _differing(before, now)
    alike = _reach_alike(before, now, cameras)
    return [
        is_alike and not _stands_before(differing, points, camera)
        for is_alike, camera in zip(alike, cameras, strict=True)
    ]


def _reach_alike(before: Standing, now: Standing, cameras: Sequence[Camera]) -> list[bool]:
    """For each camera whether depths reach equally far with both backgrounds; their last bits follow from that."""
    rooms = [_room(stands) for stands in (before, now)]
    return [len({reach_mm(room, camera) for room in rooms}) == 1 for camera in cameras]


def _room(stands: Standing) -> Floats:
    """Corners of the box round everything, (8, 3); none for an empty scene."""
    extents = [*(part[2] for part in stands["parts"].values()), *stands["ground"], stands["others"]]
    known = np.array([extent for extent in extents if extent]).reshape(-1, 6)
    return _corners([*known[:, :3].min(axis=0), *known[:, 3:].max(axis=0)]) if len(known) else np.zeros((0, 3))


def _differing(before: Standing, now: Standing) -> Floats:
    """Corners of the boxes of all that stands in one background only, (8 n, 3)."""
    extents = []
    for here, there in ((before, now), (now, before)):
        extents += [part[2] for name, part in here["parts"].items() if part != there["parts"].get(name)]
        extents += [extent for extent in here["ground"] if extent not in there["ground"]]
    return np.vstack([_corners(extent) for extent in extents]) if extents else np.zeros((0, 3))


def _stands_before(boxes: Floats, subject: Floats, camera: Camera) -> bool:
    """Whether one of the boxes may hide something of one of the subject's.

    It does if a ray from some point of the one to the eye meets the other: if the ray from the origin meets the box of
    all differences of their points.
    """
    low, high = _bounds(boxes)
    subject_low, subject_high = _bounds(subject)
    # Where two touch, the pixels along the edge are the one's or the other's by the last bits of a depth.
    slack = SLACK_PX * camera.mm_per_px
    least = low[:, None] - subject_high[None] - slack
    most = high[:, None] - subject_low[None] + slack
    eye = camera.axes[2]
    level = np.abs(eye) < 1e-9
    way = np.where(level, 1.0, eye)
    enter, leave = np.minimum(least / way, most / way), np.maximum(least / way, most / way)
    is_beside = (level & ((least > 0.0) | (most < 0.0))).any(axis=2)
    enter, leave = np.where(level, 0.0, enter).max(axis=2), np.where(level, np.inf, leave).min(axis=2)
    return bool((~is_beside & (np.maximum(enter, 0.0) <= leave)).any())


def _bounds(corners: Floats) -> tuple[Floats, Floats]:
    """Low and high of each box, (n, 3) each."""
    boxes = corners.reshape(-1, 8, 3)
    return boxes.min(axis=1), boxes.max(axis=1)


def _extent(points_mm: Floats) -> list[float]:
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    return [float(value) for value in (*low, *high)]


def _corners(extent: Sequence[float]) -> Floats:
    low, high = extent[:3], extent[3:]
    return np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
