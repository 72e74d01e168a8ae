"""Pictures of the whole: the finished figure, all parts apart, each section, a small one of every part.

In: a studio. Out: `Picture`s.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.callouts import Label, drawn, overlaps, placed
from assembler.drawing.camera import as_vector, direction, framed
from assembler.drawing.linework import drawing
from assembler.drawing.scenes import Item, Role
from assembler.drawing.spots import drawn_box, inner_spot
from assembler.drawing.studio import Studio
from assembler.drawing.style import (
    COVER_MM,
    OVERVIEW_MM,
    REFERENCE_MM,
    SECTION_VIEW_MM,
    THUMBNAIL_MM,
    Look,
    cover_look_of,
    look_of,
    pixels,
)
from assembler.figure.ids import PartId, SectionId
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Section, View

Floats = NDArray[np.float64]

UP: Vector = (0.0, 0.0, 1.0)
COVER_VIEW_DEG = (28.0, 8.0)
APART_VIEW_DEG = (34.0, 20.0)
SECTION_LETTERS_MM = 3.1
APART_UP = 0.45
APART_ACROSS = (0.6, 1.5)
"""How much farther from the middle each part's middle goes: up, and the least and most across."""


def cover_picture(studio: Studio) -> Picture:
    """The finished figure, written to `cover.png`."""
    items = [replace(item, shape=studio.full(PartId(item.name))) for item in studio.items(studio.names, Role.STANDING)]
    return _plain(
        studio, items, COVER_VIEW_DEG, COVER_MM, "cover.png", cover_look_of, "The finished figure.", margin=0.04
    )


def exploded_overview(studio: Studio) -> Picture:
    """All parts apart with their references, written to `exploded.png`.

    Every part moves away from the middle in proportion to its distance from it, so neighbours stay neighbours and the
    way each moved is read without lines.
    """
    boxes = {name: studio.box(name) for name in studio.names}
    middles = {name: (box.min(axis=0) + box.max(axis=0)) / 2.0 for name, box in boxes.items()}
    every = np.vstack(list(boxes.values())) if boxes else np.zeros((1, 3))
    centre = (every.min(axis=0) + every.max(axis=0)) / 2.0
    apart = _apart(np.vstack(list(middles.values())) - centre if middles else np.zeros((1, 3)), every)
    items = [
        replace(item, shift_mm=as_vector((middles[PartId(item.name)] - centre) * apart))
        for item in studio.items(studio.names, Role.NEIGHBOUR)
    ]
    return _referenced(studio, items, APART_VIEW_DEG, OVERVIEW_MM, "exploded.png", "All parts of the figure apart.")


def _apart(middles: Floats, corners: Floats) -> Floats:
    """Factors across, across and up: as much across as a slim sheet has room for."""
    size = np.ptp(corners, axis=0)
    tall = size[2] + APART_UP * float(np.ptp(middles[:, 2]))
    room = 0.62 * tall - float(size[:2].max())
    across = float(np.clip(room / max(float(np.ptp(middles[:, :2], axis=0).max()), 1e-6), *APART_ACROSS))
    return np.array([across, across, APART_UP])


def section_picture(studio: Studio, section: Section) -> Picture:
    """One section with references of its parts, written to `section-<id>.png`."""
    items = studio.items(section.parts, Role.NEIGHBOUR)
    words = f"Section {section.id}: {len(section.parts)} parts joined before transport."
    return _referenced(
        studio, items, APART_VIEW_DEG, SECTION_VIEW_MM, f"section-{section.id}.png", words, SECTION_LETTERS_MM
    )


def section_pictures(studio: Studio) -> dict[SectionId, Picture]:
    """One picture for each section that has parts with meshes."""
    known = set(studio.names)
    return {
        section.id: section_picture(studio, section)
        for section in studio.plan.sections
        if any(part in known for part in section.parts)
    }


def thumbnails(studio: Studio) -> dict[PartId, Picture]:
    """A small picture of every part."""
    return {part: thumbnail(studio, part) for part in studio.names}


def thumbnail(studio: Studio, part: PartId) -> Picture:
    """A small picture of one part, written to `part-<id>.png`."""
    return _plain(
        studio,
        studio.items([part], Role.NEIGHBOUR),
        APART_VIEW_DEG,
        THUMBNAIL_MM,
        f"part-{part}.png",
        look_of,
        f"Part {part}.",
        margin=0.06,
    )


def _plain(
    studio: Studio,
    items: Sequence[Item],
    view_deg: tuple[float, float],
    size_mm: tuple[float, float],
    file: str,
    look: Callable[[Item], Look],
    alt: str,
    margin: float,
) -> Picture:
    width, height = pixels(size_mm)
    eye = as_vector(direction(*view_deg, UP))
    points = _silhouette_points(studio, items)
    camera = framed(points, eye, UP, width, height, margin=margin)
    buffers = studio.rasteriser.draw(items, camera)
    studio.save(drawing(buffers, [look(item) for item in items], camera.mm_per_px), file)
    return Picture(
        file=file, width_px=width, height_px=height, alt=alt, view=View(eye=camera.eye, up=camera.up, new_visible=1.0)
    )


def _referenced(
    studio: Studio,
    items: Sequence[Item],
    view_deg: tuple[float, float],
    size_mm: tuple[float, float],
    file: str,
    alt: str,
    letters_mm: float = REFERENCE_MM,
) -> Picture:
    """Items with the references of their parts in columns."""
    width, height = pixels(size_mm)
    eye = as_vector(direction(*view_deg, UP))
    camera = framed(_silhouette_points(studio, items), eye, UP, width, height, margin=(0.16, 0.03))
    buffers = studio.rasteriser.draw(items, camera)
    studio.save(drawing(buffers, [look_of(item) for item in items], camera.mm_per_px), file)
    spots = [(item, inner_spot(buffers.ids == number)) for number, item in enumerate(items, start=1)]
    labels = [Label(text=item.name, anchor=spot, size_mm=letters_mm) for item, spot in spots if spot is not None]
    box = drawn_box(buffers.ids > 0)
    callouts = placed(labels, box, width, height)
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg=drawn(callouts),
        legend=tuple((item.name, item.name) for item, spot in spots if spot is not None),
        alt=alt,
        view=View(
            eye=camera.eye,
            up=camera.up,
            new_visible=round(sum(spot is not None for _, spot in spots) / max(len(spots), 1), 3),
            label_overlaps=overlaps(callouts, width, height),
        ),
    )


def _silhouette_points(studio: Studio, items: Sequence[Item]) -> Floats:
    """Vertices of the items where they are drawn, thinned: a tighter frame than boxes give."""
    points = []
    for item in items:
        vertices = studio.light[PartId(item.name)].vertices
        points.append(item.placed(vertices[:: max(len(vertices) // 3000, 1)]))
    return np.vstack(points) if points else np.zeros((1, 3))
