"""The whole trip on one page: from meshes to a book. Read this first.

======================  ==================================================  ===============================
stage                   takes                                               gives
======================  ==================================================  ===============================
`project`               a project folder: meshes, figure.toml, joints.toml  `Project`
`engineering`           joints, settings                                    `Stack` and `Bonding` records
`planning.order`        parts, meshes, joints, stacks, bondings             `Plan`
`planning.verify`       plan.json and meshes, nothing else                  `Finding` records
`drawing`               plan, meshes                                        `Picture` records, PNG files
`publishing`            plan, pictures                                      build-book.pdf and its tables
`recut`                 plan.json of two books                              `Changes`
======================  ==================================================  ===============================
"""

from __future__ import annotations

import datetime
import shutil
import tempfile
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from assembler import __version__
from assembler.assistants import Assistants
from assembler.drawing.gallery import draw_book, draw_part_thumbnails
from assembler.earlier import (
    Since,
    as_drawn,
    continued,
    issued_steps,
    keep_issued_pictures,
    old_pictures,
    since_book,
    since_last,
    write_changes,
    write_pages,
)
from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.checks import figure_findings
from assembler.engineering.counting import buy_lines, hardware_lines
from assembler.engineering.curing import five_temperatures, minutes_at
from assembler.engineering.exposure import exposure_findings
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.loads import carried_loads
from assembler.engineering.patterns import tightening_order
from assembler.engineering.worksheet import worksheet
from assembler.errors import Fault, InputError
from assembler.figure.exposure import ExposureRow
from assembler.figure.findings import sort_findings
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber
from assembler.figure.mesh import mesh_digest
from assembler.figure.pictures import Picture, Pictures
from assembler.figure.plan import Plan
from assembler.likely import drawing_ahead, keep_drawn
from assembler.planning.explain import explain
from assembler.planning.finalstand import final_exposure, printed_skin_mm2
from assembler.planning.order import plan_build
from assembler.planning.verify import verify_plan
from assembler.project import Project, open_project
from assembler.projectfiles.bookfolder import DRAFT, issued_books, issued_place, read_book
from assembler.projectfiles.bookfolder import write_book as write_book_folder
from assembler.projectfiles.builtlog import BuiltStep, record_built
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.memory import Memory
from assembler.projectfiles.planfile import plan_record, read_plan
from assembler.publishing.besides import Besides, write_besides
from assembler.publishing.book import PDF, write_book
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.contactsheet import FACE_MM, write_contact_sheet
from assembler.recut.asbuilt import hold_end
from assembler.recut.wording import change_lines, changes_record
from assembler.reports import (
    BookReport,
    BuiltReport,
    ChangeReport,
    CheckReport,
    JointSheet,
    SurveyReport,
    bolts_by_size,
)
from assembler.reuse import CachedShelf, planning_memory, survey_memory
from assembler.survey.jointfaces import joint_face_svg

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A project with its plan and what the plan was made from."""

    project: Project
    stacks: tuple[Stack, ...]
    bondings: tuple[Bonding, ...]
    plan: Plan
    exposure: tuple[ExposureRow, ...]
    memory: Memory


def survey_project(
    parts_dir: Path, project_dir: Path, *, unit: str | None, progress: Progress, is_quick: bool = False
) -> SurveyReport:
    """Find parts, joints and bolts, and write the project files.

    Raises
    ------
    InputError
        If the parts or the project files cannot be used; nothing is written then.
    """
    project = _opened(project_dir, progress, parts_from=parts_dir, unit=unit, is_quick=is_quick)
    progress("drawing the contact sheet")
    sheet = write_contact_sheet(
        joints=project.joints,
        parts=project.parts,
        faces={face.joint: joint_face_svg(face, *FACE_MM) for face in project.faces},
        settings=project.settings,
        out_dir=project_dir,
        overrides=project.folder.overrides,
        shelf=CachedShelf(project.folder),
    )
    return SurveyReport(
        parts=project.parts,
        joints=project.joints,
        sizes=bolts_by_size(project.joints),
        healed=project.healed,
        findings=project.findings,
        questions=project.questions,
        contact_sheet=sheet,
    )


def _opened(project_dir: Path, progress: Progress, **wishes: Any) -> Project:
    """The project, with the memory of its own earlier runs."""
    return open_project(project_dir, progress, memory=survey_memory(ProjectFolder(project_dir)), **wishes)


def plan_project(project: Project, progress: Progress) -> Planned:
    """Plan the build of a project; what the independent check refutes is a finding."""
    settings, parts, meshes, joints = project.settings, project.parts, project.meshes, project.joints
    materials = {part.id: settings.material_of(part.id) for part in parts}
    stacks, hardware_findings = stacks_for_joints(joints, settings, materials)
    bondings, adhesive_findings = bonding_for_joints(joints, settings)
    memory, shelf = planning_memory(project.folder), CachedShelf(project.folder)
    exposure = final_exposure(parts, meshes, settings, memory.arrays)
    load_findings = (
        *figure_findings(joints, parts, stacks, settings),
        *exposure_findings(exposure, settings.base),
    )
    plan = plan_build(
        parts=parts,
        meshes=meshes,
        joints=joints,
        stacks=stacks,
        bondings=bondings,
        settings=settings,
        issued=issued_steps(project.folder, shelf),
        memory=memory,
        progress=progress,
    )
    plan, built_findings = continued(plan, project.folder, shelf)
    progress("checking the plan against the meshes, independently of the planner")
    refuted = verify_plan(plan_record(plan), meshes, settings.tolerances, memory.answers)
    memory.save()
    findings = (*project.findings, *hardware_findings, *adhesive_findings, *load_findings, *plan.findings)
    findings = (*findings, *built_findings, *refuted)
    plan = replace(plan, findings=sort_findings(findings))
    return Planned(project=project, stacks=stacks, bondings=bondings, plan=plan, exposure=exposure, memory=memory)


def check_project(project_dir: Path, *, step: str | None, progress: Progress) -> CheckReport:
    """Findings, and why each step stands where it stands.

    Raises
    ------
    InputError
        If the project cannot be used, or has no such step.
    """
    plan = plan_project(_opened(project_dir, progress), progress).plan
    steps = [one for one in plan.steps if step in (None, one.number)]
    if step is not None and not steps:
        numbers = ", ".join(one.number for one in plan.steps)
        raise InputError(Fault(file="", place="--step", wrong=f"there is no step {step!r}", right=f"one of: {numbers}"))
    return CheckReport(plan=plan, steps=steps, reasons={one.number: explain(plan, one.number) for one in steps})


def write_project_book(
    project_dir: Path, *, out: Path | None, is_issue: bool, progress: Progress, assistants: Assistants | None = None
) -> BookReport:
    """Write the book whole or not at all.

    Parameters
    ----------
    project_dir
        The project folder.
    out
        Folder of the book; None: the project's own place for it.
    is_issue
        Whether the book is frozen.
    progress
        Takes one line at a time.
    assistants
        Other processes that draw, if the caller has called some already.

    Raises
    ------
    InputError
        If the project cannot be used, or the book may not be written.
    DrawingError
        If this machine cannot draw.
    """
    with ExitStack() as stack:
        helpers = assistants or stack.enter_context(Assistants())
        # What drawing needs is loaded while the project is read.
        helpers.call(drawing_ahead.__module__)
        until_planned = stack.enter_context(ExitStack())
        read = until_planned.enter_context(drawing_ahead(helpers))
        project = _opened(project_dir, progress, read=read)
        revision = project.settings.revision
        digest = input_digest(project.folder, solids={part: mesh_digest(mesh) for part, mesh in project.meshes.items()})
        if is_issue:
            issued = issued_place(project.folder, revision, digest)
            if issued is not None:
                return BookReport(folder=issued.path, pdf=issued.path / PDF, is_unchanged=True, findings=())
        folder = out or project.folder.books / (revision if is_issue else "draft")
        planned = plan_project(project, progress)
        until_planned.close()
        write_book_folder(
            folder,
            lambda scratch: _fill_book(planned, scratch, helpers, is_draft=not is_issue, progress=progress),
            revision=revision if is_issue else "draft",
            version=__version__,
            digest=digest,
            is_issue=is_issue,
        )
    return BookReport(folder=folder, pdf=folder / PDF, is_unchanged=False, findings=planned.plan.findings)


def _fill_book(planned: Planned, folder: Path, assistants: Assistants, *, is_draft: bool, progress: Progress) -> None:
    project, settings = planned.project, planned.project.settings
    overrides = project.folder.overrides
    shelf = CachedShelf(project.folder)
    plan, since = since_last(planned.plan, project.folder, shelf)
    drawn = draw_book(
        plan,
        project.meshes,
        folder,
        tightening={joint.id: tightening_order(joint) for joint in project.joints},
        marks=since.part_words,
        issued=since.views,
        shelf=shelf,
        assistants=assistants,
        progress=progress,
    )
    keep_drawn(drawn.plan, project.meshes, shelf)
    others = (drawn.cover, drawn.overview, *drawn.sections.values(), *drawn.thumbnails.values())
    looks = keep_issued_pictures(drawn.steps, [one for one in others if one is not None], since, folder)
    since = as_drawn(since, looks)
    lines = hardware_lines(planned.stacks, settings.hardware)
    buy = buy_lines(lines, settings.hardware)
    glue = {bonding.joint: bonding for bonding in planned.bondings}
    loads = {load.joint: load for load in carried_loads(project.joints, project.parts, settings.base.part)}
    skin_mm2 = printed_skin_mm2(project.parts, project.meshes, settings, planned.memory.arrays)
    planned.memory.arrays.save()
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


def joint_worksheet(project_dir: Path, *, joint: str, progress: Progress) -> JointSheet:
    """The whole calculation of one joint.

    Raises
    ------
    InputError
        If the project cannot be used, or has no such joint.
    """
    project = _opened(project_dir, progress)
    settings = project.settings
    materials = {part.id: settings.material_of(part.id) for part in project.parts}
    stacks, _ = stacks_for_joints(project.joints, settings, materials)
    bondings, _ = bonding_for_joints(project.joints, settings)
    for one in project.joints:
        if one.id == joint:
            glue = next((bonding for bonding in bondings if bonding.joint == joint), None)
            loads = carried_loads(project.joints, project.parts, settings.base.part)
            load = next((carried for carried in loads if carried.joint == joint), None)
            return JointSheet(joint=joint, rows=worksheet(one, stacks, glue, settings, load))
    known = ", ".join(one.id for one in project.joints)
    raise InputError(Fault(file="", place="JOINT", wrong=f"there is no joint {joint!r}", right=f"one of: {known}"))


def compare_project(project_dir: Path, *, since: Path, progress: Progress) -> ChangeReport:
    """What differs from an earlier complete book; writes the change sheet beside the draft.

    Raises
    ------
    InputError
        If the project cannot be used, or the folder is no complete book.
    DrawingError
        If this machine cannot draw the parts that changed.
    """
    book = read_book(since)
    planned = plan_project(_opened(project_dir, progress), progress)
    project, folder = planned.project, planned.project.folder
    plan, found = since_book(planned.plan, folder, book)
    if found.changes is None:
        raise AssertionError("a book to compare with was read")
    write_changes(folder.books, found.changes)
    with tempfile.TemporaryDirectory() as scratch:
        beside = Path(scratch)
        changed = {part for change in found.changes.parts for part in change.after}
        meshes = {part: mesh for part, mesh in project.meshes.items() if part in changed}
        now = draw_part_thumbnails(plan, meshes, beside) if meshes else {}
        sheet = write_change_sheet(
            found.changes,
            project.settings,
            folder.books,
            was=_old_pictures(found, now, beside),
            now=now,
            base=beside,
            is_draft=True,
            overrides=folder.overrides,
        )
    return ChangeReport(
        words=change_lines(found.changes),
        record=changes_record(found.changes),
        sheet=sheet,
        findings=planned.plan.findings,
    )


def record_step(
    project_dir: Path, *, step: str, at: datetime.datetime, temperature_c: float, book: str | None, progress: Progress
) -> BuiltReport:
    """Log that a step was carried out, and say when its hold ends.

    Raises
    ------
    InputError
        If there is no such book or step, or the log has it already.
    """
    folder = ProjectFolder(project_dir)
    settings = read_settings(folder.figure)
    revision = book or next((one.revision for one in reversed(issued_books(folder))), DRAFT)
    plan = read_plan(read_book(folder.books / revision).path / "plan.json")
    record = next((one for one in plan["steps"] if one["number"] == step), None)
    if record is None:
        numbers = ", ".join(one["number"] for one in plan["steps"])
        wrong = f"book {revision} has no step {step!r}"
        raise InputError(Fault(file="", place="STEP", wrong=wrong, right=f"one of: {numbers}"))
    entry = BuiltStep(
        step=StepNumber(step),
        book=revision,
        at=at,
        temperature_c=temperature_c,
        joints=tuple(JointId(joint) for joint in record["joints"]),
        bolts=tuple(BoltId(access["bolt"]) for access in record["access"]),
    )
    record_built(folder.built, entry)
    progress(f"recorded in {folder.built}")
    glue, hold = settings.adhesive, record["hold"]
    coldest_c = min(temperature_c, settings.climate.night_min_c)
    minutes = minutes_at(glue.handling_min, glue.sheet_c, coldest_c, glue.lowest_c, glue.highest_c)
    warning = ""
    if hold and minutes is None:
        warning = (
            f"{coldest_c:g} C is outside {glue.lowest_c:g} to {glue.highest_c:g} C of {glue.name}: no time to give"
        )
    return BuiltReport(
        step=step,
        joints=hold["joints"] if hold else (),
        free_at=hold_end(record, entry, minutes) if hold and minutes is not None else None,
        waiting=hold["before"] if hold else (),
        temperature_c=coldest_c,
        warning=warning,
    )
