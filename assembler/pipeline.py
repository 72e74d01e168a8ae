"""The whole trip on one page: from meshes to a book. Read this first.

======================  ==================================================  ===============================
stage                   takes                                               gives
======================  ==================================================  ===============================
`project`               a project folder: meshes, figure.toml, joints.toml  `Project`
`engineering`           joints, settings                                    `Stack` and `Bonding` records
`planning.division`     parts, meshes, joints, stacks, the way to the site  joints, shop or site; `Division`
`planning.order`        parts, meshes, joints, stacks, bondings             `Plan`
`planning.buildtime`    plan, settings, what the finish covers              `Plan` with its `Calendar`
`planning.verify`       plan.json and meshes, nothing else                  `Finding` records
`transport`             plan, meshes, settings                              `Consignment`
`drawing`               plan, meshes                                        `Picture` records, PNG files
`publishing`            plan, pictures                                      four PDFs and tables
`recut`                 plan.json of two books                              `Changes`
======================  ==================================================  ===============================
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

from assembler import __version__
from assembler.cache import Answers, Cache, code_mark
from assembler.drawing.drawnstep import Notes
from assembler.drawing.pictures import draw_book
from assembler.earlier import continued, issued_steps, since_book, since_last, write_changes
from assembler.engineering.basejoint import base_joint, base_joint_findings
from assembler.engineering.bonding import bonding_for_joints, coldest_c, handling_min
from assembler.engineering.checks import figure_findings, plan_findings
from assembler.engineering.exposure import exposure_findings
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.loads import carried_loads
from assembler.engineering.patterns import tightening_order
from assembler.engineering.worksheet import worksheet
from assembler.errors import Fault, InputError
from assembler.figure.calendar import Finish
from assembler.figure.findings import sort_findings
from assembler.figure.ids import StepNumber
from assembler.figure.mesh import mesh_digest
from assembler.planning.buildtime import calendar_findings, scheduled_plan, with_calendar
from assembler.planning.division import divided
from assembler.planning.finalstand import final_exposure, printed_skin_mm2
from assembler.planning.order import explain, plan_build
from assembler.planning.standing import step_findings
from assembler.planning.verify import verify_plan
from assembler.project import Project, open_project
from assembler.projectfiles.bookfolder import (
    DRAFT,
    PDF,
    Book,
    book_written_whole,
    checked_draft,
    checked_out,
    issued_books,
    issued_place,
    read_book,
    touched_findings,
)
from assembler.projectfiles.builtlog import BuiltStep, read_built, record_built
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.locking import locked
from assembler.projectfiles.planfile import plan_record, read_plan
from assembler.publication import Planned, change_sheet, contact_sheet, fill_book
from assembler.publishing.book import Press
from assembler.publishing.source import load_words
from assembler.recut.asbuilt import hold_end
from assembler.recut.changes import changes_record
from assembler.recut.recordable import fahrenheit_fault, slips
from assembler.recut.wording import change_lines
from assembler.reports import (
    BookReport,
    BuiltReport,
    ChangeReport,
    CheckReport,
    DocumentReport,
    JointSheet,
    SurveyReport,
    bolts_by_size,
)
from assembler.showing import remember
from assembler.transport.consignment import consignment_of

Progress = Callable[[str], None]

_PLANNING = ("planning", "geometry", "engineering", "catalogue", "figure")
_LIBRARIES = ("numpy", "scipy", "manifold3d", "networkx")


def survey_project(
    parts_dir: Path, project_dir: Path, *, unit: str | None, progress: Progress, is_quick: bool = False
) -> SurveyReport:
    """Find parts, joints and bolts, and write the project files.

    Raises
    ------
    InputError
        If the parts or the project files cannot be used; nothing is written then.
    """
    with locked(project_dir):
        project = open_project(project_dir, progress, parts_from=parts_dir, unit=unit, is_quick=is_quick)
        progress("drawing the contact sheet")
        sheet = contact_sheet(project)
        remember(project, _kept(project.folder))
    return SurveyReport(
        parts=project.parts,
        joints=project.joints,
        sizes=bolts_by_size(project.joints),
        healed=project.healed,
        findings=project.findings,
        questions=project.questions,
        contact_sheet=sheet,
    )


def _kept(folder: ProjectFolder) -> Cache:
    """What earlier runs of a project made."""
    return Cache(folder.kept)


def plan_project(project: Project, progress: Progress, kept: Cache | None = None) -> Planned:
    """Plan the build of a project; what the independent check refutes is a finding."""
    settings, parts, meshes = project.settings, project.parts, project.meshes
    materials = {part.id: settings.material_of(part.id) for part in parts}
    stacks, hardware_findings = stacks_for_joints(project.joints, settings, materials)
    kept = kept or _kept(project.folder)
    answers = Answers(kept, common=code_mark(_PLANNING, _LIBRARIES))
    division = divided(
        parts=parts,
        meshes=meshes,
        joints=project.joints,
        stacks=stacks,
        settings=settings,
        answers=answers,
        progress=progress,
    )
    joints = division.joints
    project = replace(project, joints=joints)
    bondings, adhesive_findings = bonding_for_joints(joints, settings)
    exposure = final_exposure(parts, meshes, settings)
    load_findings = (
        *figure_findings(joints, parts, stacks, settings),
        *exposure_findings(exposure, settings.base),
        *base_joint_findings(base_joint(joints, stacks, parts, exposure, settings, materials)),
    )
    plan = plan_build(
        parts=parts,
        meshes=meshes,
        joints=joints,
        stacks=stacks,
        bondings=bondings,
        settings=settings,
        issued=issued_steps(project.folder),
        answers=answers,
        progress=progress,
    )
    plan = replace(plan, division=division.division, findings=(*plan.findings, *division.findings))
    finish = Finish(
        seam_mm=math.fsum(joint.seam_mm for joint in joints), skin_mm2=printed_skin_mm2(parts, meshes, settings)
    )
    progress("laying the plan on the working hours")
    plan = scheduled_plan(plan, settings, finish)
    plan, built_findings = continued(plan, project.folder)
    plan = with_calendar(plan, settings, finish)
    plan = replace(plan, findings=(*plan.findings, *step_findings(plan, settings.base), *calendar_findings(plan)))
    progress("checking the plan against the meshes, independently of the planner")
    refuted = verify_plan(plan_record(plan), meshes, settings.tolerances, answers)
    kept.save()
    findings = (*project.findings, *hardware_findings, *adhesive_findings, *load_findings, *plan.findings)
    findings = (*findings, *built_findings, *refuted)
    findings = (*findings, *plan_findings(plan, bondings, settings))
    plan = replace(plan, findings=sort_findings(findings))
    return Planned(
        project=project,
        stacks=stacks,
        bondings=bondings,
        plan=plan,
        exposure=exposure,
        consignment=consignment_of(plan, meshes, settings),
    )


def check_project(project_dir: Path, *, step: str | None, progress: Progress) -> CheckReport:
    """Findings, and why each step stands where it stands.

    Raises
    ------
    InputError
        If the project cannot be used, or has no such step.
    """
    planned = plan_project(open_project(project_dir, progress), progress)
    plan = planned.plan
    steps = [one for one in plan.steps if step in (None, one.number)]
    if step is not None and not steps:
        numbers = ", ".join(one.number for one in plan.steps)
        raise InputError(Fault(file="", place="--step", wrong=f"there is no step {step!r}", right=f"one of: {numbers}"))
    return CheckReport(
        plan=plan,
        steps=steps,
        reasons={one.number: explain(plan, one.number) for one in steps},
        consignment=planned.consignment,
    )


def write_project_book(
    project_dir: Path,
    *,
    out: Path | None,
    is_issue: bool,
    progress: Progress,
    executor: Executor | None = None,
    only: Sequence[str] = (),
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
    executor
        Workers that draw and set pages; None: this process does everything.
    only
        Documents to write ('crew', 'engineer', 'shop', 'cards'); empty: all, as an issue has them.

    Raises
    ------
    InputError
        If the project cannot be used, or the book may not be written.
    DrawingError
        If this machine cannot draw.
    """
    place = checked_out(out, ProjectFolder(project_dir), is_issue=is_issue) if out is not None else None
    with locked(project_dir) if is_issue else nullcontext():
        project = open_project(project_dir, progress)
        read = input_digest(project.folder)
        named = project.settings.revision if is_issue else DRAFT
        solids = {part: mesh_digest(mesh) for part, mesh in project.meshes.items()}
        digest = input_digest(project.folder, solids=solids)
        if is_issue:
            issued = issued_place(project.folder, named, digest)
            if issued is not None:
                found = touched_findings((issued,))
                pdf = issued.path / PDF
                return BookReport(folder=issued.path, pdf=pdf, documents=(), is_unchanged=True, findings=found)
        folder = place or project.folder.books / named
        # A draft elsewhere is replaced only if it is one of this figure.
        figure_name = project.settings.name if place is not None else None
        if not is_issue:
            checked_draft(folder, figure_name=figure_name)
        kept = _kept(project.folder)
        planned = plan_project(project, progress, kept)
        plan, since = since_last(planned.plan, project.folder)
        notes = Notes(
            tightening={joint.id: tightening_order(joint) for joint in project.joints},
            marks=since.part_words,
            issued=since.views,
            words=load_words(project.folder.overrides),
        )
        with book_written_whole(
            folder,
            revision=named,
            version=__version__,
            digest=digest,
            read=read,
            is_issue=is_issue,
            figure_name=figure_name,
        ) as scratch:
            drawn = draw_book(
                plan, project.meshes, scratch, notes=notes, kept=kept, executor=executor, progress=progress
            )
            press = Press(kept=kept, executor=executor, progress=progress, only=tuple(only))
            files = fill_book(planned, drawn, since, scratch, is_draft=not is_issue, press=press)
            documents = tuple(
                DocumentReport(pdf=folder / one.pdf.name, pages=one.pages, size_bytes=one.size_bytes)
                for one in files.documents.values()
            )
    pdf = documents[0].pdf
    return BookReport(folder=folder, pdf=pdf, documents=documents, is_unchanged=False, findings=planned.plan.findings)


