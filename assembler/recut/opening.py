"""Steps that open bolted joints again, in the reverse of the order in which they were closed.

Steps of the issued plan go in, `Step` of kind `open` come out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass

from assembler.figure.ids import PartId, StepNumber, natural_key
from assembler.figure.plan import Lift, Plan, Step, StepKind
from assembler.recut.standing import Standing


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedOver:
    """An opening of the issued book: the number that is printed, and the step under a working number of its own."""

    printed: StepNumber
    step: Step


def opening_steps(issued: Plan, standing: Standing, steps: Sequence[int], present: Set[PartId]) -> list[Step]:
    """One step for each done step that has to be undone, last done first.

    `path` is the way in, to be gone backwards: shifting `moves` against it shows them taken out, as in any step.

    Parameters
    ----------
    issued
        The plan of the issued book.
    standing
        What is built.
    steps
        Indices of the steps to undo, first done first.
    present
        Parts that the new plan knows; others (retired ones) are named in title and notes only.

    Returns
    -------
    list of Step
        With placeholder numbers 'open 9', to be renumbered.
    """
    opened = []
    out: set[str] = set()
    for step in (issued.steps[index] for index in sorted(steps, reverse=True)):
        if step.moves or step.joints:
            opened.append(_opening(step, issued, standing, present, out))
        out.update(step.moves)
    return opened


def _opening(step: Step, issued: Plan, standing: Standing, present: Set[PartId], out: Set[str]) -> Step:
    moves, joints = step.moves, step.joints
    spoken, parts = " and ".join(joints), " and ".join(moves)
    title = f"Open {spoken} again" if joints else f"Take {parts} away again"
    # What stands on the same bench: whatever the undone step found there, and what came to it since.
    onto = {part for part in _on_the_bench(step, issued, standing) if part not in out and part not in moves}
    return Step(
        number=StepNumber(f"open {step.number}"),
        title=title + (f" and take out {parts}" if joints and moves else ""),
        kind=StepKind.OPEN,
        place=step.place,
        bench=step.bench,
        section=step.section,
        up=step.up,
        moves=tuple(part for part in moves if part in present),
        onto=tuple(part for part in sorted(onto, key=natural_key) if part in present),
        path=step.path,
        minutes=step.minutes,
        why=(f"undoes step {step.number}: what was built there was cut again",),
        notes=(*_notes(step, issued), *_as_it_stands(moves, issued)),
    )


def _as_it_stands(moves: Sequence[str], issued: Plan) -> Iterable[str]:
    """The picture has only the mesh of now: what is taken out is the part of the book before."""
    if moves:
        parts, revision = " and ".join(moves), issued.revision
        yield f"Out comes {parts} of revision {revision}. Where it was cut again, the picture shows the new cut."


def _on_the_bench(step: Step, issued: Plan, standing: Standing) -> set[PartId]:
    """Parts that any done step on this bench moved or found there."""
    done = [issued.steps[index] for index in standing.steps if issued.steps[index].bench == step.bench]
    return {part for other in done for part in (*other.moves, *other.onto)} & standing.brought.keys()


def _notes(step: Step, issued: Plan) -> Iterable[str]:
    if step.moves:
        yield f"Support {' and '.join(step.moves)} before the last bolt is out."
    screws: dict[tuple[str, str], int] = {}
    for line in step.hardware:
        if line.kind == "screw":
            key = (line.joint, line.item)
            screws[key] = screws.get(key, 0) + line.count
    for (joint, item), count in sorted(screws.items(), key=lambda pair: (natural_key(pair[0][0]), pair[0][1])):
        yield f"Undo {count} x {item} of {joint}; put screws, washers and nuts back into bag {joint}."
    yield from _reach_notes(step, issued)
    dry = [joint.id for joint in issued.joints if joint.id in step.joints and not joint.bolts]
    if dry:
        yield f"Part {' and '.join(sorted(dry, key=natural_key))}: no bolts there."
    if step.lift and step.moves:
        # As a note: the part that leaves has the mass it was built with, not that of the plan's new part.
        yield f"Take it out the way it came in: {step.lift.mass_kg:.2f} kg, {_people(step.lift)}."


def _people(lift: Lift) -> str:
    people = lift.people
    return f"{people} {'person' if people == 1 else 'people'}" if people else "by hoist"


def _reach_notes(step: Step, issued: Plan) -> Iterable[str]:
    """How the bolts were reached when they were closed: with what came later taken off, they are reached so again."""
    joint_of = {bolt.id: joint.id for joint in issued.joints for bolt in joint.bolts}
    ways: dict[tuple[str, str, str, str], int] = {}
    for access in step.access:
        way = (joint_of.get(access.bolt, ""), str(access.tool), str(access.head), str(access.nut))
        ways[way] = ways.get(way, 0) + 1
    for (joint, tool, head, nut), count in sorted(ways.items(), key=lambda item: (natural_key(item[0][0]), item[0])):
        yield f"{joint}, {count} bolt{'' if count == 1 else 's'}: {tool}; head {head}; nut {nut}."


def carried_over(steps: Sequence[Step], names: Mapping[str, StepNumber], present: Set[PartId]) -> list[CarriedOver]:
    """Openings that the issued book prints; the planner does not know them, so they are carried on.

    Parameters
    ----------
    steps
        Of the issued plan.
    names
        What the new plan calls a step, by its printed number.
    present
        Parts that the new plan knows.
    """
    openings = [step for step in steps if step.kind is StepKind.OPEN]
    known: dict[str, StepNumber] = {**names, **{step.number: StepNumber(f"issued {step.number}") for step in openings}}
    return [
        CarriedOver(
            printed=step.number,
            step=Step(
                number=known[step.number],
                title=step.title,
                kind=StepKind.OPEN,
                place=step.place,
                bench=step.bench,
                section=step.section,
                after=tuple(known[number] for number in step.after if number in known),
                up=step.up,
                moves=tuple(part for part in step.moves if part in present),
                onto=tuple(part for part in step.onto if part in present),
                path=step.path,
                minutes=step.minutes,
                why=step.why,
                notes=step.notes,
            ),
        )
        for step in openings
    ]
