"""What the work stands on and has no mesh: a base of which only the size is stated, stands under what is lifted.

In: their values in the plan. Out: plain bodies, in the frame of an upright figure.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import unit
from assembler.drawing.drawnstep import UPRIGHT, DrawnStep
from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Mesh
from assembler.figure.plan import Stand, StatedBase

Floats = NDArray[np.float64]

STAND_MM, BEARING_MM = 100.0, 12.0
"""Side of the block drawn for a trestle, and how far it reaches in under the work (common practice, no source)."""


def carriers(step: DrawnStep) -> Iterator[tuple[str, str, Mesh]]:
    """The bodies under the work of a step: what they are called, and a key that tells each from all others."""
    yield from base_body(step.base)
    middle = np.mean([stand.at_mm for stand in step.stands], axis=0) if step.stands else np.zeros(3)
    for stand in step.stands:
        yield "stand", f"stand {stand} {step.up}", _block(stand, np.asarray(step.up), middle)


def base_body(base: StatedBase | None) -> Iterator[tuple[str, str, Mesh]]:
    """The base as a plain box of its stated size; nothing where that is not stated."""
    if base is not None and min(base.size_mm) > 0.0:
        length, width, rise = base.size_mm
        yield "base", f"base {base}", _box(np.asarray(base.top_mm), plan_frame(UPRIGHT), (length, width), rise)


def _block(stand: Stand, up: Floats, middle: Floats) -> Mesh:
    """A block from the ground to where it touches the work, most of it outside: there is room for what goes in."""
    at = np.asarray(stand.at_mm)
    out = at - middle
    out = unit(out - (out @ up) * up)
    aside = np.cross(up, out)
    # Square to the axes of the plan where it stands at a corner, so that all blocks look alike.
    frame = plan_frame((float(up[0]), float(up[1]), float(up[2])))
    signs = np.sign(np.round(frame[:2] @ out, 6))
    shift = (STAND_MM / 2.0 - BEARING_MM) * (signs @ frame[:2] if np.all(signs) else out)
    return _box(
        at + shift, frame if np.all(signs) else np.stack([out, aside, up]), (STAND_MM, STAND_MM), stand.height_mm
    )


def _box(top: Floats, frame: Floats, size: tuple[float, float], rise_mm: float) -> Mesh:
    """A box by the middle of its top, along the rows of a frame."""
    ends = [(a, b, c) for a in (-0.5, 0.5) for b in (-0.5, 0.5) for c in (-1.0, 0.0)]
    corners = np.array(
        [top + a * size[0] * frame[0] + b * size[1] * frame[1] + c * rise_mm * frame[2] for a, b, c in ends]
    )
    return Mesh(vertices=corners, faces=BOX_FACES)


BOX_FACES = np.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ],
    dtype=np.int64,
)  # fmt: skip
"""Of a box whose corners are counted with the third axis fastest."""
