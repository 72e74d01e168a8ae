"""A joint's flange seen square on: where adhesive goes, and in which order the bolts are tightened.

In: a studio, a step, one of its joints, the order. Out: a `Picture`. The face that is already standing is shown, since
that is the one the worker has in front of him.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.camera import Camera, framed, unit
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.mating import MatingMap, marked
from assembler.drawing.scenes import Role
from assembler.drawing.spots import closed, faded
from assembler.drawing.studio import Studio
from assembler.drawing.style import BLACK, BOND_TINT, DETAIL_MM, DRY_TINT, look_of, pixels, px
from assembler.figure.ids import BoltId, PartId
from assembler.figure.joints import Joint
from assembler.figure.pictures import Picture
from assembler.figure.plan import Step, View

Floats = NDArray[np.float64]

IN_FRONT_MM = 3.0
"""What stands farther than this before the mean plane of the face is cut away."""
MARKER_MM = 2.5


def face_picture(studio: Studio, step: Step, joint: Joint, order: Sequence[BoltId] | None) -> Picture | None:
    """Flange of one joint, written to `step-<number>-face-<joint>.png`; None if the joint has no mating face.

    Parameters
    ----------
    studio, step, joint
        What to draw.
    order
        Bolts in the order of tightening; None: the bolts carry the last piece of their ids instead of an order.
    """
    found = studio.mating(joint.id)
    if found is None or not found.mask.any():
        return None
    part = _shown_part(step, joint)
    normal = unit(joint.normal) * (1.0 if part == joint.parts[0] else -1.0)
    width, height = pixels(DETAIL_MM)
    up = _picture_up(normal, step)
    camera = framed(found.points_mm, normal, up, width, height, margin=(0.11, 0.13))
    item = replace(studio.items([part], Role.NEIGHBOUR)[0], shape=studio.full(part))
    ahead = float((np.asarray(joint.centre_mm) - np.asarray(camera.centre_mm)) @ normal)
    buffers = studio.rasteriser.draw([item], camera, nearest_mm=ahead + _depth(found) + IN_FRONT_MM)
    mask = closed(marked(buffers, camera, [item], found, part))
    bonded = joint.method.is_bonded
    hatch = Hatch(mask=mask, tint=BOND_TINT if bonded else DRY_TINT, spacing_mm=1.5 if bonded else 2.6)
    raster = drawing(buffers, [look_of(item)], camera.mm_per_px, [hatch])
    file = f"step-{step.number}-face-{joint.id}.png"
    studio.save(faded(raster, px(4.0)), file)
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg=_markers(joint, camera, order)
        + _caption(joint, part, normal, step, bonded, order is not None, width, height),
        legend=(),
        alt=f"Joint {joint.id}: mating face of {part} seen square on, with {len(joint.bolts)} bolts.",
        view=View(eye=camera.eye, up=camera.up, mating_visible=1.0, new_visible=1.0),
    )


def _shown_part(step: Step, joint: Joint) -> PartId:
    standing = [part for part in joint.parts if part not in step.moves]
    return standing[0] if standing else joint.parts[0]


def _picture_up(normal: Floats, step: Step) -> Floats:
    """What is up on the bench; on a level face the figure's back, so that its front is at the bottom."""
    up = unit(step.up)
    if abs(float(normal @ up)) < 0.9:
        return up
    back = np.array([0.0, 1.0, 0.0])
    return back if abs(float(normal @ back)) < 0.9 else np.array([0.0, 0.0, 1.0])


def _depth(found: MatingMap) -> float:
    """How far the mating face reaches before its mean plane, mm."""
    return float(np.abs(found.height_mm[found.mask]).max())


def _markers(joint: Joint, camera: Camera, order: Sequence[BoltId] | None) -> str:
    """A hexagon with its number where each bolt goes."""
    number = {bolt: str(index) for index, bolt in enumerate(order or (), start=1)}
    pieces = []
    for bolt in joint.bolts:
        x, y, _ = camera.project(np.asarray([bolt.at_mm]))[0]
        text = number.get(bolt.id, bolt.id.rpartition(".")[2])
        centre = (float(x), float(y))
        pieces.append(overlay.polygon(overlay.hexagon(centre, px(MARKER_MM)), "#ffffff", BLACK, 0.35))
        size = 2.7 if len(text) < 3 else 2.0
        pieces.append(overlay.words((centre[0], centre[1] + px(size) * 0.36), text, size, "middle", bold=True))
    return "".join(pieces)


def _caption(
    joint: Joint, part: PartId, normal: Floats, step: Step, bonded: bool, is_ordered: bool, width: int, height: int
) -> str:
    head = f"{joint.id}, face of {part}, seen {_from_where(normal, step)}"
    tail = []
    if joint.bolts:
        tail.append("Hexagons: order of tightening." if is_ordered else "Hexagons: numbers of the bolts.")
    tail.append("Hatched: adhesive." if bonded else "Hatched wide: faces meet without adhesive.")
    foot = overlay.caption((px(1.5), height - px(1.6)), " ".join(tail), width, bold=False)
    return overlay.caption((px(1.5), px(3.6)), head, width) + foot


def _from_where(normal: Floats, step: Step) -> str:
    """Where the eye is, in words; the bench's up decides what above means."""
    height = float(normal @ unit(step.up))
    if height > 0.8:
        return "from above; front at the bottom"
    if height < -0.8:
        return "from below; front at the bottom"
    sides = {
        (0, 1): "from the figure's left",
        (0, -1): "from the figure's right",
        (1, 1): "from behind",
        (1, -1): "from the front",
    }
    axis = 0 if abs(normal[0]) >= abs(normal[1]) else 1
    if abs(normal[axis]) < 0.3:
        return "square on"
    return sides[(axis, 1 if normal[axis] > 0 else -1)]
