"""One joint, part or step, looked at without a book: a sheet with its pictures, as PNG.

In: a project folder and an id. Out: the file. A step is drawn as it is printed; a joint or a part by the same means,
as if it were a step that brings it to its neighbours.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path, PurePath

import numpy as np
from numpy.typing import NDArray

from assembler.cache import Cache, code_mark, content_key
from assembler.drawing.drawnstep import Notes
from assembler.drawing.pictures import draw_one_step, draw_section
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.patterns import tightening_order
from assembler.errors import Fault, InputError
from assembler.figure.hardware import Stack
from assembler.figure.ids import STEP_NUMBER, BenchId, PartId, SectionId, StepNumber, natural_key
from assembler.figure.joints import Bolt, Joint, Place
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Part
from assembler.figure.pictures import Picture
from assembler.figure.plan import Access, Move, Plan, Section, Step, StepKind
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
from assembler.projectfiles.writing import copy_whole
from assembler.publishing.contactsheet import Look, write_look
from assembler.words import built_in

MOST_PICTURES = 9
"""The main one and the details that a sheet has room for."""
_DPI = "150"
_AWAY_MM = 2000.0
"""How far off a part may be drawn; drawing takes what it needs of it."""
_NAMED_ALONE = StepNumber("0")
_AGAINST = 0.3
"""Cosine above which a neighbour lies on the way that a part is drawn back."""
_OF_A_PLAN = re.compile(rf"S\d+|{STEP_NUMBER}")
_PLACES = {Place.SHOP: "in the shop", Place.SITE: "on site"}

Planner = Callable[[Project, Cache], Plan]


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


def show_one(root: Path, name: str, *, planner: Planner, progress: Callable[[str], None]) -> Path:
    """A picture of one joint, part, section or step.

    Parameters
    ----------
    root
        The project folder.
    name
        Id of a joint, a part or a section, or number of a step.
    planner
        Plans the build, asked where a step or a section is wanted and no draft of today has one.
    progress
        Takes one line at a time.

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
    kept = Cache(folder.kept)
    seen = _seen(folder, progress, kept)

    def planned() -> Plan:
        progress("planning: no draft of today has it")
        return planner(open_project(folder.root, progress), kept)

    drawn = _found(folder, seen, name, planned)
    target = folder.shown
    target.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        beside = Path(scratch)
        pictures = _pictures(drawn, seen, beside, kept)
        named = [f"{ref}: {what}" for ref, what in pictures[0].legend if ref != what] if drawn.is_printed else []
        look = Look(title=drawn.title, facts=(*drawn.facts, *named), pictures=pictures[:MOST_PICTURES])
        sheet = write_look(look, beside, overrides=folder.overrides)
        return _as_png(sheet, target / drawn.stem)


def _pictures(drawn: _Drawn, seen: _Seen, beside: Path, kept: Cache) -> tuple[Picture, ...]:
    if isinstance(drawn.what, Section):
        return draw_section(drawn.plan, seen.meshes, beside, drawn.what.id, kept)
    order = {joint.id: tightening_order(joint) for joint in seen.joints} if drawn.is_printed else {}
    # Copies that are drawn are as fine as the figure is large: a joint alone needs its own parts only.
    joined = (part for joint in seen.joints if joint.id in drawn.what.joints for part in joint.parts)
    own = set(seen.meshes) if drawn.is_printed else {*drawn.what.moves, *drawn.what.onto, *joined}
    near = {part: mesh for part, mesh in seen.meshes.items() if part in own}
    return draw_one_step(
        drawn.plan,
        near,
        beside,
        drawn.plan.steps.index(drawn.what),
        faces_only=not drawn.is_printed,
        notes=Notes(tightening=order),
        kept=kept,
    )


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
    """What is drawn: a step or a section of a plan, with the words above it; `stem` names the file."""

    plan: Plan
    what: Step | Section
    title: str
    facts: tuple[str, ...]
    stem: str
    is_printed: bool = True


def _found(folder: ProjectFolder, seen: _Seen, name: str, planned: Callable[[], Plan]) -> _Drawn:
    joint = next((one for one in seen.joints if one.id == name), None)
    if joint is not None:
        return _joint_drawn(seen, joint)
    if name in seen.parts:
        return _part_drawn(seen, PartId(name))
    known = [*(joint.id for joint in seen.joints), *seen.parts]
    if not _OF_A_PLAN.fullmatch(name):
        raise _unknown(name, known)
    plan = _newest_plan(folder) or planned()
    section = next((one for one in plan.sections if one.id == name), None)
    if section is not None:
        size = " x ".join(f"{edge:.0f}" for edge in section.size_mm)
        facts = (f"{size} mm, {section.mass_kg:.1f} kg", ", ".join(seen.name(part) for part in section.parts))
        return _Drawn(plan=plan, what=section, title=f"Section {name}", facts=facts, stem=f"section-{name}")
    if name not in {step.number for step in plan.steps}:
        raise _unknown(name, [*known, *(one.id for one in plan.sections), *(one.number for one in plan.steps)])
    return _step_drawn(seen, plan, name)


def _unknown(name: str, known: Sequence[str]) -> InputError:
    near = get_close_matches(name.upper(), known, n=3, cutoff=0.5)
    right = f"near it: {', '.join(sorted(near, key=natural_key))}" if near else "an id such as J03, P07, S1, or 12"
    wrong = f"there is no joint, part, section or step {name!r}"
    return InputError(Fault(file="", place="NAME", wrong=wrong, right=right))


