"""The small figure in a corner that shows where on the whole figure a picture is.

In: a studio, a step, the eye of its picture. Out: a `Key`, to be set where the picture has room, and a file of its own
that it lies in: all parts are in it, so a part that was cut again changes the key figure of every step, and must not
change the picture beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.camera import Camera, Point, as_vector, direction, framed
from assembler.drawing.drawnstep import UPRIGHT, DrawnStep, Solid
from assembler.drawing.image import darker
from assembler.drawing.linework import drawing
from assembler.drawing.scenes import Item, Role
from assembler.drawing.studio import Studio
from assembler.drawing.style import GREY, Look, pixels, px
from assembler.drawing.turning import SAME_DEG, angle_deg
from assembler.figure.ids import PartId, StepNumber
from assembler.figure.parts import Vector

SIZE_MM = (26.0, 34.0)
LEVEL_DEG = 10.0
HIDDEN_SHARE = 0.35
"""Less than this of what is new in sight: the key figure is turned round."""
WORDS_MM = 3.6
BAND_MM = 4.6
"""Below the figure, for words."""
ARROW_MM = 9.0

_LOOKS = {
    Role.NEW: Look(fill=(0.0, 0.40, 0.66), shade=0.0, outline_mm=0.2, edge_mm=0.13),
    Role.NEIGHBOUR: Look(fill=(0.80, 0.80, 0.79), shade=0.0, outline_mm=0.13, edge_mm=0.13, ink=(0.5, 0.5, 0.5)),
    Role.STANDING: Look(fill=(1.0, 1.0, 1.0), shade=0.0, outline_mm=0.13, edge_mm=0.13, ink=(0.68, 0.68, 0.68)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """The key figure of a step.

    Parameters
    ----------
    file
        Name of its file.
    width_px, height_px
        Its size.
    is_behind
        Whether it is seen from the other side, since the picture's own side hides what is new.
    up
        What is up on the bench as an arrow from the middle of the key figure, px; None where the work stands upright
        or up points at the reader.
    """

    file: str
    width_px: int
    height_px: int
    is_behind: bool
    up: tuple[float, float] | None

    @property
    def room(self) -> NDArray[np.uint8]:
        """White paper of its size, to be set into the picture, (h, w, 3)."""
        return np.full((self.height_px, self.width_px, 3), 255, dtype=np.uint8)

    def marks(self, corner: Point, behind: str) -> str:
        """The key figure with frame, its upper left corner at `corner`; `behind` says that it shows the other side."""
        tall, wide = self.height_px, self.width_px
        pieces = [overlay.image(self.file, corner, wide, tall)]
        pieces.append(overlay.rectangle(corner, wide, tall, "none", GREY, 0.13))
        if self.is_behind:
            at = (corner[0] + wide / 2.0, corner[1] + tall - px(1.4))
            pieces.append(overlay.words(at, behind, WORDS_MM, "middle"))
        if self.up is not None:
            middle = (corner[0] + wide / 2.0, corner[1] + px(SIZE_MM[1]) / 2.0)
            tip = (middle[0] + self.up[0], middle[1] + self.up[1])
            pieces.append(overlay.arrow(middle, tip, 1.0, 3.4, "#ffffff"))
            pieces.append(overlay.arrow(middle, tip, 0.5, 3.0))
        return "".join(pieces)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyView:
    """All that a key figure is drawn from.

    Parameters
    ----------
    number
        Of the step.
    new
        Parts that the step is about.
    onto
        Parts that stand already.
    up
        What is up on the bench.
    eye
        Of the picture beside it.
    solids
        All parts of the figure.
    """

    number: StepNumber
    new: tuple[PartId, ...]
    onto: tuple[PartId, ...]
    up: Vector
    eye: Vector
    solids: tuple[Solid, ...]


def key_view(step: DrawnStep, eye: Vector, solids: tuple[Solid, ...]) -> KeyView | None:
    """What the key figure of a step shows; None where the step has no part of the figure."""
    new = step.moves or step.onto
    return KeyView(number=step.number, new=new, onto=step.onto, up=step.up, eye=eye, solids=solids) if new else None


def key_figure(studio: Studio, view: KeyView) -> Key:
    """The whole figure, small, written to `step-<number>-key.png`.

    New parts are dark, what stands already is grey, what is still to come is outlined. It is seen from the same side
    as the picture, but upright and level, so that the figure can be recognised; from the other side where what is new
    would be hidden.
    """
    items = [replace(item, role=_role(view, PartId(item.name))) for item in studio.coarse_items()]
    x, y, z = view.eye
    camera, behind = (_camera(studio, items, eye) for eye in (view.eye, (-x, -y, z)))
    share = _share(studio, items, camera)
    is_behind = share < HIDDEN_SHARE and _share(studio, items, behind) > share + 0.1
    camera = behind if is_behind else camera
    raster = _drawn(studio, items, camera)
    if is_behind:
        raster = np.vstack([raster, np.full((round(px(BAND_MM)), raster.shape[1], 3), 255, dtype=np.uint8)])
    file = f"step-{view.number}-key.png"
    studio.save(raster, file)
    tall, wide = raster.shape[:2]
    return Key(file=file, width_px=wide, height_px=tall, is_behind=is_behind, up=_up(view, camera))


def _role(view: KeyView, part: PartId) -> Role:
    if part in view.new:
        return Role.NEW
    return Role.NEIGHBOUR if part in view.onto else Role.STANDING


def _up(view: KeyView, camera: Camera) -> tuple[float, float] | None:
    """The bench's up in the key figure, px; None where it is the figure's own or points at the reader."""
    if angle_deg(view.up, UPRIGHT) < SAME_DEG:
        return None
    across = camera.axes @ np.asarray(view.up)
    if float(np.hypot(across[0], across[1])) < 0.4:
        return None
    return (float(across[0]) * px(ARROW_MM), -float(across[1]) * px(ARROW_MM))


def _camera(studio: Studio, items: Sequence[Item], eye: Vector) -> Camera:
    width, height = pixels(SIZE_MM)
    points = np.vstack([studio.rasteriser.box(item) for item in items])
    return framed(points, _level(eye), (0.0, 0.0, 1.0), width, height, margin=0.06)


def _share(studio: Studio, items: Sequence[Item], camera: Camera) -> float:
    """Share of the new parts in sight within the whole figure."""
    new = [item for item in items if item.role is Role.NEW]
    whole = int((studio.rasteriser.draw(new, camera, within=items).ids > 0).sum())
    numbers = [number for number, item in enumerate(items, start=1) if item.role is Role.NEW]
    return int(np.isin(studio.rasteriser.draw(items, camera).ids, numbers).sum()) / whole if whole else 1.0


def _drawn(studio: Studio, items: Sequence[Item], camera: Camera) -> NDArray[np.uint8]:
    """What is still to come, and over it what the step is about."""
    to_come = [item for item in items if item.role is Role.STANDING]
    meant = [item for item in items if item.role is not Role.STANDING]
    (picture, _), (front, ids) = (_layer(studio, shown, items, camera) for shown in (to_come, meant))
    inked = darker(front, 250) | (ids > 0)
    picture[inked] = front[inked]
    return picture


def _layer(
    studio: Studio, shown: Sequence[Item], items: Sequence[Item], camera: Camera
) -> tuple[NDArray[np.uint8], NDArray[np.uint16]]:
    """Some of the items as a drawing, and where they are."""
    buffers = studio.rasteriser.draw(shown, camera, within=items)
    return drawing(buffers, [_LOOKS[item.role] for item in shown], camera.mm_per_px), buffers.ids


def _level(eye: Vector) -> Vector:
    """The eye on the same side, hardly above the horizontal."""
    aside = float(np.hypot(eye[0], eye[1]))
    if aside < 1e-6:
        return as_vector(direction(0.0, LEVEL_DEG, (0.0, 0.0, 1.0)))
    flat = np.cos(np.radians(LEVEL_DEG)) / aside
    return (eye[0] * flat, eye[1] * flat, float(np.sin(np.radians(LEVEL_DEG))))
