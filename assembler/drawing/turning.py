"""Work that does not stand as the figure will: which way is up now, in words and as a mark.

In: a step. Out: words, and SVG of the mark. Words name parts, not front or left, since nothing in the
files of a figure says where its front is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.camera import Camera, Point, unit
from assembler.drawing.drawnstep import UPRIGHT, DrawnStep
from assembler.drawing.style import BLACK, GREY, px
from assembler.figure.ids import PartId, natural_key
from assembler.figure.parts import Vector
from assembler.figure.plan import StepKind

Floats = NDArray[np.float64]

SAME_DEG = 5.0
MARK_MM = (50.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """How the work of a step lies.

    Parameters
    ----------
    words
        For the picture.
    up, was_up
        What is up on the bench in this step, and what was before it.
    turned_deg
        Angle between the two.
    """

    words: str
    up: Vector
    was_up: Vector
    turned_deg: float


def turn_of(step: DrawnStep, boxes: Mapping[PartId, Floats]) -> Turn | None:
    """How the work lies, or None where it stands upright and has not been turned.

    Parameters
    ----------
    step
        What is done.
    boxes
        Corners of each part's box, (8, 3), mm.
    """
    was_up = step.was_up
    turned = angle_deg(step.up, was_up)
    lies = angle_deg(step.up, UPRIGHT)
    if lies < SAME_DEG and turned < SAME_DEG and step.kind is not StepKind.TURN:
        return None
    lying = _lying(lies, step, boxes)
    if turned >= SAME_DEG:
        return Turn(
            words=step.said("turned", turned_deg=turned, lying=lying), up=step.up, was_up=was_up, turned_deg=turned
        )
    return Turn(words=step.said("stays_turned", lying=lying), up=step.up, was_up=was_up, turned_deg=turned)


def _lying(lies_deg: float, step: DrawnStep, boxes: Mapping[PartId, Floats]) -> str:
    if lies_deg < SAME_DEG:
        return step.said("upright")
    if lies_deg > 180.0 - SAME_DEG:
        return step.said("upside_down")
    top = _topmost(step, boxes)
    return step.said("lies_top", part=top) if top else step.said("lies")


def _topmost(step: DrawnStep, boxes: Mapping[PartId, Floats]) -> PartId | None:
    """The part whose middle is highest on the bench."""
    up = unit(step.up)
    parts = sorted((part for part in {*step.moves, *step.onto} if part in boxes), key=natural_key)
    return max(parts, key=lambda part: round(float(boxes[part].mean(axis=0) @ up), 3), default=None)


def angle_deg(first: Vector, second: Vector) -> float:
    """Angle between two directions."""
    return float(np.degrees(np.arccos(np.clip(unit(first) @ unit(second), -1.0, 1.0))))


def up_mark(step: DrawnStep, turn: Turn, camera: Camera, corner: Point) -> str:
    """Arrow that points up from a ground line, in a box of `MARK_MM`; where the work was just turned, also from where.

    Parameters
    ----------
    step
        What is done.
    turn
        How the work lies.
    camera
        Of the picture.
    corner
        Upper left corner of the box, px.
    """
    foot = (corner[0] + px(MARK_MM[0] / 2.0), corner[1] + px(MARK_MM[1] - 2.0))
    tip = (foot[0], corner[1] + px(4.6))
    pieces = [overlay.line((foot[0] - px(7.0), foot[1]), (foot[0] + px(7.0), foot[1]), 0.35)]
    pieces += [
        overlay.line((foot[0] + px(x), foot[1]), (foot[0] + px(x - 1.2), foot[1] + px(1.2)), 0.18)
        for x in (-5.0, -2.5, 0.0, 2.5, 5.0)
    ]
    old = camera.axes @ unit(turn.was_up)
    flat = float(np.hypot(old[0], old[1]))
    if turn.turned_deg >= SAME_DEG and flat > 0.3:
        start = (foot[0], foot[1] - px(3.5))
        end = (start[0] + float(old[0]) * px(9.0), start[1] - float(old[1]) * px(7.0))
        pieces.append(overlay.line(start, end, 0.35, GREY, overlay.HIDDEN_DASHES_MM))
        pieces.append(overlay.arrow_head(end, (float(old[0]) / flat, -float(old[1]) / flat), 2.4, GREY))
        is_right = old[0] >= 0.0
        beside = end[0] + px(0.8 if is_right else -0.8)
        pieces.append(
            overlay.words((beside, end[1] + px(1.2)), step.said("was_up"), 3.6, "start" if is_right else "end", GREY)
        )
    pieces.append(overlay.arrow(foot, tip, 0.7, 4.2))
    pieces.append(overlay.words((tip[0], tip[1] - px(0.8)), step.said("up"), 4.2, "middle", BLACK, bold=True))
    return "".join(pieces)
