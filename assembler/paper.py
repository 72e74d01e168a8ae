"""From pictures to paper: whatever sets pages. It is loaded late, by those commands that get there.

A plan with its pictures goes in; books, contact sheets and change sheets come out.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from assembler.assistants import Assistants
from assembler.drawing.gallery import draw_part_thumbnails
from assembler.earlier import Since, as_drawn, keep_issued_pictures, old_pictures, write_changes, write_pages
from assembler.engineering.counting import buy_lines, hardware_lines
from assembler.engineering.curing import five_temperatures
from assembler.engineering.loads import carried_loads
from assembler.engineering.worksheet import worksheet
from assembler.figure.ids import PartId
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import Plan
from assembler.illustrated import Illustrated
from assembler.planned import Planned
from assembler.planning.finalstand import printed_skin_mm2
from assembler.project import Project
from assembler.publishing.besides import Besides, write_besides
from assembler.publishing.book import write_book
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.contactsheet import FACE_MM, write_contact_sheet
from assembler.reuse import CachedShelf
from assembler.survey.jointfaces import joint_face_svg

Progress = Callable[[str], None]


def fill_book(
    planned: Planned,
    pictures: Illustrated,
    folder: Path,
    assistants: Assistants,
    *,
    is_draft: bool,
    progress: Progress,
) -> None:
    """Set a book into a folder.

    Parameters
    ----------
    planned
        The project and its plan.
    pictures
        Their files lie in the folder.
    folder
        Gets the files of the book.
    assistants
        Other processes that set pages too.
    is_draft
        Marks every page.
    progress
        Takes one line at a time.

    Raises
    ------
    InputError
        If an issued book, a template or a picture cannot be used.
    """
    project, settings = planned.project, planned.project.settings
    overrides = project.folder.overrides
    shelf = CachedShelf(project.folder)
    drawn = pictures.drawn
    others = (drawn.cover, drawn.overview, *drawn.sections.values(), *drawn.thumbnails.values())
    whole = [one for one in others if one is not None]
    looks = keep_issued_pictures(drawn.steps, whole, pictures.since, folder, assistants)
    since = as_drawn(pictures.since, looks)
    lines = hardware_lines(planned.stacks, settings.hardware)
    buy = buy_lines(lines, settings.hardware)
    glue = {bonding.joint: bonding for bonding in planned.bondings}
    loads = {load.joint: load for load in carried_loads(project.joints, project.parts, settings.base.part)}
    was = _old_pictures(since, drawn.thumbnails, folder)
    besides = Besides(
        plan=drawn.plan,
        settings=settings,
        hardware=lines,
        buy=buy,
        out_dir=folder,
        is_draft=is_draft,
        overrides=overrides,
        changes=since.changes,
        was=was,
        now=drawn.thumbnails,
        before=since.printed,
        shelf=shelf,
    )
    with assistants.beside(write_besides, besides) as labels:
        skin_mm2 = printed_skin_mm2(project.parts, project.meshes, settings, planned.memory.arrays)
        planned.memory.arrays.save()
        files = write_book(
            plan=drawn.plan,
            settings=settings,
            pictures=Pictures(
                cover=drawn.cover,
                overview=drawn.overview,
                steps=drawn.steps,
                thumbnails=drawn.thumbnails,
                sections=drawn.sections,
            ),
            stacks=planned.stacks,
            bondings=planned.bondings,
            buy=buy,
            hardware=lines,
            worksheets={
                joint.id: worksheet(joint, planned.stacks, glue.get(joint.id), settings, loads.get(joint.id))
                for joint in project.joints
            },
            five_temperatures=five_temperatures(settings.adhesive),
            skin_mm2=skin_mm2,
            exposure=planned.exposure,
            is_draft=is_draft,
            out_dir=folder,
            overrides=overrides,
            changes=since.changes,
            marks=since.marks,
            was=was,
            before=since.printed,
            shelf=shelf,
            assistants=assistants,
            progress=progress,
        )
        write_pages(folder, looks, {**files.printed, **labels()})
        # Pictures in the folder of the book are read until then.
        for failure in assistants.settle():
            progress(f"done ahead and failed, so it was done in its turn: {failure}")
        if since.changes is not None:
            write_changes(folder, since.changes)


def _old_pictures(since: Since, now: Mapping[PartId, Picture], folder: Path) -> dict[PartId, Picture]:
    """Small pictures of the parts that changed, as the book before printed them, copied beside those of now."""
    was = old_pictures(since, now, "was-")
    for part, picture in was.items():
        if since.book is not None:
            shutil.copyfile(since.book.path / f"part-{part}.png", folder / picture.file)
    return was


def contact_sheet(project: Project) -> Path:
    """Every joint face-on; gives the file."""
    return write_contact_sheet(
        joints=project.joints,
        parts=project.parts,
        faces={face.joint: joint_face_svg(face, *FACE_MM) for face in project.faces},
        settings=project.settings,
        out_dir=project.folder.root,
        overrides=project.folder.overrides,
        shelf=CachedShelf(project.folder),
    )


def change_sheet(plan: Plan, project: Project, since: Since) -> Path:
    """What differs from an earlier book, as a sheet beside the draft; gives the file.

    Raises
    ------
    DrawingError
        If this machine cannot draw the parts that changed.
    """
    if since.changes is None:
        raise ValueError("there is no book to compare with")
    with tempfile.TemporaryDirectory() as scratch:
        beside = Path(scratch)
        changed = {part for change in since.changes.parts for part in change.after}
        meshes = {part: mesh for part, mesh in project.meshes.items() if part in changed}
        now = draw_part_thumbnails(plan, meshes, beside) if meshes else {}
        return write_change_sheet(
            since.changes,
            project.settings,
            project.folder.books,
            was=_old_pictures(since, now, beside),
            now=now,
            base=beside,
            is_draft=True,
            overrides=project.folder.overrides,
        )