def joint_worksheet(project_dir: Path, *, joint: str, progress: Progress) -> JointSheet:
    """The whole calculation of one joint.

    Raises
    ------
    InputError
        If the project cannot be used, or has no such joint.
    """
    project = open_project(project_dir, progress)
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


def compare_project(project_dir: Path, *, since: Path | None, progress: Progress) -> ChangeReport:
    """What differs from an earlier complete book; writes the change sheet beside the draft.

    Parameters
    ----------
    project_dir
        The project.
    since
        Folder of the book; None: the one that was issued last.
    progress
        Takes one line at a time.

    Raises
    ------
    InputError
        If the project cannot be used, the folder is no complete book, or none was issued yet.
    DrawingError
        If this machine cannot draw the parts that changed.
    """
    book = read_book(since) if since is not None else _issued_last(project_dir)
    planned = plan_project(open_project(project_dir, progress), progress)
    project, folder = planned.project, planned.project.folder
    plan, found = since_book(planned.plan, folder, book)
    if found.changes is None:
        raise AssertionError("a book to compare with was read")
    # The sheet first: what it is set with may be refused.
    sheet = change_sheet(plan, project, found)
    write_changes(folder.books, found.changes)
    return ChangeReport(
        words=change_lines(found.changes),
        record=changes_record(found.changes),
        sheet=sheet,
        findings=planned.plan.findings,
    )


