"""Printed pictures with that part drawn anew in which they show something else now; the rest of them is not touched.

In: a picture as it was printed, and where it differs. Out: the same picture mended; nothing where more may follow from
what changed than surfaces and lines of a background: references, arrows, hidden lines.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from assembler.drawing.camera import Camera
from assembler.drawing.linework import drawing
from assembler.drawing.overview import Scene, in_full
from assembler.drawing.raster import in_frame
from assembler.drawing.scenes import Role
from assembler.drawing.spots import darker, faded
from assembler.drawing.stage import Stage
from assembler.drawing.stepview import FADE_MM
from assembler.drawing.stillshown import AROUND_MM, Difference, Window
from assembler.drawing.studio import Studio
from assembler.drawing.style import px
from assembler.figure.pictures import Picture

LEVEL_PX = 2.0
"""Where surfaces stay this near, what lies before or behind them stays there."""
PALE = 245
"""Level from which a pixel is empty: the borders of a picture that are so are cut away."""

Mask = NDArray[np.bool_]


def mended(studio: Studio, stage: Stage, camera: Camera, printed: Picture, found: Difference) -> Picture | None:
    """A printed main picture with its background as it is now, written to its file; None if it has to be drawn.

    Parameters
    ----------
    studio
        Its folder holds the printed picture.
    stage, camera
        The scene of now, and where it is seen from.
    printed
        The picture.
    found
        Where its background differs.
    """
    if not _is_level(found):
        return None
    meant = _meant(stage, found)
    if _has_spots(found.differs & meant):
        return None
    before, now = (_as_shown(raster, stage, camera, found.place) for raster in found.rasters)
    changed = (before != now).any(axis=2) & _core(found.place, camera) & ~meant
    rows, columns = np.nonzero(changed)
    left, top = printed.corner_px
    rows, columns = rows + found.place[1] - round(top), columns + found.place[0] - round(left)
    inside = (rows >= 0) & (rows < printed.height_px) & (columns >= 0) & (columns < printed.width_px)
    if darker(now[changed][~inside], PALE).any():
        return None
    raster = _raster(studio.out_dir / printed.file)
    raster[rows[inside], columns[inside]] = now[changed][inside]
    studio.save(raster, printed.file)
    return printed


def mend_cover(studio: Studio, now: Scene, printed: Picture, place: Window) -> None:
    """Draw a part of the printed cover anew, in its file.

    Parameters
    ----------
    studio
        Its folder holds the picture.
    now
        The figure.
    printed
        The picture.
    place
        Where it shows something else.
    """
    part = now.camera.cropped(*place)
    in_sight = in_frame(np.vstack([studio.rasteriser.box(item) for item in now.items]), part)
    items = [in_full(studio, item) for item, is_seen in zip(now.items, in_sight, strict=True) if is_seen]
    frame = studio.rasteriser.draw(items, part, within=now.items)
    core = _core(place, now.camera)
    left, top, right, bottom = place
    raster = _raster(studio.out_dir / printed.file)
    raster[top:bottom, left:right][core] = drawing(frame, list(map(now.look, items)), part.mm_per_px)[core]
    studio.save(raster, printed.file)


def _is_level(found: Difference) -> bool:
    """Whether what differs lies at the depth at which something lay before."""
    first, second = found.frames
    return not _has_spots(np.abs(first.near_mm - second.near_mm) > LEVEL_PX * found.mm_per_px)


def _has_spots(mask: Mask) -> bool:
    """Whether more is marked than thin lines: along an edge a pixel goes to one side or the other by its last bits."""
    return bool((mask[1:, 1:] & mask[:-1, 1:] & mask[1:, :-1] & mask[:-1, :-1]).any())


def _meant(stage: Stage, found: Difference) -> Mask:
    """Pixels that show, before or now, something else than what stands."""
    others = [place for place, item in enumerate(stage.items, start=1) if item.role is not Role.STANDING]
    is_meant = np.zeros(1 + max(int(numbers.max()) for numbers in found.numbers), dtype=np.bool_)
    is_meant[found.numbers[1][others]] = True
    first, second = (is_meant[numbers[frame.ids]] for numbers, frame in zip(found.numbers, found.frames, strict=True))
    either: Mask = first | second
    return either


def _as_shown(raster: NDArray[np.uint8], stage: Stage, camera: Camera, place: Window) -> NDArray[np.uint8]:
    """A part of the picture as it goes on paper."""
    if stage.is_whole:
        return raster
    return faded(raster, px(FADE_MM), corner=place[:2], whole=(camera.width_px, camera.height_px))


def _core(place: Window, camera: Camera) -> Mask:
    """That part of a place in which all lines are known: without half of what is around, where the picture goes on."""
    left, top, right, bottom = place
    around = int(px(AROUND_MM) / 2.0)
    core = np.zeros((bottom - top, right - left), dtype=np.bool_)
    core[
        around if top > 0 else 0 : -around if bottom < camera.height_px else None,
        around if left > 0 else 0 : -around if right < camera.width_px else None,
    ] = True
    return core


def _raster(file: Path) -> NDArray[np.uint8]:
    with Image.open(file) as image:
        return np.array(image.convert("RGB"))
