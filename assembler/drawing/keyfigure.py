"""The small figure in a corner that shows where on the whole figure a picture is.

In: a studio, a step, a view. Out: a `Key`, to be set where the picture has room, and a file of its own that it lies in:
all parts are in it, so a part that was cut again changes the key figure of every step, and must not change the picture
beside it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.camera import Camera, as_vector, direction, framed
from assembler.drawing.linework import drawing
from assembler.drawing.overlay import Point
from assembler.drawing.partviews import PartViews
from assembler.drawing.raster import Buffers
from assembler.drawing.scenes import Item, Role
from assembler.drawing.shot import sight_digest
from assembler.drawing.spots import darker
from assembler.drawing.studio import Studio
from assembler.drawing.style import GREY, Look, pixels, px
from assembler.drawing.turning import SAME_DEG, UPRIGHT, angle_deg
from assembler.figure.ids import PartId
from assembler.figure.parts import Vector
from assembler.figure.plan import Step

SIZE_MM = (26.0, 34.0)
LEVEL_DEG = 10.0
HIDDEN_SHARE = 0.35
"""Less than this of what is new in sight: the key figure is turned round."""
BEHIND, WORDS_MM = "other side", 3.6
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

    def marks(self, corner: Point) -> str:
        """The key figure with frame and words, its upper left corner at `corner`."""
        tall, wide = self.height_px, self.width_px
        pieces = [overlay.image(self.file, corner, wide, tall)]
        pieces.append(overlay.rectangle(corner, wide, tall, "none", GREY, 0.13))
        if self.is_behind:
            at = (corner[0] + wide / 2.0, corner[1] + tall - px(1.4))
            pieces.append(overlay.words(at, BEHIND, WORDS_MM, "middle"))
        if self.up is not None:
            middle = (corner[0] + wide / 2.0, corner[1] + px(SIZE_MM[1]) / 2.0)
            tip = (middle[0] + self.up[0], middle[1] + self.up[1])
            pieces.append(overlay.arrow(middle, tip, 1.0, 3.4, "#ffffff"))
            pieces.append(overlay.arrow(middle, tip, 0.5, 3.0))
        return "".join(pieces)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeySight:
    """What the camera of a key figure sees.

    Parameters
    ----------
    step
        Whose key figure.
    camera, is_behind
        From where.
    items
        All parts.
    to_come, meant
        What is seen of those that are still to come, and of those that lie over them: what the step is about.
    """

    step: Step
    camera: Camera
    is_behind: bool
    items: tuple[Item, ...]
    to_come: Buffers
    meant: Buffers

    @property
    def up(self) -> tuple[float, float] | None:
        """The bench's up in the key figure, px; None where it is the figure's own or points at the reader."""
        if angle_deg(self.step.up, UPRIGHT) < SAME_DEG:
            return None
        across = self.camera.axes @ np.asarray(self.step.up)
        if float(np.hypot(across[0], across[1])) < 0.4:
            return None
        return (float(across[0]) * px(ARROW_MM), -float(across[1]) * px(ARROW_MM))

    @property
    def digest(self) -> str:
        """Of all that is in the key figure: two sights with the same one give the same figure."""
        seen = [sight_digest(self.items, buffers) for buffers in (self.to_come, self.meant)]
        text = repr((self.step.number, self.camera.mm_per_px, self.is_behind, self.up, seen))
        return hashlib.sha256(text.encode()).hexdigest()


def key_figure(studio: Studio, step: Step, eye: Vector) -> Key | None:
    """The whole figure, small, written to `step-<number>-key.png`; None where the step has no part of it.

    New parts are dark, what stands already is grey, what is still to come is outlined. It is seen from the same side
    as the picture, but upright and level, so that the figure can be recognised; from the other side where what is new
    would be hidden.
    """
    return key_drawn(studio, key_sight(studio, step, eye)) if has_key(step) else None


def key_sight(studio: Studio, step: Step, eye: Vector) -> KeySight:
    """What the key figure of a step shows, seen by the eye of its picture."""
    items = _items(studio, step)
    numbers = {role: [n for n, item in enumerate(items, start=1) if item.role is role] for role in Role}
    cameras = [key_camera(studio, eye, is_behind=side) for side in (False, True)]
    share = _share(studio.part_views(cameras[0]), numbers[Role.NEW], len(items))
    is_behind = (
        share < HIDDEN_SHARE and _share(studio.part_views(cameras[1]), numbers[Role.NEW], len(items)) > share + 0.1
    )
    camera = cameras[1 if is_behind else 0]
    views = studio.part_views(camera)
    return KeySight(
        step=step,
        camera=camera,
        is_behind=is_behind,
        items=tuple(items),
        to_come=views.together(numbers[Role.STANDING]),
        meant=views.together([*numbers[Role.NEW], *numbers[Role.NEIGHBOUR]]),
    )


def key_drawn(studio: Studio, sight: KeySight) -> Key:
    """The key figure of what a camera sees."""
    raster = _drawn(sight)
    if sight.is_behind:
        raster = np.vstack([raster, np.full((round(px(BAND_MM)), raster.shape[1], 3), 255, dtype=np.uint8)])
    file = f"step-{sight.step.number}-key.png"
    studio.save(raster, file)
    tall, wide = raster.shape[:2]
    return Key(file=file, width_px=wide, height_px=tall, is_behind=sight.is_behind, up=sight.up)


def has_key(step: Step) -> bool:
    """Whether a step has parts to show on the whole figure."""
    return bool(step.moves or step.onto)


def _items(studio: Studio, step: Step) -> list[Item]:
    return [replace(item, role=key_role(step, PartId(item.name))) for item in studio.coarse_items()]


def key_camera(studio: Studio, eye: Vector, *, is_behind: bool) -> Camera:
    """Where the key figure beside a picture by an eye is seen from."""
    x, y, z = eye
    return _camera(studio, studio.coarse_items(), (-x, -y, z) if is_behind else eye)


def key_look(item: Item) -> Look:
    """How a part is drawn in a key figure."""
    return _LOOKS[item.role]


def key_role(step: Step, part: PartId) -> Role:
    """What a part is in the key figure of a step."""
    if part in (step.moves or step.onto):
        return Role.NEW
    return Role.NEIGHBOUR if part in step.onto else Role.STANDING


def _camera(studio: Studio, items: list[Item], eye: Vector) -> Camera:
    width, height = pixels(SIZE_MM)
    points = np.vstack([studio.rasteriser.box(item) for item in items])
    return framed(points, _level(eye), (0.0, 0.0, 1.0), width, height, margin=0.06)


def _share(views: PartViews, new: Sequence[int], count: int) -> float:
    """Share of the new parts in sight within the whole figure of `count` parts."""
    whole = int((views.together(new).ids > 0).sum())
    return int(np.isin(views.together(range(1, count + 1)).ids, new).sum()) / whole if whole else 1.0


def _drawn(sight: KeySight) -> NDArray[np.uint8]:
    looks = [key_look(item) for item in sight.items]
    picture, front = (drawing(buffers, looks, sight.camera.mm_per_px) for buffers in (sight.to_come, sight.meant))
    inked = darker(front, 250) | (sight.meant.ids > 0)
    picture[inked] = front[inked]
    return picture


def _level(eye: Vector) -> Vector:
    """The eye on the same side, hardly above the horizontal."""
    aside = float(np.hypot(eye[0], eye[1]))
    if aside < 1e-6:
        return as_vector(direction(0.0, LEVEL_DEG, (0.0, 0.0, 1.0)))
    flat = np.cos(np.radians(LEVEL_DEG)) / aside
    return (eye[0] * flat, eye[1] * flat, float(np.sin(np.radians(LEVEL_DEG))))
