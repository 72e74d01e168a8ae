"""One joint, part or step, looked at without a book: a sheet with its pictures, as PNG.

In: a project folder and an id. Out: the file. A step is drawn as it is printed; a joint or a part by the same means,
as if it were a step that brings it to its neighbours.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import Literal

import numpy as np

from assembler.cache import Cache, code_mark, content_key
from assembler.drawing.drawnstep import Notes
from assembler.drawing.pictures import draw_one_step
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.patterns import tightening_order
from assembler.errors import Fault, InputError
from assembler.figure.hardware import Stack
from assembler.figure.ids import BenchId, PartId, SectionId, StepNumber, natural_key
from assembler.figure.joints import Bolt, Joint, Place
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Part, Vector
from assembler.figure.plan import Access, Move, Plan, Step, StepKind
from assembler.figure.records import read_as, record_of
from assembler.figure.settings import Settings
from assembler.filegate import is_there
from assembler.project import Project, open_project
from assembler.projectfiles.bookfolder import DRAFT, RECORD, read_book
from assembler.projectfiles.figurefile import read_settings
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.jointsfile import read_joints
from assembler.projectfiles.jointstext import read_surveyed
from assembler.projectfiles.keptmeshes import stored_meshes
from assembler.projectfiles.planfile import read_plan
from assembler.publishing.contactsheet import Look, write_look

SHOWN = "shown"
"""Folder of the project that the pictures go to."""
_DPI = "150"
_DETAILS = 3
_AWAY_MM = 2000.0
"""How far off a part may be drawn; drawing takes what it needs of it."""
_NAMED_ALONE = StepNumber("0")

Planner = Callable[[Project], Plan]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """A project as far as it is looked at."""

    settings: Settings
    parts: Mapping[PartId, Part]
    joints: tuple[Joint, ...]
    meshes: Mapping[PartId, Mesh]
    stacks: tuple[Stack, ...]

    def name(self, part: PartId) -> str:
        """A part as the shop knows it, its id beside."""
        name = PurePath(self.parts[part].file).stem
        return f"{name} ({part})" if name != part else part


def remember(project: Project, kept: Cache) -> None:
    """Keep what a project looked like when it was opened, so that the next look need not read its part files."""
    solids = {part: mesh_digest(mesh) for part, mesh in project.meshes.items()}
    kept.keep(_key(project.folder), {"parts": [record_of(part) for part in project.parts], "solids": solids})
    kept.save()


def _key(folder: ProjectFolder) -> str:
    marks = code_mark(("survey", "geometry", "projectfiles", "figure"), ("numpy", "trimesh", "manifold3d"))
    return content_key("opened", marks, input_digest(folder))


def show_one(root: Path, name: str, *, planner: Planner, progress: Callable[[str], None], kept: Cache) -> Path:
    """A picture of one joint, part or step.

    Parameters
    ----------
    root
        The project folder.
    name
        Id of a joint or a part, or number of a step.
    planner
        Plans the build, asked where a step is wanted and no draft of today has one.
    progress
        Takes one line at a time.
    kept
        What earlier runs made.

    Returns
    -------
    Path
        A PNG file; a PDF where this machine has nothing that makes one of it.

    Raises
    ------
    InputError
        If the project cannot be used, or has nothing of that name.
    DrawingError
        If this machine cannot draw.
    """
    folder = ProjectFolder(root)
    seen = _seen(folder, progress, kept)
    drawn = _plan_of(folder, seen, name, planner, progress)
    target = folder.inside(SHOWN)
    target.mkdir(exist_ok=True)
    step = drawn.plan.steps[drawn.index]
    with tempfile.TemporaryDirectory() as scratch:
        beside = Path(scratch)
        order = {joint.id: tightening_order(joint) for joint in seen.joints} if drawn.is_printed else {}
        near = seen.meshes if drawn.is_printed else {part: seen.meshes[part] for part in (*step.moves, *step.onto)}
        pictures = draw_one_step(
            drawn.plan, near, beside, drawn.index, details=drawn.details, notes=Notes(tightening=order), kept=kept
        )
        look = Look(title=drawn.title, facts=drawn.facts, pictures=pictures[: 1 + _DETAILS])
        sheet = write_look(look, beside, sheet=seen.settings.sheet, overrides=folder.overrides)
        stem = f"step-{step.number}" if drawn.is_printed else name
        return _as_png(sheet, target / stem)


def _seen(folder: ProjectFolder, progress: Callable[[str], None], kept: Cache) -> _Seen:
    """The project; from what was kept, where its files are what they were."""
    settings = read_settings(folder.figure)
    known = kept.value(_key(folder)) if is_there(folder.joints) else None
    parts = tuple(read_as(Part, record) for record in known["parts"]) if known else ()
    meshes: Mapping[PartId, Mesh] | None = stored_meshes(folder.kept_meshes, known["solids"]) if known else None
    if meshes is None:
        project = open_project(folder.root, progress)
        remember(project, kept)
        parts, meshes = project.parts, project.meshes
    joints = read_joints(folder.joints, [part.id for part in parts], read_surveyed(folder.surveyed))
    stacks, _ = stacks_for_joints(joints, settings, {part.id: settings.material_of(part.id) for part in parts})
    return _Seen(
        settings=settings, parts={part.id: part for part in parts}, joints=joints, meshes=meshes, stacks=stacks
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Drawn:
    """What is drawn: a step of a plan, with the words above it."""

    plan: Plan
    index: int
    title: str
    facts: tuple[str, ...]
    details: Literal["all", "faces", "none"]

    @property
    def is_printed(self) -> bool:
        """Whether a page of the book has this step."""
        return self.details == "all"


def _plan_of(
    folder: ProjectFolder, seen: _Seen, name: str, planner: Planner, progress: Callable[[str], None]
) -> _Drawn:
    joint = next((one for one in seen.joints if one.id == name), None)
    if joint is not None:
        return _joint_drawn(seen, joint)
    if name in seen.parts:
        return _part_drawn(seen, PartId(name))
    plan = _newest_plan(folder) or planner(open_project(folder.root, progress))
    index = next((index for index, step in enumerate(plan.steps) if step.number == name), None)
    if index is None:
        known = f"joints {_ends(one.id for one in seen.joints)}, parts {_ends(seen.parts)}, steps "
        right = known + _ends(step.number for step in plan.steps)
        raise InputError(Fault(file="", place="NAME", wrong=f"there is no joint, part or step {name!r}", right=right))
    fitted = {stack.bolt: stack for stack in seen.stacks}
    steps = tuple(
        replace(step, stacks=tuple(fitted[one.bolt] for one in step.access if one.bolt in fitted))
        for step in plan.steps
    )
    step = steps[index]
    return _Drawn(
        plan=replace(plan, steps=steps),
        index=index,
        title=f"Step {step.number}: {step.title}",
        facts=tuple(step.why),
        details="all",
    )


def _ends(names: object) -> str:
    every = sorted(names, key=natural_key)  # type: ignore[call-overload]
    return f"{every[0]} to {every[-1]}" if every else "none"


def _newest_plan(folder: ProjectFolder) -> Plan | None:
    """The plan of the draft, where that is of today."""
    place = folder.books / DRAFT
    if not is_there(place / RECORD):
        return None
    book = read_book(place)
    return read_plan(place / "plan.json") if book.read == input_digest(folder) else None


def _joint_drawn(seen: _Seen, joint: Joint) -> _Drawn:
    first, second = joint.parts
    moved = min(joint.parts, key=lambda part: (seen.parts[part].mass_kg, natural_key(part)))
    away = joint.normal if moved == first else _turned(joint.normal)
    near = [one for one in seen.joints if set(one.parts) & set(joint.parts)]
    facts = (
        f"{joint.method.value}, closed in the {joint.made.value}; {joint.bond_area_mm2 / 100:.1f} cm2, "
        f"seam {joint.seam_mm:.0f} mm, gap {joint.gap_mm:.2f} mm",
        *_bolt_facts(seen, joint),
        _neighbours(seen, near, joint.parts),
    )
    title = f"{joint.id}: {seen.name(first)} to {seen.name(second)}"
    return _alone(seen, moved, away, (joint,), near, title, facts, "faces")


def _part_drawn(seen: _Seen, part: PartId) -> _Drawn:
    own = [joint for joint in seen.joints if part in joint.parts]
    pull = np.zeros(3)
    for joint in own:
        pull += np.asarray(joint.normal) * joint.bond_area_mm2 * (1.0 if joint.parts[0] == part else -1.0)
    length = float(np.linalg.norm(pull))
    # A ring closed all round is pulled nowhere: up is as good a way as any to show it.
    x, y, z = (pull / length).tolist() if length > 1e-6 else seen.settings.up
    about = seen.parts[part]
    size = " x ".join(f"{edge:.0f}" for edge in about.size_mm)
    facts = (
        f"{about.file}: {size} mm, {about.mass_kg:.2f} kg of {about.material}",
        *(f"{one.id}: to {seen.name(_other(one, part))}, {one.method.value}, {len(one.bolts)} bolts" for one in own),
    )
    return _alone(seen, part, (x, y, z), own, own, f"Part {seen.name(part)}", facts, "none")


def _other(joint: Joint, part: PartId) -> PartId:
    return joint.parts[1] if joint.parts[0] == part else joint.parts[0]


def _neighbours(seen: _Seen, near: Sequence[Joint], pair: Sequence[PartId]) -> str:
    others = sorted({part for one in near for part in one.parts} - set(pair), key=natural_key)
    return "beside it: " + (", ".join(seen.name(part) for part in others) or "nothing")


def _bolt_facts(seen: _Seen, joint: Joint) -> list[str]:
    """Bolts that are alike, a line each."""
    fitted = {stack.bolt: stack for stack in seen.stacks}
    kinds: dict[str, list[str]] = {}
    for bolt in joint.bolts:
        stack = fitted.get(bolt.id)
        what = f"{stack.size} x {stack.length_mm:g}" if stack else "no bolt of the tables fits"
        line = f"hole {bolt.hole_mm:.1f} mm, grip {bolt.grip_mm:.1f} mm, {what}, head in {seen.name(_head_part(bolt))}"
        kinds.setdefault(line, []).append(bolt.id.rpartition(".")[2])
    return [f"bolt {', '.join(numbers)}: {line}" for line, numbers in kinds.items()]


def _head_part(bolt: Bolt) -> PartId:
    """Where the head goes as far as it is known: before a plan, on the preferred side."""
    return bolt.through[-1 if bolt.head_end else 0]


def _turned(vector: Vector) -> Vector:
    x, y, z = vector
    return (-x, -y, -z)


def _alone(
    seen: _Seen,
    part: PartId,
    into: Vector,
    joints: Sequence[Joint],
    near: Sequence[Joint],
    title: str,
    facts: tuple[str, ...],
    details: Literal["faces", "none"],
) -> _Drawn:
    """A plan of one step that brings a part to its neighbours along a direction, closing some joints."""
    others = sorted({one for joint in near for one in joint.parts} - {part}, key=natural_key)
    bolts = {bolt.id: bolt for joint in joints for bolt in joint.bolts}
    step = Step(
        number=_NAMED_ALONE,
        title=title,
        kind=StepKind.JOIN,
        place=Place.SHOP,
        bench=BenchId("B1"),
        section=SectionId("S1"),
        up=seen.settings.up,
        moves=(part,),
        onto=tuple(others),
        path=(Move(direction=into, travel_mm=_AWAY_MM),),
        joints=tuple(joint.id for joint in joints),
        stacks=tuple(stack for stack in seen.stacks if stack.bolt in bolts),
        access=tuple(_access(bolt) for bolt in bolts.values()),
    )
    return _Drawn(
        plan=Plan(
            figure_name=seen.settings.name,
            revision=seen.settings.revision,
            up=seen.settings.up,
            parts=tuple(seen.parts.values()),
            joints=seen.joints,
            steps=(step,),
            sections=(),
            findings=(),
        ),
        index=0,
        title=title,
        facts=facts,
        details=details,
    )


def _access(bolt: Bolt) -> Access:
    """Which end the head is at; whether it can be reached is no question here."""
    head, nut = _head_part(bolt), bolt.through[0 if bolt.head_end else -1]
    return Access(
        bolt=bolt.id,
        head_part=head,
        nut_part=nut,
        head_end=bolt.head_end or 0,
        tool="",
        head="",
        nut="",
        reach_mm=0.0,
        is_reachable=True,
    )


def _as_png(sheet: Path, stem: Path) -> Path:
    """The sheet as PNG by the system's converter; where there is none, as it is."""
    converter = shutil.which("pdftoppm")
    if converter is None:
        return Path(shutil.copyfile(sheet, stem.with_suffix(".pdf")))
    made = sheet.with_suffix("")
    subprocess.run([converter, "-png", "-singlefile", "-r", _DPI, str(sheet), str(made)], check=True)
    return Path(shutil.copyfile(made.with_suffix(".png"), stem.with_suffix(".png")))
