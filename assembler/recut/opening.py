"""Steps that open bolted joints again, in the reverse of the order in which they were closed.

Steps of the issued plan go in, `Step` of kind `open` come out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass

from assembler.figure.ids import PartId, StepNumber, natural_key
from assembler.figure.plan import Lift, Plan, Step, StepKind
from assembler.recut.standing import Standing
from assembler.words import Said, Text, both, counted, say


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
    spoken, parts = both(joints), both(moves)
    title = say("title.open_again", joints=spoken) if joints else say("title.take_away", parts=parts)
    # What stands on the same bench: whatever the undone step found there, and what came to it since.
    onto = {part for part in _on_the_bench(step, issued, standing) if part not in out and part not in moves}
    return Step(
        number=StepNumber(f"open {step.number}"),
        title=say("title.take_out", opened=title, parts=parts) if joints and moves else title,
        kind=StepKind.OPEN,
        place=step.place,
        bench=step.bench,
        section=step.section,
        up=step.up,
        moves=tuple(part for part in moves if part in present),
        onto=tuple(part for part in sorted(onto, key=natural_key) if part in present),
        path=step.path,
        minutes=step.minutes,
        why=(say("why.undoes", step=step.number),),
        notes=(*_notes(step, issued), *_as_it_stands(moves, issued)),
    )


def _as_it_stands(moves: Sequence[str], issued: Plan) -> Iterable[Said]:
    """The picture has only the mesh of now: what is taken out is the part of the book before."""
    if moves:
        yield say("note.comes_out", parts=both(moves), revision=issued.revision)


def _on_the_bench(step: Step, issued: Plan, standing: Standing) -> set[PartId]:
    """Parts that any done step on this bench moved or found there."""
    done = [issued.steps[index] for index in standing.steps if issued.steps[index].bench == step.bench]
    return {part for other in done for part in (*other.moves, *other.onto)} & standing.brought.keys()


def _notes(step: Step, issued: Plan) -> Iterable[Said]:
    if step.moves:
        yield say("note.support", parts=both(step.moves))
    screws: dict[tuple[str, Text], int] = {}
    for line in step.hardware:
        if line.kind == "screw":
            key = (line.joint, line.item)
            screws[key] = screws.get(key, 0) + line.count
    for (joint, item), count in sorted(screws.items(), key=lambda pair: (natural_key(pair[0][0]), str(pair[0][1]))):
        yield say("note.undo", count=count, item=item, joint=joint)
    yield from _reach_notes(step, issued)
    dry = [joint.id for joint in issued.joints if joint.id in step.joints and not joint.bolts]
    if dry:
        dry.sort(key=natural_key)
        yield say("note.part_dry", joints=both(dry))
    if step.lift and step.moves:
        # As a note: the part that leaves has the mass it was built with, not that of the plan's new part.
        yield say("note.way_out", mass_kg=step.lift.mass_kg, lifted=_people(step.lift))


def _people(lift: Lift) -> Said:
    return counted("note.people", lift.people) if lift.people else say("note.by_hoist")


def _reach_notes(step: Step, issued: Plan) -> Iterable[Said]:
    """How the bolts were reached when they were closed: with what came later taken off, they are reached so again."""
    joint_of = {bolt.id: joint.id for joint in issued.joints for bolt in joint.bolts}
    ways: dict[tuple[str, Text, Text, Text], int] = {}
    for access in step.access:
        way = (joint_of.get(access.bolt, ""), access.tool, access.head, access.nut)
        ways[way] = ways.get(way, 0) + 1
    ordered = sorted(ways.items(), key=lambda item: (natural_key(item[0][0]), *map(str, item[0])))
    for (joint, tool, head, nut), count in ordered:
        yield counted("note.reached", count, joint=joint, tool=tool, head=head, nut=nut)


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
