"""A joint cut open along a bolt: the inside of a closed shell, with bolts where they will sit.

In: a studio, a step, the bolts that its main picture cannot show. Out: a `Picture` of the joint closed, cut by a plane
through one bolt axis, cut faces hatched, hardware whole. `kept_below` cuts bodies, each cut closed by a clean face: the
only door to manifold3d in this room.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import manifold3d
import numpy as np
from numpy.typing import NDArray

from assembler.drawing import overlay
from assembler.drawing.callouts import Label, drawn, overlaps, placed
from assembler.drawing.camera import Camera, Floats, framed, unit, view_axes
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.explode import Axis, Hung, hang
from assembler.drawing.image import faded, inner_spot
from assembler.drawing.linework import Hatch, drawing
from assembler.drawing.raster import Buffers
from assembler.drawing.scenes import Item, Role
from assembler.drawing.studio import Studio
from assembler.drawing.style import CUT_MM, CUT_TINT, SMALL_MM, look_of, pixels, px
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.pictures import Picture
from assembler.figure.plan import View
from assembler.words import say

AROUND_MM = 3.2
"""Half width of the picture in lengths of the screw: the flange, the wall and the nearest corner."""


def cut_picture(studio: Studio, step: DrawnStep, axes: Sequence[Axis], number: int) -> Picture | None:
    """Cut through the first of the bolts, written to `step-<number>-cut-<number>.png`.

    Parameters
    ----------
    studio, step
        What to draw.
    axes
        Bolts of one joint; the cut goes through the first, the others stand behind it where they are in sight.
    number
        Of the cut within the step.

    Returns
    -------
    Picture or None
        None where a part is not closed, so that no clean section can be made.
    """
    first = axes[0]
    eye = _across(first, axes)
    at = np.asarray(first.bolt.at_mm)
    offset = float(at @ eye)
    items = _cut_parts(studio, step, first, eye, offset)
    if not items:
        return None
    pieces = [piece for axis in axes for piece in hang(axis, {}, spread=0.0) if _is_behind(axis, eye, offset)]
    studio.upload_hardware(pieces)
    camera = _camera(first, eye, step)
    scene = [*items, *(piece.item for piece in pieces)]
    buffers = studio.rasteriser.draw(scene, camera)
    raster = drawing(
        buffers, [look_of(item) for item in scene], camera.mm_per_px, _cut_faces(buffers, items, camera, offset)
    )
    file = f"step-{step.number}-cut-{number}.png"
    studio.save(faded(raster, px(5.0)), file)
    return _finished(step, axes[0], items, pieces, camera, buffers, file)


def _across(first: Axis, axes: Sequence[Axis]) -> Floats:
    """Direction of the view: along the flange, so that the cut shows wall and flange in profile."""
    along = unit(first.bolt.axis)
    at = np.asarray(first.bolt.at_mm)
    others = [np.asarray(axis.bolt.at_mm) - at for axis in axes[1:]]
    flat = [way - along * float(way @ along) for way in others]
    apart = [way for way in flat if float(np.linalg.norm(way)) > 1.0]
    if not apart:
        return np.asarray(view_axes(along, (0.0, 0.0, 1.0))[0], dtype=np.float64)
    near = min(apart, key=lambda way: float(np.linalg.norm(way)))
    # Bolts follow the flange, so the way to the next one runs along it; the eye keeps the others behind the cut.
    away: Floats = -unit(near)
    return away


def _cut_parts(studio: Studio, step: DrawnStep, first: Axis, eye: Floats, offset: float) -> list[Item]:
    """Both parts of the joint in their places, what is before the plane taken away."""
    items = []
    for part in dict.fromkeys((first.head_part, first.nut_part)):
        key = f"cut {step.number} {first.bolt.id} {part}"
        mesh = kept_below(studio.meshes[part], eye, offset) if part in studio.meshes else None
        if mesh is None:
            return []
        if len(mesh.faces):
            studio.rasteriser.add(key, mesh)
            role = Role.NEW if part in step.moves else Role.NEIGHBOUR
            items.append(Item(name=part, shape=key, role=role))
    return items


def _is_behind(axis: Axis, eye: Floats, offset: float) -> bool:
    return float(np.asarray(axis.bolt.at_mm) @ eye) <= offset + 0.5


def _camera(first: Axis, eye: Floats, step: DrawnStep) -> Camera:
    """Square on to the cut, the joint in the middle."""
    width, height = pixels(CUT_MM)
    at = np.asarray(first.bolt.at_mm)
    up = unit(step.up)
    if abs(float(eye @ up)) > 0.9:
        up = unit(first.bolt.axis)
    axes = view_axes(eye, up)
    reach = AROUND_MM * max(first.stack.length_mm, 2.0 * first.stack.washer_outer_mm) / 2.0
    corners = at + np.array([x * axes[0] + y * axes[1] for x in (-reach, reach) for y in (-reach, reach)])
    return framed(corners, eye, up, width, height, margin=0.0)


def _cut_faces(buffers: Buffers, items: Sequence[Item], camera: Camera, offset: float) -> list[Hatch]:
    """Cut faces: in the plane and square to the eye; hatched to opposite sides for the two parts."""
    level = offset - float(np.asarray(camera.centre_mm) @ np.asarray(camera.eye))
    flat = (np.abs(buffers.near_mm - np.float32(level)) < 0.3) & (buffers.normals[..., 2] > 0.98)
    return [
        Hatch(
            mask=flat & (buffers.ids == number), tint=CUT_TINT, angle_deg=45.0 if number % 2 else -45.0, spacing_mm=1.3
        )
        for number in range(1, len(items) + 1)
    ]


def _finished(
    step: DrawnStep,
    first: Axis,
    items: Sequence[Item],
    pieces: Sequence[Hung],
    camera: Camera,
    buffers: Buffers,
    file: str,
) -> Picture:
    width, height = camera.width_px, camera.height_px
    labels: list[Label] = []
    band = _band(buffers.ids.shape)
    for number, item in enumerate([*items, *(piece.item for piece in pieces)], start=1):
        is_part = number <= len(items)
        if not is_part and pieces[number - 1 - len(items)].axis is not first:
            continue
        spot = inner_spot((buffers.ids == number) & band)
        if spot is not None:
            text = item.name if is_part else step.said(pieces[number - 1 - len(items)].kind)
            labels.append(Label(text=text, anchor=spot, heavy=is_part and item.role is Role.NEW, size_mm=SMALL_MM))
    unique = list({label.text: label for label in labels}.values())
    callouts = placed(unique, (px(24.0), 0.0, width - px(24.0), float(height)), width, height)
    caption = step.said("cut", joint=first.stack.joint, bolt=first.bolt.id)
    return Picture(
        file=file,
        width_px=width,
        height_px=height,
        overlay_svg=drawn(callouts) + overlay.caption((px(0.5), px(3.4)), caption, width, SMALL_MM),
        legend=tuple((item.name, item.name) for item in items),
        alt=say("alt.cut", joint=first.stack.joint, bolt=first.bolt.id),
        view=View(eye=camera.eye, up=camera.up, label_overlaps=overlaps(callouts, width, height)),
    )


def _band(shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Middle of the picture, where anchors may be."""
    band = np.zeros(shape, dtype=np.bool_)
    edge = int(px(7.0))
    aside = int(px(20.0))
    band[edge : shape[0] - edge, aside : shape[1] - aside] = True
    return band


