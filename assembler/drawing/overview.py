"""Pictures of the whole: the finished figure, all parts apart, each section, a small one of every part.

In: a studio. Out: `Picture`s.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.callouts import Label, drawn, overlaps, placed
from assembler.drawing.camera import Camera, as_vector, direction, framed
from assembler.drawing.carriers import base_body
from assembler.drawing.drawnstep import Solid, Solids
from assembler.drawing.image import drawn_box, inner_spot
from assembler.drawing.linework import drawing
from assembler.drawing.scenes import Item, Role
from assembler.drawing.studio import Studio, studio_of
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
from assembler.figure.ids import PartId
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, StatedBase, View

Floats = NDArray[np.float64]

UP: Vector = (0.0, 0.0, 1.0)
COVER_VIEW_DEG = (28.0, 8.0)
APART_VIEW_DEG = (34.0, 20.0)
SECTION_LETTERS_MM = 3.1
REFERENCED = (0.16, 0.03)
"""Free on the left and right for references, and above and below."""
APART_UP = 0.45
APART_ACROSS = (0.6, 1.5)
"""How much farther from the middle each part's middle goes: up, and the least and most across."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What a picture of the whole shows: bodies, from where, and how they are drawn."""

    items: tuple[Item, ...]
    camera: Camera
    look: Callable[[Item], Look]


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureView:
    """All that a picture of the whole, or of some parts, is drawn from.

    Parameters
    ----------
    name
        'cover', 'overview', 'section S1' or 'part P01'.
    parts
        Those that it names.
    solids
        Those that it shows.
    base
        The base without a mesh that it shows under the figure.
    """

    name: str
    parts: tuple[PartId, ...]
    solids: tuple[Solid, ...]
    base: StatedBase | None = None


def figure_views(plan: Plan, solids: Solids) -> tuple[FigureView, ...]:
    """Every picture of a figure that is of no step; parts without a mesh have none."""
    known = solids.known
    return (
        FigureView(name="cover", parts=known, solids=solids.of(known), base=plan.base),
        FigureView(name="overview", parts=known, solids=solids.of(known)),
        *(FigureView(name=f"part {part}", parts=(part,), solids=solids.of([part])) for part in known),
        *(
            FigureView(name=f"section {section.id}", parts=section.parts, solids=solids.of(section.parts))
            for section in plan.sections
            if any(part in known for part in section.parts)
        ),
    )


def draw_figure_view(figure: Path, view: FigureView) -> tuple[Picture]:
    """One picture of a figure, written beside the file that holds its bodies.

    Raises
    ------
    DrawingError
        If this machine cannot render off screen.
    """
    studio = studio_of(figure)
    kind, _, name = view.name.partition(" ")
    if kind == "cover":
        return (cover_picture(studio, view.base),)
    if kind == "overview":
        return (exploded_overview(studio),)
    if kind == "section":
        return (section_picture(studio, name, view.parts),)
    return (thumbnail(studio, view.parts[0]),)


def cover_picture(studio: Studio, base: StatedBase | None = None) -> Picture:
    """The finished figure, on its base if that has no mesh, written to `cover.png`."""
    scene = cover_scene(studio, base)
    items = tuple(in_full(studio, item) if item.name in studio.light else item for item in scene.items)
    return _plain(studio, replace(scene, items=items), "cover.png", "The finished figure.")


def in_full(studio: Studio, item: Item) -> Item:
    """A part with all its triangles, as the cover shows it."""
    return replace(item, shape=studio.full(PartId(item.name)))


def cover_scene(studio: Studio, base: StatedBase | None = None) -> Scene:
    """The finished figure in light copies."""
    items = studio.items(studio.names, Role.STANDING)
    for name, shape, mesh in base_body(base):
        studio.rasteriser.add(shape, mesh)
        items.append(Item(name=name, shape=shape, role=Role.STANDING, is_printed=False))
    return _scene(studio, items, COVER_VIEW_DEG, COVER_MM, 0.04, cover_look_of)


def exploded_overview(studio: Studio) -> Picture:
    """All parts apart with their references, written to `exploded.png`."""
    return _referenced(studio, overview_scene(studio), "exploded.png", "All parts of the figure apart.")


