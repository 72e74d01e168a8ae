"""Steps that open bolted joints again, in the reverse of the order in which they were closed.

Records of the issued plan go in, `Step` of kind `open` come out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from typing import Any

from assembler.figure.ids import BenchId, PartId, SectionId, StepNumber, natural_key
from assembler.figure.joints import Place
from assembler.figure.plan import Move, Step, StepKind
from assembler.recut.likeness import as_vector
from assembler.recut.standing import Standing

_Record = Mapping[str, Any]


def opening_steps(issued: _Record, standing: Standing, steps: Sequence[int], present: Set[PartId]) -> list[Step]:
    """One step for each done step that has to be undone, last done first.

    `path` is the way in, to be gone backwards: shifting `moves` against it shows them taken out, as in any step.

    Parameters
    ----------
    issued
        Content of plan.json of the issued book.
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
    for record in (issued["steps"][index] for index in sorted(steps, reverse=True)):
        if record["moves"] or record["joints"]:
            opened.append(_opening(record, issued, standing, present, out))
        out.update(record["moves"])
    return opened


def _opening(record: _Record, issued: _Record, standing: Standing, present: Set[PartId], out: Set[str]) -> Step:
    moves, joints = record["moves"], record["joints"]
    spoken, parts = " and ".join(joints), " and ".join(moves)
    title = f"Open {spoken} again" if joints else f"Take {parts} away again"
    # What stands on the same bench: whatever the undone step found there, and what came to it since.
    onto = {part for part in _on_the_bench(record, issued, standing) if part not in out and part not in moves}
    return Step(
        number=StepNumber(f"open {record['number']}"),
        title=title + (f" and take out {parts}" if joints and moves else ""),
        kind=StepKind.OPEN,
        place=Place(record["place"]),
        bench=BenchId(record["bench"]),
        section=SectionId(record["section"]),
        up=as_vector(record["up"]),
        moves=tuple(PartId(part) for part in moves if part in present),
        onto=tuple(part for part in sorted(onto, key=natural_key) if part in present),
        path=_legs(record),
        minutes=float(record.get("minutes", 0.0)),
        why=(f"undoes step {record['number']}: what was built there was cut again",),
        notes=(*_notes(record, issued), *_as_it_stands(moves, issued)),
    )


def _as_it_stands(moves: Sequence[str], issued: _Record) -> Iterable[str]:
    """The picture has only the mesh of now: what is taken out is the part of the book before."""
    if moves:
        parts, revision = " and ".join(moves), issued["figure"]["revision"]
        yield f"Out comes {parts} of revision {revision}. Where it was cut again, the picture shows the new cut."


def _on_the_bench(record: _Record, issued: _Record, standing: Standing) -> set[PartId]:
    """Parts that any done step on this bench moved or found there."""
    steps = [issued["steps"][index] for index in standing.steps if issued["steps"][index]["bench"] == record["bench"]]
    return {PartId(part) for step in steps for part in (*step["moves"], *step["onto"])} & standing.brought.keys()


def _legs(record: _Record) -> tuple[Move, ...]:
    legs = record.get("path") or (
        [{"direction": record["direction"], "travel_mm": record["travel_mm"]}] if record["direction"] else []
    )
    return tuple(Move(direction=as_vector(leg["direction"]), travel_mm=float(leg["travel_mm"])) for leg in legs)


def _notes(record: _Record, issued: _Record) -> Iterable[str]:
    if record["moves"]:
        yield f"Support {' and '.join(record['moves'])} before the last bolt is out."
    screws: dict[tuple[str, str], int] = {}
    for line in record["hardware"]:
        if line.get("kind") == "screw":
            key = (line["joint"], line["item"])
            screws[key] = screws.get(key, 0) + line["count"]
    for (joint, item), count in sorted(screws.items(), key=lambda pair: (natural_key(pair[0][0]), pair[0][1])):
        yield f"Undo {count} x {item} of {joint}; put screws, washers and nuts back into bag {joint}."
    yield from _reach_notes(record, issued)
    dry = [joint["id"] for joint in issued["joints"] if joint["id"] in record["joints"] and not joint["bolt"]]
    if dry:
        yield f"Part {' and '.join(sorted(dry, key=natural_key))}: no bolts there."
    if record["lift"] and record["moves"]:
        # As a note: the part that leaves has the mass it was built with, not that of the plan's new part.
        yield f"Take it out the way it came in: {record['lift']['mass_kg']:.2f} kg, {_people(record['lift'])}."


def _people(lift: _Record) -> str:
    people = lift["people"]
    return f"{people} {'person' if people == 1 else 'people'}" if people else "by hoist"


def _reach_notes(record: _Record, issued: _Record) -> Iterable[str]:
    """How the bolts were reached when they were closed: with what came later taken off, they are reached so again."""
    joint_of = {bolt["id"]: joint["id"] for joint in issued["joints"] for bolt in joint["bolt"]}
    ways: dict[tuple[str, str, str, str], int] = {}
    for access in record["access"]:
        way = (joint_of.get(access["bolt"], ""), access["tool"], access["head"], access["nut"])
        ways[way] = ways.get(way, 0) + 1
    for (joint, tool, head, nut), count in sorted(ways.items(), key=lambda item: (natural_key(item[0][0]), item[0])):
        yield f"{joint}, {count} bolt{'' if count == 1 else 's'}: {tool}; head {head}; nut {nut}."


def carried_over(records: Sequence[_Record], names: Mapping[str, StepNumber], present: Set[PartId]) -> list[Step]:
    """Openings that the issued book prints; the planner does not know them, so they are carried on.

    Parameters
    ----------
    records
        Steps of the issued plan.json.
    names
        What the new plan calls a step, by its printed number.
    present
        Parts that the new plan knows.

    Returns
    -------
    list of Step
        With placeholder numbers 'issued 12a'.
    """
    openings = [record for record in records if record["kind"] == StepKind.OPEN]
    known = {**names, **{record["number"]: StepNumber(f"issued {record['number']}") for record in openings}}
    return [
        Step(
            number=known[record["number"]],
            title=record["title"],
            kind=StepKind.OPEN,
            place=Place(record["place"]),
            bench=BenchId(record["bench"]),
            section=SectionId(record["section"]),
            after=tuple(known[number] for number in record["after"] if number in known),
            up=as_vector(record["up"]),
            moves=tuple(PartId(part) for part in record["moves"] if part in present),
            onto=tuple(PartId(part) for part in record["onto"] if part in present),
            path=_legs(record),
            minutes=float(record.get("minutes", 0.0)),
            why=tuple(record.get("why", ())),
            notes=tuple(record.get("notes", ())),
        )
        for record in openings
    ]
