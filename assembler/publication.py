"""From a plan and its pictures to paper: books, contact sheets, change sheets.

In: a project, its plan, what differs from the book before. Out: files in a folder.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

from assembler.drawing.pictures import Drawn, draw_part_thumbnails
from assembler.earlier import Since, as_drawn, keep_issued_pictures, old_pictures, write_changes, write_pages
from assembler.engineering.counting import buy_lines, hardware_lines
from assembler.engineering.curing import five_temperatures
from assembler.engineering.loads import carried_loads
from assembler.engineering.worksheet import worksheet
from assembler.figure.consignment import Consignment
from assembler.figure.exposure import ExposureRow
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.ids import JointId, PartId
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import Plan
from assembler.planning.finalstand import printed_skin_mm2
from assembler.project import Project
from assembler.publishing.book import BookFiles, Press, write_book
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.contactsheet import FACE_MM, write_contact_sheet
from assembler.publishing.source import Earlier, Source, load_words, shifts_of
from assembler.survey.jointfaces import joint_face_svg
from assembler.survey.joints import joint_faces


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A project with its plan and what the plan was made from."""

    project: Project
    stacks: tuple[Stack, ...]
    bondings: tuple[Bonding, ...]
    plan: Plan
    exposure: tuple[ExposureRow, ...]
    consignment: Consignment | None = None


def fill_book(planned: Planned, drawn: Drawn, since: Since, folder: Path, *, is_draft: bool, press: Press) -> BookFiles:
    """Set a book, and what lies beside it, into the folder of its pictures.

    Parameters
    ----------
    planned
        The project and what its plan was made from.
    drawn
        Its pictures, and the plan that knows of them.
    since
        What differs from the book before, as far as plans tell.
    folder
        Gets the files of the book.
    is_draft
        Marks every page.
    press
        How it is set, and which documents of it.

    Raises
    ------
    InputError
        If an issued book, a template or a picture cannot be used.
    """
    since = _with_issued_pictures(drawn, since, folder, press.executor)
    source = _source(planned, drawn, since, is_draft=is_draft)
    if not press.only or "shop" in press.only:
        source = replace(source, faces=_faces(planned.project))
    earlier = Earlier(changes=since.changes, was=_old_pictures(since, drawn.thumbnails, folder), printed=since.printed)
    files = write_book(source, folder, earlier=earlier, press=press)
    write_pages(folder, since.looks, files.printed)
    if since.changes is not None:
        write_changes(folder, since.changes)
    return files


def _with_issued_pictures(drawn: Drawn, since: Since, folder: Path, executor: Executor | None) -> Since:
    """What differs once printed pictures lie in the place of those that nobody can tell from them."""
    wholes = (drawn.cover, drawn.overview, *drawn.sections.values(), *drawn.thumbnails.values())
    others = [*(one.file for one in wholes if one is not None), *drawn.keys.values()]
    return as_drawn(since, keep_issued_pictures(drawn.steps, others, since, folder, executor))


def _source(planned: Planned, drawn: Drawn, since: Since, *, is_draft: bool) -> Source:
    """What the pages of a book are composed from."""
    project, settings = planned.project, planned.project.settings
    lines = hardware_lines(planned.stacks, settings.hardware)
    glue = {bonding.joint: bonding for bonding in planned.bondings}
    loads = {load.joint: load for load in carried_loads(project.joints, project.parts, settings.base.part)}
    in_force = since.changes.effective_pages if since.changes else ()
    return Source(
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
        buy=buy_lines(lines, settings.hardware),
        hardware=lines,
        worksheets={
            joint.id: worksheet(joint, planned.stacks, glue.get(joint.id), settings, loads.get(joint.id))
            for joint in project.joints
        },
        temperatures=five_temperatures(settings.adhesive),
        skin_mm2=printed_skin_mm2(project.parts, project.meshes, settings),
        exposure=planned.exposure,
        loads=loads,
        words=load_words(project.folder.overrides),
        overrides=project.folder.overrides,
        is_draft=is_draft,
        shifts=shifts_of(drawn.plan),
        marks=since.marks,
        revisions={page.number: page.revision for page in in_force},
        consignment=planned.consignment,
    )


def _old_pictures(since: Since, now: Mapping[PartId, Picture], folder: Path) -> dict[PartId, Picture]:
    """Small pictures of the parts that changed, as the book before printed them, copied beside those of now."""
    was = old_pictures(since, now, "was-")
    for part, picture in was.items():
        if since.book is not None:
            shutil.copyfile(since.book.path / f"part-{part}.png", folder / picture.file)
    return was


def _faces(project: Project) -> dict[JointId, str]:
    """Drawings of the joints as joints.toml has them now; a survey has just found them."""
    settings, words = project.settings, load_words(project.folder.overrides)
    faces = project.faces or joint_faces(project.meshes, project.joints, settings.tolerances, up=settings.up)
    return {face.joint: joint_face_svg(face, words, *FACE_MM) for face in faces}


def contact_sheet(project: Project) -> Path:
    """Every joint face-on; gives the file."""
    return write_contact_sheet(
        joints=project.joints,
        parts=project.parts,
        faces=_faces(project),
        settings=project.settings,
        out_dir=project.folder.root,
        overrides=project.folder.overrides,
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
