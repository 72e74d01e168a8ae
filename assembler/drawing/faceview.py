"""A joint's flange seen square on: where adhesive goes, and in which order the bolts are tightened.

In: a studio, a step, one of its joints, the order. Out: a `Picture`. The face that is already standing is shown, since
that is the one the worker has in front of him.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.beads import BeadPlan, bead_plan, press_points
from assembler.drawing.camera import Camera, framed, unit, view_axes
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.image import closed, faded
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.mating import MatingMap, marked
from assembler.drawing.raster import Buffers
from assembler.drawing.scenes import Role
from assembler.drawing.studio import Studio
from assembler.drawing.style import (
    BEAD_TINT,
    BLACK,
    BOND_TINT,
    DETAIL_MM,
    DRY_TINT,
    SMALL_MM,
    Look,
    look_of,
    pixels,
    px,
)
from assembler.figure.hardware import Bonding
from assembler.figure.ids import BoltId, PartId
from assembler.figure.joints import Joint
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import View
from assembler.words import say

Floats = NDArray[np.float64]

IN_FRONT_MM = 3.0
"""What stands farther than this before the mean plane of the face is cut away."""
MARKER_MM = 2.5
BEAD_MM = 0.9
"""Width of the sign for a bead, on paper."""
LINE_MM = 4.3
"""From one line of words to the next."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Face:
    """A face as the picture shows it, before words."""

    joint: Joint
    part: PartId
    camera: Camera
    buffers: Buffers
    mask: NDArray[np.bool_]
    look: Look
    bolts_px: Floats


def face_picture(
    studio: Studio, step: DrawnStep, joint: Joint, order: Sequence[BoltId] | None, eye: Vector | None = None
) -> Picture | None:
    """Flange of one joint, written to `step-<number>-face-<joint>.png`; None if the joint has no mating face.

    Parameters
    ----------
    studio, step, joint
        What to draw.
    order
        Bolts in the order of tightening; None: the bolts carry the last piece of their ids instead of an order.
    eye
        Of the step's main picture, which the words refer to; None: unknown.
    """
    found = studio.mating(joint)
    if found is None or not found.mask.any():
        return None
    part = _shown_part(step, joint)
    normal = unit(joint.normal) * (1.0 if part == joint.parts[0] else -1.0)
    width, height = pixels(DETAIL_MM)
    head = overlay.wrapped(
        step.said("face", joint=joint.id, part=part, seen=step.said(_from_where(normal, step, eye))),
        px(SMALL_MM),
        width - px(1.0),
    )
    bonding = next((one for one in step.adhesive if one.joint == joint.id), None)
    bonded = joint.method.is_bonded
    rows = len(_foot(step, joint, None, None, order))
    top, foot = round(px(LINE_MM) * len(head)), round(px(LINE_MM) * rows)
    face = _seen(studio, step, joint, part, normal, eye, (width, height - top - foot))
    beads = _beads(studio, face) if bonded else None
    raster = np.full((height, width, 3), 255, dtype=np.uint8)
    raster[top : height - foot] = faded(
        drawing(face.buffers, [face.look], face.camera.mm_per_px, _hatches(face, beads)), px(3.0)
    )
    file = f"step-{step.number}-face-{joint.id}.png"
    studio.save(raster, file)
    tail = _foot(step, joint, bonding, beads, order)
    words = [(line, True) for line in head], [(line, False) for line in tail]
    over = _presses(face) if bonded and not joint.bolts else _markers(face, order)
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg=overlay.shifted(over, (0.0, float(top))) + _lines(words[0], 0.0) + _lines(words[1], height - foot),
        legend=(),
        alt=say("alt.face", joint=joint.id, part=part, count=len(joint.bolts)),
        view=View(eye=face.camera.eye, up=face.camera.up, mating_visible=1.0, new_visible=1.0),
    )


def _seen(
    studio: Studio,
    step: DrawnStep,
    joint: Joint,
    part: PartId,
    normal: Floats,
    eye: Vector | None,
    size: tuple[int, int],
) -> _Face:
    """The face square on."""
    found = studio.mating(joint)
    assert found is not None
    camera = framed(found.points_mm, normal, _picture_up(normal, step, eye), *size, margin=0.05)
    item = replace(studio.items([part], Role.NEIGHBOUR)[0], shape=studio.full(part))
    ahead = float((np.asarray(joint.centre_mm) - np.asarray(camera.centre_mm)) @ normal)
    buffers = studio.rasteriser.draw([item], camera, nearest_mm=ahead + _depth(found) + IN_FRONT_MM)
    bolts = np.asarray([bolt.at_mm for bolt in joint.bolts]).reshape(-1, 3)
    return _Face(
        joint=joint,
        part=part,
        camera=camera,
        buffers=buffers,
        mask=closed(marked(buffers, camera, [item], found, part)),
        look=look_of(item),
        bolts_px=camera.project(bolts)[:, :2],
    )


def _beads(studio: Studio, face: _Face) -> BeadPlan:
    """Beads; the hollow lies in the middle of the boxes of both parts."""
    boxes = np.vstack([item_box for part in face.joint.parts if len(item_box := studio.box(part))])
    middle = (boxes.min(axis=0) + boxes.max(axis=0)) / 2.0
    x, y, _ = face.camera.project(middle[None])[0]
    holes = [bolt.hole_mm for bolt in face.joint.bolts]
    ring = px(MARKER_MM + BEAD_MM)
    return bead_plan(face.mask, face.camera.mm_per_px, face.bolts_px, holes, (float(x), float(y)), px(BEAD_MM), ring)