def _step_drawn(seen: _Seen, plan: Plan, name: str) -> _Drawn:
    fitted = {stack.bolt: stack for stack in seen.stacks}
    steps = tuple(
        replace(step, stacks=tuple(fitted[one.bolt] for one in step.access if one.bolt in fitted))
        for step in plan.steps
    )
    step = next(step for step in steps if step.number == name)
    title = f"Step {step.number}: {built_in().text(step.title)}"
    return _Drawn(
        plan=replace(plan, steps=steps),
        what=step,
        title=title,
        facts=tuple(map(built_in().text, step.why)),
        stem=f"step-{step.number}",
    )


def _newest_plan(folder: ProjectFolder) -> Plan | None:
    """The plan of the draft, where that is of today."""
    place = folder.books / DRAFT
    if not is_there(place / RECORD):
        return None
    book = read_book(place)
    return read_plan(place / "plan.json") if book.read == input_digest(folder) else None


def _joint_drawn(seen: _Seen, joint: Joint) -> _Drawn:
    """The lighter part before the other one and what stands beside it; what is in its way is left out."""
    first, second = joint.parts
    moved = min(joint.parts, key=lambda part: (seen.parts[part].mass_kg, natural_key(part)))
    still = second if moved == first else first
    near = {
        other: _outward(one, part)
        for part in (moved, still)
        for one in seen.joints
        if part in one.parts and (other := _other(one, part)) not in joint.parts
    }
    back = np.negative(_outward(joint, moved))
    in_the_way = {
        _other(one, moved) for one in seen.joints if moved in one.parts and _outward(one, moved) @ back > _AGAINST
    } - {still}
    beside = sorted(set(near) - in_the_way, key=natural_key)
    facts = (
        f"{joint.method.value}, closed {_PLACES[joint.made]}; {joint.bond_area_mm2 / 100:.1f} cm², "
        f"seam {joint.seam_mm:.0f} mm, gap {joint.gap_mm:.2f} mm",
        *_bolt_facts(seen, joint),
        f"neighbours: {_names(seen, beside)}",
        *([f"not drawn, since they are in the way of {moved}: {_names(seen, in_the_way)}"] if in_the_way else []),
    )
    x, y, z = np.negative(back).tolist()
    step = replace(
        _step_alone(seen, (joint,)),
        moves=(moved,),
        onto=(still, *beside),
        path=(Move(direction=(x, y, z), travel_mm=_AWAY_MM),),
        stacks=tuple(stack for stack in seen.stacks if stack.bolt in {bolt.id for bolt in joint.bolts}),
        access=tuple(_access(bolt) for bolt in joint.bolts),
    )
    return _alone(seen, step, f"{joint.id}: {seen.name(first)} to {seen.name(second)}", facts, joint.id)


def _part_drawn(seen: _Seen, part: PartId) -> _Drawn:
    """The part by itself, with the faces that it is joined at."""
    own = [joint for joint in seen.joints if part in joint.parts]
    about = seen.parts[part]
    size = " x ".join(f"{edge:.0f}" for edge in about.size_mm)
    facts = (
        f"{about.file}: {size} mm, {about.mass_kg:.2f} kg of {about.material}",
        *(f"{one.id}: to {seen.name(_other(one, part))}, {one.method.value}, {_bolts(one)}" for one in own),
    )
    step = replace(_step_alone(seen, own), onto=(part,))
    return _alone(seen, step, f"Part {seen.name(part)}", facts, part)


def _bolts(joint: Joint) -> str:
    return f"{len(joint.bolts)} bolt{'' if len(joint.bolts) == 1 else 's'}" if joint.bolts else "no bolts"


def _other(joint: Joint, part: PartId) -> PartId:
    return joint.parts[1] if joint.parts[0] == part else joint.parts[0]


def _outward(joint: Joint, part: PartId) -> NDArray[np.float64]:
    """Normal of the face of a part, out of the part."""
    return np.asarray(joint.normal) * (1.0 if joint.parts[0] == part else -1.0)


def _names(seen: _Seen, parts: Iterable[PartId]) -> str:
    return ", ".join(seen.name(part) for part in sorted(parts, key=natural_key)) or "none"


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


def _step_alone(seen: _Seen, joints: Sequence[Joint]) -> Step:
    """A step outside of any plan, with nothing in it but joints."""
    return Step(
        number=_NAMED_ALONE,
        title="",
        kind=StepKind.JOIN,
        place=Place.SHOP,
        bench=BenchId("B1"),
        section=SectionId("S1"),
        up=seen.settings.up,
        moves=(),
        onto=(),
        path=(),
        joints=tuple(joint.id for joint in joints),
    )


def _alone(seen: _Seen, step: Step, title: str, facts: tuple[str, ...], stem: str) -> _Drawn:
    plan = Plan(
        figure_name=seen.settings.name,
        revision=seen.settings.revision,
        up=seen.settings.up,
        parts=tuple(seen.parts.values()),
        joints=seen.joints,
        steps=(step,),
        sections=(),
        findings=(),
    )
    return _Drawn(plan=plan, what=step, title=title, facts=facts, stem=stem, is_printed=False)


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
        return _copied(sheet, stem.with_suffix(".pdf"))
    made = sheet.with_suffix("")
    subprocess.run([converter, "-png", "-singlefile", "-r", _DPI, str(sheet), str(made)], check=True)
    return _copied(made.with_suffix(".png"), stem.with_suffix(".png"))


def _copied(made: Path, target: Path) -> Path:
    copy_whole(made, target)
    return target
