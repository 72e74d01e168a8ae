"""The small figure in a corner that shows where on the whole figure a picture is.

In: a studio, a step, a view, a finished raster and its references. Out: the raster with the key figure in the emptiest
corner, and the frame round it as SVG.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.callouts import Callout
from assembler.drawing.camera import as_vector, direction, framed
from assembler.drawing.linework import drawing
from assembler.drawing.scenes import Item, Role
from assembler.drawing.studio import Studio, coarse
from assembler.drawing.style import GREY, PX_PER_MM, Look, px
from assembler.figure.parts import Vector
from assembler.figure.plan import Step

SIZE_MM = (24.0, 32.0)
EDGE_MM = 2.0
LEVEL_DEG = 10.0

_LOOKS = {
    Role.NEW: Look(fill=(0.0, 0.40, 0.66), shade=0.0, outline_mm=0.2, edge_mm=0.13),
    Role.NEIGHBOUR: Look(fill=(0.80, 0.80, 0.79), shade=0.0, outline_mm=0.13, edge_mm=0.13, ink=(0.5, 0.5, 0.5)),
    Role.STANDING: Look(fill=(1.0, 1.0, 1.0), shade=0.0, outline_mm=0.13, edge_mm=0.13, ink=(0.68, 0.68, 0.68)),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Key:
    """A raster with its key figure.

    Parameters
    ----------
    raster : (h, w, 3) uint8
        The picture.
    svg
        Frame of the key figure.
    left_px
        Where words at the lower border begin, so that they stay clear of it.
    """

    raster: NDArray[np.uint8]
    svg: str
    left_px: float


def key_figure(studio: Studio, step: Step, eye: Vector, raster: NDArray[np.uint8], callouts: Sequence[Callout]) -> Key:
    """Raster with the key figure, and its frame.

    New parts are dark, what stands already is grey, what is still to come is outlined. It is seen from the same side
    as the picture, but upright and level, so that the figure can be recognised.
    """
    if not step.moves:
        return Key(raster=raster, svg="", left_px=px(2.0))
    small = _small(studio, step, eye)
    tall, wide = small.shape[:2]
    height, width = raster.shape[:2]
    top, left = _corner(raster, callouts, wide, tall)
    framed_raster = raster.copy()
    framed_raster[top : top + tall, left : left + wide] = small
    pieces = overlay.rectangle((left, top), wide, tall, "none", GREY, 0.13)
    is_lower_left = left < width / 2 and top > height / 2
    return Key(raster=framed_raster, svg=pieces, left_px=px(EDGE_MM) + (wide + px(2.0) if is_lower_left else 0.0))


def _small(studio: Studio, step: Step, eye: Vector) -> NDArray[np.uint8]:
    moves, onto = set(step.moves), set(step.onto)
    items = [
        Item(
            name=name,
            shape=coarse(name),
            role=Role.NEW if name in moves else Role.NEIGHBOUR if name in onto else Role.STANDING,
        )
        for name in studio.names
    ]
    width, height = round(SIZE_MM[0] * PX_PER_MM), round(SIZE_MM[1] * PX_PER_MM)
    points = np.vstack([studio.rasteriser.box(item) for item in items])
    camera = framed(points, _level(eye), (0.0, 0.0, 1.0), width, height, margin=0.06)
    ghost = [item for item in items if item.role is not Role.STANDING]
    hidden = [item for item in items if item.role is Role.STANDING]
    picture = drawing(studio.rasteriser.draw(hidden, camera), [_LOOKS[item.role] for item in hidden], camera.mm_per_px)
    if ghost:
        seen = studio.rasteriser.draw(ghost, camera)
        front = drawing(seen, [_LOOKS[item.role] for item in ghost], camera.mm_per_px)
        inked = (front < 250).any(axis=2) | (seen.ids > 0)
        picture[inked] = front[inked]
    return picture


def _level(eye: Vector) -> Vector:
    """The eye on the same side, hardly above the horizontal."""
    aside = float(np.hypot(eye[0], eye[1]))
    if aside < 1e-6:
        return as_vector(direction(0.0, LEVEL_DEG, (0.0, 0.0, 1.0)))
    flat = np.cos(np.radians(LEVEL_DEG)) / aside
    return (eye[0] * flat, eye[1] * flat, float(np.sin(np.radians(LEVEL_DEG))))


def _corner(raster: NDArray[np.uint8], callouts: Sequence[Callout], wide: int, tall: int) -> tuple[int, int]:
    """Upper left pixel of the emptiest corner."""
    height, width = raster.shape[:2]
    edge = int(px(EDGE_MM))
    options = []
    for order, (top, left) in enumerate(
        (
            (height - tall - edge, width - wide - edge),
            (height - tall - edge, edge),
            (edge, width - wide - edge),
            (edge, edge),
        )
    ):
        covered = float((raster[top : top + tall, left : left + wide] < 235).any(axis=2).mean())
        clash = sum(_meets(one, left, top, wide, tall) for one in callouts)
        options.append((clash * 10.0 + covered, order, top, left))
    _, _, top, left = min(options)
    return top, left


def _meets(one: Callout, left: int, top: int, wide: int, tall: int) -> bool:
    """Whether a reference or its leader comes into a box."""
    share = np.linspace(0.0, 1.0, 24)
    x = one.foot[0] + (one.label.anchor[0] - one.foot[0]) * share
    y = one.foot[1] + (one.label.anchor[1] - one.foot[1]) * share
    x = np.append(x, [one.centre[0] - one.half_width, one.centre[0] + one.half_width])
    y = np.append(y, [one.centre[1] - one.half_height, one.centre[1] + one.half_height])
    return bool(((x > left - 4) & (x < left + wide + 4) & (y > top - 4) & (y < top + tall + 4)).any())
