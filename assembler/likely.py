"""What the next book will most likely show: after a re-cut most steps stay as they were drawn last.

In: parts that were read, of a project that was drawn before. Out: pictures on its shelf. A wrong guess costs nothing
but time: what the plan turns out to show is asked for by content.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from assembler.codemark import code_mark
from assembler.drawing.gallery import Likely, draw_ahead
from assembler.earlier import since_last
from assembler.engineering.patterns import tightening_order
from assembler.figure.ids import PartId, StepNumber, natural_key
from assembler.figure.joints import Joint
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.plan import Plan, Section, Step, View
from assembler.figure.shelf import Shelf
from assembler.partsread import PartsRead
from assembler.projectfiles.cachefolder import content_key
from assembler.reuse import CachedShelf


@dataclass(frozen=True, slots=True, kw_only=True)
class _Last:
    """What was drawn last; `solids` are digests of the meshes."""

    steps: tuple[Step, ...]
    sections: tuple[Section, ...]
    joints: tuple[Joint, ...]
    solids: dict[PartId, str]


def keep_drawn(plan: Plan, meshes: Mapping[PartId, Mesh], shelf: Shelf) -> None:
    """Remember a plan as it was drawn."""
    solids = {part: mesh_digest(mesh) for part, mesh in meshes.items()}
    # When a step was carried out is no value of JSON as it stands, and no picture shows it.
    steps = tuple(replace(step, done=None) for step in plan.steps)
    shelf.renew_value(_key(), asdict(_Last(steps=steps, sections=plan.sections, joints=plan.joints, solids=solids)))


def likely_book(read: PartsRead, shelf: Shelf) -> Likely | None:
    """What the next book of a project most likely shows; None if none was drawn before."""
    record = shelf.value(_key())
    try:
        last = _type().validate_python(record, by_alias=False, by_name=True) if record else None
    except ValidationError:
        # The shelf may lose anything; a damaged record is a lost one.
        return None
    if last is None:
        return None
    parts = {part.id for part in read.parts}
    plan = Plan(
        figure_name=read.settings.name,
        revision=read.settings.revision,
        up=read.settings.up,
        parts=read.parts,
        joints=tuple(joint for joint in last.joints if parts.issuperset(joint.parts)),
        steps=tuple(_with_heirs(last.steps, parts)),
        sections=last.sections,
        findings=(),
    )
    plan, since = since_last(plan, read.folder)
    same = {part for part, mesh in read.meshes.items() if last.solids.get(part) == mesh_digest(mesh)}
    return Likely(
        plan=plan,
        meshes=read.meshes,
        changing=_changing(plan, last.joints, same),
        unknown=_unknown(plan),
        tightening={joint.id: tightening_order(joint) for joint in plan.joints},
        marks=since.part_words,
        issued=since.views,
        printed=since.folder,
    )


def _with_heirs(steps: Iterable[Step], here: set[PartId]) -> Iterator[Step]:
    """Steps in whose background new parts take the place of those that are gone."""
    steps = tuple(steps)
    drawn = {part for step in steps for part in (*step.moves, *step.onto)}
    for step in steps:
        stays = [part for part in step.onto if part in here]
        heirs = here - drawn if len(stays) < len(step.onto) else set()
        yield replace(step, onto=tuple(sorted({*stays, *heirs}, key=natural_key)))


def _unknown(plan: Plan) -> set[StepNumber]:
    """Steps that move a part that is gone, or close a joint that is."""
    parts, joints = {part.id for part in plan.parts}, {joint.id for joint in plan.joints}
    return {
        step.number for step in plan.steps if not parts.issuperset(step.moves) or not joints.issuperset(step.joints)
    }


def _changing(plan: Plan, joints: Iterable[Joint], same: set[PartId]) -> dict[StepNumber, View]:
    """Steps that move or join parts that are not what they were, with their views; first those with fewest of them."""
    parts = {joint.id: {*joint.parts, *(part for bolt in joint.bolts for part in bolt.through)} for joint in joints}
    others = {step.number: {*step.moves}.union(*(parts[joint] for joint in step.joints)) - same for step in plan.steps}
    changing = [step for step in plan.steps if others[step.number]]
    return {step.number: step.view for step in sorted(changing, key=lambda step: len(others[step.number]))}


def draw_likely_book(read: PartsRead, out_dir: Path, is_wanted: Callable[[], bool]) -> None:
    """Draw it to the shelf of the project, until that is no longer wanted.

    Parameters
    ----------
    read
        The project.
    out_dir
        Gets files that nobody needs afterwards.
    is_wanted
        Asked before each piece of work.

    Raises
    ------
    DrawingError
        If this machine cannot draw.
    """
    shelf = CachedShelf(read.folder)
    likely = likely_book(read, shelf)
    if likely is not None:
        draw_ahead(likely, out_dir, shelf, is_wanted)


def _key() -> str:
    return content_key("drawn last", code_mark(("figure",), ("pydantic",)))


@cache
def _type() -> TypeAdapter[_Last]:
    return TypeAdapter(_Last)