def overview_scene(studio: Studio) -> Scene:
    """All parts apart.

    Every part moves away from the middle in proportion to its distance from it, so neighbours stay neighbours and the
    way each moved is read without lines.
    """
    still = studio.items(studio.names, Role.NEIGHBOUR)
    boxes = {PartId(item.name): studio.rasteriser.box(item) for item in still}
    middles = {name: (box.min(axis=0) + box.max(axis=0)) / 2.0 for name, box in boxes.items()}
    every = np.vstack(list(boxes.values())) if boxes else np.zeros((1, 3))
    centre = (every.min(axis=0) + every.max(axis=0)) / 2.0
    apart = _apart(np.vstack(list(middles.values())) - centre if middles else np.zeros((1, 3)), every)
    items = [replace(item, shift_mm=as_vector((middles[PartId(item.name)] - centre) * apart)) for item in still]
    return _scene(studio, items, APART_VIEW_DEG, OVERVIEW_MM, REFERENCED, look_of)


def _apart(middles: Floats, corners: Floats) -> Floats:
    """Factors across, across and up: as much across as a slim sheet has room for."""
    size = np.ptp(corners, axis=0)
    tall = size[2] + APART_UP * float(np.ptp(middles[:, 2]))
    room = 0.62 * tall - float(size[:2].max())
    across = float(np.clip(room / max(float(np.ptp(middles[:, :2], axis=0).max()), 1e-6), *APART_ACROSS))
    return np.array([across, across, APART_UP])


def section_picture(studio: Studio, name: str, parts: Sequence[PartId]) -> Picture:
    """One section with references of its parts, written to `section-<id>.png`."""
    words = f"Section {name}: {len(parts)} parts joined before transport."
    items = studio.items(parts, Role.NEIGHBOUR)
    scene = _scene(studio, items, APART_VIEW_DEG, SECTION_VIEW_MM, REFERENCED, look_of)
    return _referenced(studio, scene, f"section-{name}.png", words, SECTION_LETTERS_MM)


def thumbnail(studio: Studio, part: PartId) -> Picture:
    """A small picture of one part, written to `part-<id>.png`."""
    scene = _scene(studio, studio.items([part], Role.NEIGHBOUR), APART_VIEW_DEG, THUMBNAIL_MM, 0.06, look_of)
    return _plain(studio, scene, f"part-{part}.png", f"Part {part}.")


def _scene(
    studio: Studio,
    items: Sequence[Item],
    view_deg: tuple[float, float],
    size_mm: tuple[float, float],
    margin: float | tuple[float, float],
    look: Callable[[Item], Look],
) -> Scene:
    """Bodies in a frame that just holds them."""
    eye = as_vector(direction(*view_deg, UP))
    points = _silhouette_points(studio, items)
    return Scene(items=tuple(items), camera=framed(points, eye, UP, *pixels(size_mm), margin=margin), look=look)


def _plain(studio: Studio, scene: Scene, file: str, alt: str) -> Picture:
    camera = scene.camera
    buffers = studio.rasteriser.draw(scene.items, camera)
    studio.save(drawing(buffers, [scene.look(item) for item in scene.items], camera.mm_per_px), file)
    return Picture(
        file=file,
        width_px=camera.width_px,
        height_px=camera.height_px,
        alt=alt,
        view=View(eye=camera.eye, up=camera.up, new_visible=1.0),
    )


def _referenced(studio: Studio, scene: Scene, file: str, alt: str, letters_mm: float = REFERENCE_MM) -> Picture:
    """Items with the references of their parts in columns."""
    items, camera = scene.items, scene.camera
    width, height = camera.width_px, camera.height_px
    buffers = studio.rasteriser.draw(items, camera)
    studio.save(drawing(buffers, [scene.look(item) for item in items], camera.mm_per_px), file)
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
        copy = studio.light.get(PartId(item.name))
        if copy is None:
            points.append(studio.rasteriser.box(item))
        else:
            points.append(item.placed(copy.vertices[:: max(len(copy.vertices) // 3000, 1)]))
    return np.vstack(points) if points else np.zeros((1, 3))