def _hatches(face: _Face, beads: BeadPlan | None) -> list[Hatch]:
    if beads is None:
        return [Hatch(mask=face.mask, tint=DRY_TINT, spacing_mm=2.6)]
    bead = Hatch(mask=beads.edge | beads.rings, tint=BEAD_TINT, width_mm=0.0, border_mm=0.18)
    return [Hatch(mask=face.mask, tint=BOND_TINT, spacing_mm=1.9, width_mm=0.15), bead]


def _shown_part(step: DrawnStep, joint: Joint) -> PartId:
    standing = [part for part in joint.parts if part in step.set_up]
    standing = standing or [part for part in joint.parts if part not in step.moves]
    return standing[0] if standing else joint.parts[0]


def _picture_up(normal: Floats, step: DrawnStep, eye: Vector | None) -> Floats:
    """What is up on the bench; on a level face what is farthest from the reader of the main picture."""
    up = unit(step.up)
    if abs(float(normal @ up)) < LEVEL:
        return up
    away = -np.asarray(eye if eye is not None else (0.0, -1.0, 0.0))
    flat = away - up * float(away @ up)
    return unit(flat) if float(np.linalg.norm(flat)) > 0.1 else view_axes(up, (0.0, 1.0, 0.0))[1]


def _depth(found: MatingMap) -> float:
    """How far the mating face reaches before its mean plane, mm."""
    return float(np.abs(found.height_mm[found.mask]).max())


def _markers(face: _Face, order: Sequence[BoltId] | None) -> str:
    """A hexagon with its number where each bolt goes."""
    number = {bolt: str(index) for index, bolt in enumerate(order or (), start=1)}
    pieces = []
    for bolt, (x, y) in zip(face.joint.bolts, face.bolts_px, strict=True):
        text = number.get(bolt.id, bolt.id.rpartition(".")[2])
        centre = (float(x), float(y))
        pieces.append(overlay.polygon(overlay.hexagon(centre, px(MARKER_MM)), "#ffffff", BLACK, 0.35))
        size = SMALL_MM if len(text) < 3 else 2.0
        pieces.append(overlay.words((centre[0], centre[1] + px(size) * 0.36), text, size, "middle", bold=True))
    return "".join(pieces)


def _presses(face: _Face) -> str:
    """Where a face without bolts is pressed: a circle with a cross, the mark of a force into the sheet."""
    radius = px(1.9)
    pieces = []
    for x, y in press_points(face.mask):
        reach = radius * 0.7071
        pieces.append(overlay.circle((x, y), radius, "#ffffff", BLACK, 0.35))
        pieces += [overlay.line((x - reach, y - reach * way), (x + reach, y + reach * way), 0.35) for way in (1, -1)]
    return "".join(pieces)


def _foot(
    step: DrawnStep, joint: Joint, bonding: Bonding | None, beads: BeadPlan | None, order: Sequence[BoltId] | None
) -> list[str]:
    """What the marks mean, and the hold; a line each."""
    lines = []
    if joint.bolts:
        lines.append(step.said("numbers_order" if order is not None else "numbers_bolts"))
    if not joint.method.is_bonded:
        return [*lines, step.said("dry")]
    if beads is not None and bonding is not None and bonding.volume_ml > 0.0:
        size = max(round(2.0 * beads.bead_mm(bonding.volume_ml)) / 2.0, 0.5)
        lines.append(step.said("bead", size_mm=size, long_m=beads.length_mm / 1000.0))
    else:
        lines.append(step.said("bead_drawn"))
    if not joint.bolts:
        lines.append(step.said("crosses"))
    if step.hold is not None and joint.id in step.hold.joints:
        lines.append(step.said("hold", time=_hours(step.hold.minutes)))
    return lines


def _hours(minutes: float) -> str:
    """A wait, rounded up: 'at least' must stay true."""
    if minutes < 120.0:
        return f"{int(np.ceil(minutes))} min"
    return f"{int(np.ceil(minutes / 60.0 - 1e-6))} h"


def _lines(lines: Sequence[tuple[str, bool]], top: float) -> str:
    """Lines of words from a height down."""
    return "".join(
        overlay.words((px(0.5), top + px(LINE_MM) * (row + 0.75)), text, SMALL_MM, bold=bold)
        for row, (text, bold) in enumerate(lines)
    )


LEVEL = 0.8
"""Cosine to the bench's up from which a face counts as level."""


def _from_where(normal: Floats, step: DrawnStep, eye: Vector | None) -> str:
    """Code of the words that say where this picture is seen from; they need no front of the figure."""
    up = unit(step.up)
    height = float(normal @ up)
    if abs(height) >= LEVEL:
        return "from_above" if height > 0.0 else "from_below"
    if eye is None:
        return "square_on"
    right, _, back = view_axes(eye, up)
    ahead, aside = float(normal @ back), float(normal @ right)
    if abs(ahead) >= abs(aside):
        return "from_ahead" if ahead > 0.0 else "from_behind"
    return "from_right" if aside > 0.0 else "from_left"
