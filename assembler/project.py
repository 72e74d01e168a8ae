"""A project as it stands on disk, brought up to date with its parts folder: settings, parts, meshes, joints."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from assembler.engineering.questions import Decision, open_decisions
from assembler.errors import Fault, ProjectFileError
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import PartId, natural_key
from assembler.figure.joints import Joint
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Settings
from assembler.figure.tolerances import Tolerances
from assembler.filegate import is_there
from assembler.geometry.fingerprints import fingerprint
from assembler.projectfiles.figurefile import UNITS_MM, check_part_ids, read_settings, settings_of
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml
from assembler.projectfiles.folder import ProjectFolder, take_in_parts
from assembler.projectfiles.idledger import Ledger, issue_part_ids, read_ledger, write_ledger
from assembler.projectfiles.jointedit import write_joints
from assembler.projectfiles.jointmerge import Merged, merge_survey
from assembler.projectfiles.jointsfile import read_joints
from assembler.projectfiles.jointstext import read_surveyed, write_surveyed
from assembler.projectfiles.keptmeshes import keep_meshes, kept_meshes
from assembler.projectfiles.toml import plain
from assembler.projectfiles.writing import write_whole
from assembler.recut.identity import Motion, figure_motion, figure_shift, moved_back, renamed_files, restated_unit
from assembler.recut.likeness import is_unchanged
from assembler.survey.crossings import self_crossings
from assembler.survey.groundholes import ground_holes
from assembler.survey.intake import Intake, make_parts, read_parts
from assembler.survey.jointfaces import JointFace
from assembler.survey.joints import Survey, in_numbers, survey_joints
from assembler.survey.partcheck import check_parts
from assembler.words import both, say

Progress = Callable[[str], None]
_BASE_NAME = re.compile(r"\b(base|plinth|pedestal|sockel|socle)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Project:
    """Everything read, nothing planned yet.

    Parameters
    ----------
    folder
        Where it lies.
    settings, parts, meshes, joints
        Up to date with each other; `parts` and `joints` in the order of their ids.
    healed
        What was mended in the meshes, one line a part.
    findings
        From intake and survey.
    questions
        What the shop has not decided yet.
    faces
        Every joint seen face-on, where this run surveyed; empty otherwise.
    """

    folder: ProjectFolder
    settings: Settings
    parts: tuple[Part, ...]
    meshes: Mapping[PartId, Mesh]
    joints: tuple[Joint, ...]
    healed: tuple[str, ...]
    findings: tuple[Finding, ...]
    questions: tuple[Decision, ...]
    faces: tuple[JointFace, ...] = ()


def open_project(
    root: Path,
    progress: Progress,
    *,
    parts_from: Path | None = None,
    unit: str | None = None,
    is_quick: bool = False,
) -> Project:
    """Read a project; survey it anew if its parts have changed since the last survey.

    Parameters
    ----------
    root
        The project folder.
    progress
        Takes one line at a time.
    parts_from
        Folder to take the parts from; None: the project's own. Giving it always surveys.
    unit
        Unit of mesh files that state none, for a project that has no figure.toml yet; where it has one, the same.
    is_quick
        Whether a survey leaves out the check of each part for faces that pass through each other.

    Raises
    ------
    InputError
        If something cannot be used; nothing is written then.

    Notes
    -----
    First everything is read, then judged, then written.
    """
    folder = ProjectFolder(root)
    settings = _settings(folder, unit, is_new=parts_from is not None)
    ledger = read_ledger(folder.ids)
    intake = _read_intake(parts_from or folder.parts, settings, unit, progress)
    intake = _in_first_place(intake, settings)
    prints = {body.file: body.fingerprint for body in intake.bodies}
    shifted = figure_shift(prints, ledger)
    motion = figure_motion(prints, ledger)
    unit_mm = settings.unit_mm if settings is not None else UNITS_MM[unit or "mm"]
    restated = restated_unit(motion, ledger.unit_mm, unit_mm) if motion is not None else None
    if restated is not None:
        shifted = restated
    elif motion is not None:
        # Everything goes on from the last good export; the finding says what to mend.
        intake = _with_meshes(intake, {body.file: moved_back(body.mesh, motion) for body in intake.bodies})
        prints = {body.file: body.fingerprint for body in intake.bodies}
    known = {entry.id: entry.fingerprint for entry in ledger.parts if not entry.is_retired}
    renamed = renamed_files(prints, ledger)
    ledger, ids = issue_part_ids(replace(ledger, unit_mm=unit_mm), prints, renamed)
    first_text = ""
    if settings is None:
        first_text = figure_toml(_first_guess(root, intake, ids, unit))
        settings = settings_of(plain(first_text, folder.figure), folder.figure)
    check_part_ids(settings, tuple(sorted(ids.values(), key=natural_key)), folder.figure)
    kept = kept_meshes(
        folder.kept_meshes,
        {ids[body.file]: body.mesh for body in intake.bodies},
        {ids[body.file]: body.fingerprint for body in intake.bodies},
        lambda mesh, mark: is_unchanged(fingerprint(mesh), mark),
    )
    intake = _with_meshes(intake, {body.file: kept[ids[body.file]] for body in intake.bodies})
    parts = make_parts(intake, ids, settings)
    meshes = {ids[body.file]: body.mesh for body in intake.bodies}
    meshes = {part.id: meshes[part.id] for part in parts}
    is_changed = set(known) != set(ids.values()) or any(
        not is_unchanged(part.fingerprint, known[part.id]) for part in parts
    )
    findings = [*intake.findings, *check_parts(parts, meshes, settings), *((shifted,) if shifted else ())]
    outcome = _Surveyed()
    if parts_from is not None or is_changed or not is_there(folder.joints):
        merged, survey = _survey(folder, meshes, settings, ledger, progress)
        findings += () if is_quick else self_crossings(meshes, progress)
        if parts_from is not None:
            take_in_parts(parts_from, folder)
        if first_text:
            write_whole(folder.figure, first_text)
        outcome = _written(folder, merged, survey)
        findings += outcome.findings
        if not settings.base.anchors:
            findings += ground_holes(meshes, merged.joints, settings.up)
    joints = read_joints(folder.joints, _known_parts(meshes, ledger), read_surveyed(folder.surveyed))
    joints, orphans = _with_both_parts(joints, meshes)
    findings += orphans
    keep_meshes(folder.kept_meshes, meshes)
    return Project(
        folder=folder,
        settings=settings,
        parts=parts,
        meshes=meshes,
        joints=joints,
        healed=tuple(f"{ids[body.file]} {', '.join(body.notes)}" for body in intake.bodies if body.notes),
        findings=sort_findings(findings),
        questions=open_decisions(settings, joints, {part.id: part.file for part in parts}),
        faces=outcome.faces,
    )


def _settings(folder: ProjectFolder, unit: str | None, *, is_new: bool) -> Settings | None:
    """What figure.toml says; None for a project that is to come."""
    root = folder.root
    if root.exists() and not root.is_dir():
        fault = Fault(file=str(root), place="", wrong="is a file, not a folder", right="name a folder for the project")
        raise ProjectFileError(fault)
    if not is_there(folder.figure):
        if is_new:
            return None
        raise ProjectFileError(
            Fault(
                file=str(root),
                place="",
                wrong="this is no project folder: it has no figure.toml",
                right=f"run 'assembler survey PARTS_DIR {root}' first",
            )
        )
    settings = read_settings(folder.figure)
    if unit is not None and UNITS_MM[unit] != settings.unit_mm:
        raise ProjectFileError(_other_unit(folder.figure, settings, unit))
    return settings


def _other_unit(figure: Path, settings: Settings, unit: str) -> Fault:
    stated = next((name for name, length in UNITS_MM.items() if length == settings.unit_mm), "")
    wrong = f'got --unit {unit}, but the project has figure.unit = "{stated}"'
    right = "leave --unit out, or change the unit in figure.toml if that one is wrong"
    return Fault(file=str(figure), place="figure.unit", wrong=wrong, right=right)


def _in_first_place(intake: Intake, settings: Settings | None) -> Intake:
    """The intake without the shift that figure.toml states as meant."""
    if settings is None or settings.moved_mm == (0.0, 0.0, 0.0):
        return intake
    meant = Motion(factor=1.0, shift_mm=settings.moved_mm, turn=None, parts=len(intake.bodies))
    return _with_meshes(intake, {body.file: moved_back(body.mesh, meant) for body in intake.bodies})


def _with_meshes(intake: Intake, meshes: Mapping[str, Mesh]) -> Intake:
    """The intake with other meshes for the same files; what was measured on a mesh is measured anew."""
    bodies = [
        body
        if meshes[body.file] is body.mesh
        else replace(body, mesh=meshes[body.file], fingerprint=fingerprint(meshes[body.file]))
        for body in intake.bodies
    ]
    return replace(intake, bodies=tuple(bodies))


def _known_parts(meshes: Mapping[PartId, Mesh], ledger: Ledger) -> tuple[PartId, ...]:
    """Parts that joints.toml may name: those that are there, and those whose file is gone."""
    return tuple(meshes) + tuple(entry.id for entry in ledger.parts if entry.is_retired)


def _with_both_parts(joints: Sequence[Joint], meshes: Mapping[PartId, Mesh]) -> tuple[tuple[Joint, ...], list[Finding]]:
    """Joints that can be planned, and a finding for each one of which a part is missing."""
    there = [joint for joint in joints if {*joint.parts, *_pierced(joint)} <= meshes.keys()]
    return tuple(there), [
        Finding(
            level=Level.WARN,
            code="joint-without-part",
            about=(joint.id, *joint.parts),
            message=say("finding.joint-without-part", joint=joint.id, parts=both(joint.parts)),
            remedy=say("remedy.joint-without-part"),
        )
        for joint in joints
        if joint not in there
    ]


def _pierced(joint: Joint) -> set[PartId]:
    return {part for bolt in joint.bolts for part in bolt.through}


def _read_intake(source: Path, settings: Settings | None, unit: str | None, progress: Progress) -> Intake:
    unit_mm = settings.unit_mm if settings is not None else UNITS_MM.get(unit or "")
    tolerances = settings.tolerances if settings is not None else Tolerances()
    progress(f"reading the parts in {source}")
    return read_parts(source, unit_mm=unit_mm, tolerances=tolerances, progress=progress)


def _first_guess(root: Path, intake: Intake, ids: Mapping[str, PartId], unit: str | None) -> FirstGuess:
    bases = sorted((part for file, part in ids.items() if _BASE_NAME.search(file)), key=natural_key)
    has_silent_files = any(body.unit_origin != "stated" for body in intake.bodies)
    name = root.resolve().name.replace("-", " ").replace("_", " ").strip() or "figure"
    return FirstGuess(
        name=name[0].upper() + name[1:],
        unit=(unit or "mm") if has_silent_files or unit else "",
        base_part=bases[0] if len(bases) == 1 else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Surveyed:
    """What a survey has to say beside what it wrote, in the numbers of this project."""

    findings: tuple[Finding, ...] = ()
    faces: tuple[JointFace, ...] = ()


def _survey(
    folder: ProjectFolder,
    meshes: Mapping[PartId, Mesh],
    settings: Settings,
    ledger: Ledger,
    progress: Progress,
) -> tuple[Merged, Survey]:
    """Survey, and merge with joints.toml; nothing is written yet."""
    last = read_surveyed(folder.surveyed)
    in_file = read_joints(folder.joints, _known_parts(meshes, ledger), last) if is_there(folder.joints) else None
    survey = survey_joints(meshes, settings.tolerances, up=settings.up, progress=progress)
    return merge_survey(survey.joints, last=last, in_file=in_file, ledger=ledger), survey


def _written(folder: ProjectFolder, merged: Merged, survey: Survey) -> _Surveyed:
    """Write what a survey changed, the ledger last, so that a crash repeats the survey."""
    write_joints(folder.joints, merged.joints)
    write_surveyed(folder.surveyed, merged.surveyed)
    write_ledger(folder.ids, merged.ledger)
    told = in_numbers(survey, merged.names)
    return _Surveyed(findings=(*told.findings, *merged.findings), faces=told.faces)
