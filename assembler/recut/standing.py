"""What stands, and which of it a re-cut touches.

The as-built log and two plans go in; done steps, and for each touched part the steps that would have to be undone,
come out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass

from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan, StepKind
from assembler.projectfiles.builtlog import BuiltStep
from assembler.recut.changes import Fate, PartFate
from assembler.recut.jointfates import compare_joints
from assembler.recut.likeness import SAME, distance
from assembler.recut.partfates import compare_parts
from assembler.words import Said, say


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What the crew has built.

    Parameters
    ----------
    steps
        Indices of done steps in the issued plan.
    joints
        Joints closed for good.
    brought
        Index of the done step that brought each part in (or found it standing, for the very first).
    """

    steps: frozenset[int]
    joints: frozenset[JointId]
    brought: Mapping[PartId, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Touch:
    """One thing that is built and does not fit the new plan.

    Parameters
    ----------
    part
        What was cut again, or has to make room.
    why
        In words.
    steps
        Done steps, by index in the issued plan, that have to be undone.
    bonded
        Joints among them that are bonded and so cannot be.
    """

    part: PartId
    why: Said
    steps: frozenset[int]
    bonded: tuple[JointId, ...]


def what_stands(built: Sequence[BuiltStep], issued: Plan) -> Standing:
    """What is built, as far as the issued book knows the steps."""
    numbers = {entry.step: entry for entry in built}
    done = [index for index, step in enumerate(issued.steps) if step.number in numbers]
    joints: set[JointId] = set()
    brought: dict[PartId, int] = {}
    for index in done:
        step = issued.steps[index]
        if step.kind is StepKind.OPEN:
            for part in step.moves:
                brought.pop(part, None)
            continue
        if step.kind is not StepKind.DRY_FIT:
            joints.update((*step.joints, *numbers[step.number].joints))
            for part in step.moves:
                brought[part] = index
            for part in step.onto:
                brought.setdefault(part, index)
    return Standing(steps=frozenset(done), joints=frozenset(joints), brought=brought)


def touches(issued: Plan, new: Plan, standing: Standing, overtaken: Mapping[int, Said]) -> tuple[Touch, ...]:
    """Everything built that the new plan does not leave alone, in the order of ids.

    Parameters
    ----------
    issued, new
        The plans of two books.
    standing
        What is built.
    overtaken
        Done steps, by index in the issued plan, before which something new has to be done, with the reason.
    """
    found = [
        *_touched_parts(issued, new, standing),
        *_touched_joints(issued, new, standing),
        *_touched_steps(issued, standing, overtaken),
    ]
    # A part that is named once is dealt with, whatever else speaks for taking it out.
    first: dict[PartId, Touch] = {}
    for touch in found:
        first.setdefault(touch.part, touch)
    return tuple(first[part] for part in sorted(first, key=natural_key))


def _touched_parts(issued: Plan, new: Plan, standing: Standing) -> list[Touch]:
    compared = compare_parts(issued, new)
    offsets = {change.before[0]: change.offset_mm for change in compared.changes if change.offset_mm is not None}
    found = []
    for change in compared.changes:
        if change.fate is PartFate.MOVED and not _is_pulled(change.before[0], offsets, issued, standing):
            continue
        if not change.is_remade and change.fate not in (PartFate.MOVED, PartFate.GONE):
            continue
        for part in change.before:
            if part in standing.brought:
                why = say("touched.part", part=part, fate=say(f"word.{change.fate}"), words=change.words)
                found.append(_touch(part, why, {standing.brought[part]}, issued, standing))
    return found


def _is_pulled(part: PartId, offsets: Mapping[PartId, Vector], issued: Plan, standing: Standing) -> bool:
    """Whether a part that moved is fastened to one that did not move with it."""
    none = (0.0, 0.0, 0.0)
    for joint in issued.joints:
        if joint.id in standing.joints and part in joint.parts:
            other = next(name for name in joint.parts if name != part)
            if distance(offsets.get(part, none), offsets.get(other, none)) > SAME.axis_mm:
                return True
    return False


def _touched_joints(issued: Plan, new: Plan, standing: Standing) -> list[Touch]:
    """Closed joints with other bolts than they were closed with, though no part of theirs was cut again."""
    compared = compare_joints(issued, new)
    restless = {change.joint for change in compared.joints if change.fate is not Fate.NEW}
    restless |= {change.joint for change in compared.bolts}
    cut = compare_parts(issued, new).same
    pairs = {joint.id: joint.parts for joint in issued.joints}
    found = []
    for joint in sorted(restless & standing.joints, key=natural_key):
        pair = pairs[joint]
        if not set(pair) <= set(cut):
            continue
        last = max((standing.brought[part] for part in pair if part in standing.brought), default=None)
        if last is not None:
            part = next(part for part in pair if standing.brought.get(part) == last)
            found.append(_touch(part, say("touched.joint", joint=joint), {last}, issued, standing))
    return found


def _touched_steps(issued: Plan, standing: Standing, overtaken: Mapping[int, Said]) -> list[Touch]:
    found = []
    for index in sorted(overtaken):
        for part in issued.steps[index].moves[:1]:
            found.append(_touch(part, say("touched.step", part=part, why=overtaken[index]), {index}, issued, standing))
    return found


def _touch(part: PartId, why: Said, roots: Set[int], issued: Plan, standing: Standing) -> Touch:
    steps = _with_followers(roots, issued, standing)
    bonded = bonded_joints(steps, issued, standing)
    return Touch(part=part, why=why, steps=frozenset(steps), bonded=bonded)


def _with_followers(roots: Set[int], issued: Plan, standing: Standing) -> set[int]:
    """Done steps that could only be done once these were, these included."""
    index_of = {step.number: index for index, step in enumerate(issued.steps)}
    steps = set(roots)
    for index in sorted(standing.steps):
        if any(index_of.get(number) in steps for number in issued.steps[index].after):
            steps.add(index)
    return steps


def bonded_joints(steps: Iterable[int], issued: Plan, standing: Standing) -> tuple[JointId, ...]:
    """Bonded joints that done steps closed for good, and that undoing them would have to open.

    Parameters
    ----------
    steps
        Indices of steps in the issued plan.
    issued, standing
        The issued plan, and what is built of it.
    """
    closed = {joint for index in steps for joint in issued.steps[index].joints} & standing.joints
    bonded = [joint.id for joint in issued.joints if joint.method.is_bonded]
    return tuple(sorted(closed.intersection(bonded), key=natural_key))