def kept_below(mesh: Mesh, normal: Vector | Floats, offset_mm: float) -> Mesh | None:
    """The part of a body below a plane.

    Parameters
    ----------
    mesh
        Closed surface.
    normal
        Of the plane; what lies on its side is taken away.
    offset_mm
        Distance of the plane from the origin along the normal.

    Returns
    -------
    Mesh or None
        A closed mesh with the cut face, empty if nothing is left; None if the mesh is not closed and cannot be cut
        cleanly.
    """
    solid = _solid(mesh)
    if solid is None:
        return None
    away = -unit(normal)
    cut = solid.trim_by_plane((float(away[0]), float(away[1]), float(away[2])), -float(offset_mm))
    raw = cut.to_mesh64()
    vertices = np.asarray(raw.vert_properties, dtype=np.float64)[:, :3]
    return Mesh(vertices=vertices.reshape(-1, 3), faces=np.asarray(raw.tri_verts, dtype=np.int64).reshape(-1, 3))


@lru_cache(maxsize=16)
def _solid(mesh: Mesh) -> manifold3d.Manifold | None:
    """The body as manifold3d holds it; vertices of the same place are merged.

    Kept for the last few parts, since a part is cut once for each of its joints. Meshes are compared by identity.
    """
    # Copies, since manifold3d refuses arrays that are read-only.
    raw = manifold3d.Mesh64(
        vert_properties=np.array(mesh.vertices, order="C"), tri_verts=np.array(mesh.faces, dtype=np.uint64, order="C")
    )
    raw.merge()
    solid = manifold3d.Manifold(raw)
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        return None
    return solid
