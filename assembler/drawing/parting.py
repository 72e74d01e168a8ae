"""How far apart a picture has to show what is joined: measured in the view that was chosen.

In: a studio, a step, its view. Out: the view with the distance that makes new and standing parts part company on paper.
In a parallel projection a part that moves only slides across the picture, so one small buffer of each side is enough.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import Camera, framed
from assembler.drawing.explode import length_along, limited
from assembler.drawing.raster import Rasteriser
from assembler.drawing.scenes import Role
from assembler.drawing.stage import Stage, staged
from assembler.drawing.studio import Studio
from assembler.drawing.style import MAIN_MM
from assembler.drawing.viewpoints import LOW_PX, Choice, Subject, measured

Floats = NDArray[np.float64]

GAP_MM = 8.0
"""Free on paper between the new part and what it is joined to: two heads of the arrow and the hatched face."""
MOST_SHARE = 0.8
"""Farther than this share of the new part's own length nobody sees any more what belongs together."""
FORESHORTENED = 0.25
"""Share of its true length below which the movement is hardly seen; then the first guess stands."""


def parted(studio: Studio, guess: Stage, choice: Choice) -> Choice:
    """The view with the distance to show in it, and with what it shows then.

    Parameters
    ----------
    studio, guess
        What is drawn, with the first guess of the distance.
    choice
        View chosen with it.

    Returns
    -------
    Choice
        Unchanged where nothing moves.
    """
    if guess.explode_mm <= 0.0:
        return choice
    distance = parting_mm(guess, studio, choice)
    stage = staged(studio, guess.step, distance)
    return replace(choice, shown=measured(stage.subject(), studio.rasteriser, choice.eye), explode_mm=distance)


def parting_mm(guess: Stage, studio: Studio, choice: Choice) -> float:
    """Way along the path, mm, after which `GAP_MM` of paper lie between what is new and what it is joined to."""
    step = guess.step
    boxes = studio.boxes(step.parts)
    subject = guess.subject()
    camera = framed(subject.focus_mm, choice.eye, subject.up, *LOW_PX)
    shown = camera.project(np.array([(0.0, 0.0, 0.0), guess.shift_mm]))[:, :2]
    back = shown[1] - shown[0]
    length = float(np.hypot(*back))
    straight = float(np.linalg.norm(guess.shift_mm))
    if length * camera.mm_per_px < FORESHORTENED * straight:
        return guess.explode_mm
    overlap = overlap_px(subject, studio.rasteriser, camera, -back / length)
    if overlap is None:
        return guess.explode_mm
    paper_px = GAP_MM / MAIN_MM[0] * LOW_PX[0]
    wanted = (max(overlap, 0.0) + paper_px) * guess.explode_mm / length
    return round(limited(step, min(wanted, MOST_SHARE * length_along(step, boxes)), boxes), 1)


def overlap_px(subject: Subject, rasteriser: Rasteriser, camera: Camera, way: Floats) -> float | None:
    """How far the new parts in their place reach past the near edge of what they are joined to, px along `way`.

    Looked at line by line along the movement, so that a part that goes over the shoulder of another is judged by where
    the two meet; the third quartile of the lines, since a single spike need not come free. None where they never meet.
    """
    fronts = []
    for role, take in ((Role.NEW, np.maximum), (Role.NEIGHBOUR, np.minimum)):
        alike = [replace(item, shift_mm=(0.0, 0.0, 0.0)) for item in subject.items if item.role is role]
        if not alike:
            return None
        rows, columns = np.nonzero(rasteriser.draw(alike, camera).ids)
        along = columns * way[0] + rows * way[1]
        across = np.rint(rows * way[0] - columns * way[1]).astype(np.int64) + 4 * LOW_PX[0]
        edge = np.full(8 * LOW_PX[0], -np.inf if role is Role.NEW else np.inf)
        take.at(edge, across, along)
        fronts.append(edge)
    both = np.isfinite(fronts[0]) & np.isfinite(fronts[1])
    if int(both.sum()) < 3:
        return None
    return float(np.percentile((fronts[0] - fronts[1])[both], 75.0))