def _issued_last(project_dir: Path) -> Book:
    folder = ProjectFolder(project_dir)
    issued = issued_books(folder)
    if not issued:
        right = "issue one with 'assembler book PROJECT_DIR --issue', or name a draft with --since"
        raise InputError(Fault(file=str(folder.books), place="", wrong="no book was issued yet", right=right))
    return issued[-1]


def record_step(
    project_dir: Path,
    *,
    step: str,
    at: datetime.datetime,
    temperature_c: float,
    book: str | None,
    progress: Progress,
    by: str = "",
    although: str = "",
    now: datetime.datetime | None = None,
) -> BuiltReport:
    """Log that a step was carried out, and say when its hold ends.

    Parameters
    ----------
    project_dir
        The project folder.
    step, at, temperature_c, by
        What was done, when, at which temperature of the parts, and by whom.
    book
        Revision of the book that was followed; None: the last issued one, or else the draft.
    progress
        Takes one line at a time.
    although
        Why the log is to take what speaks against itself (`recut.recordable.slips`).
    now
        With its time zone; None: what the clock of this machine says.

    Raises
    ------
    InputError
        If there is no such book or step, the log has it already, or something speaks against it.
    """
    folder = ProjectFolder(project_dir)
    settings = read_settings(folder.figure)
    wrong = fahrenheit_fault(temperature_c)
    if wrong:
        raise InputError(Fault(file="", place="--temp", wrong=wrong, right="give the temperature of the parts in C"))
    with locked(project_dir):
        followed = _followed(folder, book, progress)
        plan = read_plan(followed.path / "plan.json")
        record = next((one for one in plan.steps if one.number == step), None)
        if record is None:
            numbers = ", ".join(one.number for one in plan.steps)
            wrong = f"book {followed.revision} has no step {step!r}"
            raise InputError(Fault(file="", place="STEP", wrong=wrong, right=f"one of: {numbers}"))
        entry = BuiltStep(
            step=StepNumber(step),
            book=followed.revision,
            at=at,
            temperature_c=temperature_c,
            joints=record.joints,
            bolts=tuple(access.bolt for access in record.access),
            by=by,
            although=although,
        )
        places = {one.number: one.place for one in plan.steps}

        def hold_min(done: BuiltStep) -> float | None:
            return handling_min(places[done.step], settings, done.temperature_c, done.at)

        minutes = hold_min(entry)
        free_at = hold_end(record, entry, minutes) if record.hold and minutes is not None else None
        against = slips(
            entry,
            plan.steps,
            read_built(folder.built),
            hold_min=hold_min,
            now=now or datetime.datetime.now().astimezone(),
        )
        if against and not although:
            right = "mend the call; where it was done so all the same, add --although REASON"
            raise InputError(*(Fault(file="", place=f"step {step}", wrong=one, right=right) for one in against))
        record_built(folder.built, entry)
    progress(f"recorded in {folder.built}")
    glue, hold, at_c = settings.adhesive, record.hold, coldest_c(record.place, settings, temperature_c)
    warning = ""
    if hold and minutes is None:
        warning = f"{at_c:g} C is outside {glue.lowest_c:g} to {glue.highest_c:g} C of {glue.name}: no time to give"
    return BuiltReport(
        step=step,
        joints=hold.joints if hold else (),
        free_at=free_at,
        waiting=hold.before if hold else (),
        temperature_c=at_c,
        warning=warning,
        deviations=against,
    )


def _followed(folder: ProjectFolder, revision: str | None, progress: Progress) -> Book:
    """The book that the crew followed."""
    books = issued_books(folder)
    for finding in touched_findings(books):
        progress(f"{finding.level}: {finding.message!s}")
    if revision is None and books:
        return books[-1]
    if revision in (None, DRAFT):
        return read_book(folder.books / DRAFT)
    for book in books:
        if book.revision == revision:
            return book
    known = ", ".join([*(book.revision for book in books), DRAFT])
    raise InputError(Fault(file="", place="--book", wrong=f"there is no book {revision!r}", right=f"one of: {known}"))
