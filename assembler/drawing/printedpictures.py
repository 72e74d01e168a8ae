"""Printed pictures that stay: before one is drawn, that of the book before is held against what the camera sees.

In: a desk. Out: pictures of the last book as they lie on the shelf, where nobody could tell new ones from them, or
could no more once they are mended (`mended`). What they were drawn of stays remembered, so small differences do not
add up from book to book.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from assembler.drawing.camera import Camera
from assembler.drawing.copies import kept_copy
from assembler.drawing.desk import Desk, Made
from assembler.drawing.keyfigure import Key, key_camera, key_look, key_role
from assembler.drawing.mended import mend_cover, mended
from assembler.drawing.overview import Scene, Was, cover_scene, overview_scene, section_scene
from assembler.drawing.reuse import Seen, key_of, picture_of
from assembler.drawing.scenes import Item, Role
from assembler.drawing.stage import Stage
from assembler.drawing.stepview import main_camera
from assembler.drawing.stillshown import difference, show_the_same
from assembler.drawing.studio import coarse
from assembler.drawing.style import look_of
from assembler.drawing.unseen import Standing, is_framed_alike, stood_before
from assembler.drawing.viewpoints import Choice
from assembler.figure.ids import PartId
from assembler.figure.plan import Step

WHOLES = ("cover", "overview", "section")
"""Kinds of pictures of the whole."""
NUDGE_PX = 0.05
"""Nobody sees that a picture is shifted by so little."""
FEW = 6
"""Where more parts are others than these, something is to be seen."""


def printed_step(desk: Desk, stage: Stage, stands: Standing, seen: Seen) -> Made | None:
    """Printed pictures of a step that still show it, or do so once the background is mended; None if there are none.

    Only a picture that was drawn at one go is mended, so small differences do not add up.

    Parameters
    ----------
    desk
        Its order says where the printed pictures lie.
    stage, stands
        The scene, and its background.
    seen
        How it is shown.
    """
    entry = desk.shelf.value(desk.keys.step_near(stage.step, seen))
    camera = main_camera(stage, seen.choice)
    if entry is None or not is_framed_alike(entry["stands"], stands, NUDGE_PX * camera.mm_per_px):
        return None
    before = entry["stands"]
    if sum(part != stands["parts"].get(name) for name, part in before["parts"].items()) > FEW:
        return None
    pictures = _as_printed(desk, entry["key"])
    if pictures is None:
        return None
    items = stood_before(stage, before, stands, lambda _, solid: _shape(desk, solid))
    if items is None:
        return None
    found = difference(desk.studio().rasteriser, items, stage.items, camera, look_of)
    if found is None or not found.is_seen:
        return pictures
    main = None if entry["is_mended"] else mended(desk.studio(), stage, camera, pictures[0], found)
    if main is None:
        return None
    remember_step(desk, stage.step, stands, seen, is_mended=True)
    return (main, *pictures[1:])


def remember_step(desk: Desk, step: Step, stands: Standing, seen: Seen, *, is_mended: bool = False) -> None:
    """Remember what the pictures of a step were drawn of."""
    entry = {"stands": stands, "key": desk.keys.step(step, seen), "is_mended": is_mended}
    desk.shelf.renew_value(desk.keys.step_near(step, seen), entry)


def printed_whole(desk: Desk, kind: str, name: str) -> Made | None:
    """The same of a picture of the whole; of these only the cover is mended.

    Light copies are compared, which differ from their parts by less than a pixel.

    Parameters
    ----------
    desk
        As above.
    kind, name
        One of `WHOLES`, and the id of a section.
    """
    entry = desk.shelf.value(_whole_near(desk, kind, name))
    if entry is None:
        return None
    solids = desk.keys.solids
    others = [PartId(part) for part, (solid, _) in entry["parts"].items() if solid != solids.get(PartId(part))]
    pictures = _as_printed(desk, entry["key"]) if len(others) <= FEW else None
    if pictures is None:
        return None
    copies = {part: kept_copy(entry["parts"][part][0], desk.order.meshes, desk.shelf) for part in others}
    known = {part: copy for part, copy in copies.items() if copy is not None}
    if len(known) < len(others):
        return None
    studio = desk.studio()
    was = Was(parts={PartId(part): is_printed for part, (_, is_printed) in entry["parts"].items()}, copies=known)
    before, now = _scenes(desk, kind, name, was)
    if not before.camera.is_about(now.camera, NUDGE_PX):
        return None
    found = difference(studio.rasteriser, before.items, now.items, now.camera, now.look)
    if found is None or not found.is_seen:
        return pictures
    # The others have references, which may stand elsewhere.
    if kind != "cover" or entry["is_mended"]:
        return None
    mend_cover(studio, now, pictures[0], found.place)
    remember_whole(desk, kind, name, is_mended=True)
    return pictures


def remember_whole(desk: Desk, kind: str, name: str, *, is_mended: bool = False) -> None:
    """Remember what a picture of the whole was drawn of."""
    is_printed = {part.id: part.is_printed for part in desk.order.plan.parts}
    parts = {part: (desk.keys.solids[part], is_printed.get(part, True)) for part in _parts(desk, kind, name)}
    key = desk.keys.section(desk.section(name)) if kind == "section" else desk.keys.whole(kind)
    desk.shelf.renew_value(_whole_near(desk, kind, name), {"parts": parts, "key": key, "is_mended": is_mended})


def _whole_near(desk: Desk, kind: str, name: str) -> str:
    """Key of a picture of the whole, whatever solids are in it; of the cover, which names no parts, whatever parts."""
    return desk.keys.whole_near(kind, name, () if kind == "cover" else _parts(desk, kind, name))


def printed_key(desk: Desk, step: Step, choice: Choice) -> Key | None:
    """The printed key figure of a step, if it still shows where it is; None if there is none.

    Parts that are others are compared each alone, once from each side: what stands before them hides more.
    """
    entry = desk.shelf.value(desk.keys.key_near(step, choice)) if desk.order.printed else None
    was = desk.shelf.value(entry["solids"]) if entry else None
    if entry is None or was is None:
        return None
    others = [PartId(part) for part, solid in was.items() if solid != desk.keys.solids.get(PartId(part))]
    known = desk.shelf.files(entry["key"], desk.order.out_dir) if len(others) <= FEW else None
    if known is None:
        return None
    key = key_of(known)
    if not _is_printed(desk, [key.file]):
        return None
    camera = key_camera(desk.studio(), choice.eye, is_behind=key.is_behind)
    return key if all(_is_alike(desk, part, was[part], key_role(step, part), camera) for part in others) else None


def remember_key(desk: Desk, step: Step, choice: Choice) -> None:
    """Remember what the key figure of a step was drawn of."""
    keys = desk.keys
    if desk.shelf.value(keys.all_solids) is None:
        desk.shelf.keep_value(keys.all_solids, dict(keys.solids))
    entry = {"solids": keys.all_solids, "key": keys.key_figure(step, choice)}
    desk.shelf.renew_value(keys.key_near(step, choice), entry)


def _is_alike(desk: Desk, part: PartId, solid: str, role: Role, camera: Camera) -> bool:
    """Whether a part looks in key figures as it did when it was another solid."""
    name = (part, solid, role, camera)
    if name not in desk.judged:
        studio = desk.studio()
        copy = kept_copy(solid, desk.order.meshes, desk.shelf, is_rough=True)
        now = Item(name=part, shape=coarse(part), role=role)
        alike = False
        if copy is not None and studio.rasteriser.has(now.shape):
            before = Item(name=part, shape=studio.shape_of(copy), role=role)
            moved_mm = np.abs(studio.rasteriser.box(before) - studio.rasteriser.box(now)).max()
            # The whole figure is framed by its boxes.
            if moved_mm <= NUDGE_PX * camera.mm_per_px:
                alike = show_the_same(studio.rasteriser, [before], [now], camera, key_look)
        desk.judged[name] = alike
    return desk.judged[name]


def _as_printed(desk: Desk, key: str) -> Made | None:
    """Pictures on the shelf, if they are those of the book before; their files are in the folder of this one then."""
    known = desk.shelf.files(key, desk.order.out_dir) if desk.order.printed else None
    if known is None:
        return None
    pictures = tuple(map(picture_of, known))
    return pictures if _is_printed(desk, [picture.file for picture in pictures]) else None


def _is_printed(desk: Desk, files: Iterable[str]) -> bool:
    """Whether files in the folder of this book are those of the one before."""
    folder, out_dir = desk.order.printed, desk.order.out_dir
    return folder is not None and all(
        (folder / file).is_file() and (folder / file).read_bytes() == (out_dir / file).read_bytes() for file in files
    )


def _shape(desk: Desk, solid: str) -> str | None:
    """Key of a body that is another now; None if the shelf has its copy no more."""
    copy = kept_copy(solid, desk.order.meshes, desk.shelf)
    return None if copy is None else desk.studio().shape_of(copy)


def _parts(desk: Desk, kind: str, name: str) -> list[PartId]:
    """Parts in a picture of the whole."""
    known = desk.keys.solids
    return sorted(part for part in (desk.section(name).parts if kind == "section" else known) if part in known)


def _scenes(desk: Desk, kind: str, name: str, was: Was) -> tuple[Scene, Scene]:
    """A picture of the whole as it was and as it is."""
    studio = desk.studio()
    if kind == "section":
        section = desk.section(name)
        return section_scene(studio, section, was), section_scene(studio, section)
    scene = cover_scene if kind == "cover" else overview_scene
    return scene(studio, was), scene(studio)
