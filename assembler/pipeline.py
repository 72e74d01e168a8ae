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
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import Any

from assembler import __version__
from assembler.assistants import Assistants
from assembler.drawnahead import DRAWS, drawing_ahead
from assembler.earlier import (
    continued,
    issued_steps,
    since_book,
    write_changes,
)
from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.checks import figure_findings, plan_findings
from assembler.engineering.curing import minutes_at
from assembler.engineering.exposure import exposure_findings
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.loads import carried_loads
from assembler.engineering.worksheet import worksheet
from assembler.errors import Fault, InputError
from assembler.figure.findings import sort_findings
from assembler.figure.ids import BoltId, JointId, StepNumber
from assembler.figure.mesh import mesh_digest
from assembler.planned import Planned
from assembler.planning.explain import explain
from assembler.planning.finalstand import final_exposure
from assembler.planning.order import plan_build
from assembler.planning.verify import verify_plan
from assembler.project import Project, open_project
from assembler.projectfiles.bookfolder import DRAFT, PDF, issued_books, issued_place, read_book
from assembler.projectfiles.bookfolder import write_book as write_book_folder
from assembler.projectfiles.builtlog import BuiltStep, record_built
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.planfile import plan_record, read_plan
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

Progress = Callable[[str], None]


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
    from assembler import paper

    sheet = paper.contact_sheet(project)
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
    findings = (*findings, *built_findings, *refuted, *plan_findings(plan, bondings, settings))
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
        helpers.call(DRAWS)
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
        # Loaded now and not before: parts are read, and others begin to draw, the sooner.
        from assembler.illustrated import illustrated

        until_planned.close()

        def fill(scratch: Path) -> None:
            pictures = illustrated(planned, scratch, helpers, progress=progress)
            from assembler import paper

            paper.fill_book(planned, pictures, scratch, helpers, is_draft=not is_issue, progress=progress)

        write_book_folder(
            folder,
            fill,
            revision=revision if is_issue else "draft",
            version=__version__,
            digest=digest,
            is_issue=is_issue,
        )
    return BookReport(folder=folder, pdf=folder / PDF, is_unchanged=False, findings=planned.plan.findings)


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
    from assembler import paper

    sheet = paper.change_sheet(plan, project, found)
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
