"""Which nuts sit in pockets of their parts, when they are pressed in, and which picture shows one.

Goes in: a step. Comes out: nuts by part and size, and the pictures of a pocket.
"""

from __future__ import annotations

from collections import Counter

from assembler.figure.hardware import Stack
from assembler.figure.ids import PartId, natural_key
from assembler.figure.joints import Seat
from assembler.figure.pictures import Picture
from assembler.figure.plan import Step, StepKind
from assembler.publishing.source import Source

CUT_PICTURE = "-cut-"
"""In the file names of pictures that show a closed joint cut open through a bolt."""


def captive_nuts(source: Source, step: Step) -> tuple[tuple[PartId, str, int], ...]:
    """Part, size and number of the nuts that are pressed into pockets in a step, in the order of the parts.

    A joint that is closed on site gets its nuts before its trial fit.
    """
    if step.kind is StepKind.DRY_FIT:
        closing = next((other for other in source.plan.steps if other.stacks and _is_alike(other, step)), None)
        return () if closing is None else _captive(source, closing)
    is_tried = any(other.kind is StepKind.DRY_FIT and _is_alike(other, step) for other in source.plan.steps)
    return () if is_tried else _captive(source, step)


def pocket_pictures(source: Source) -> tuple[Picture, ...]:
    """The cut through the first joint whose nuts all sit in pockets; none where no picture shows one."""
    for step in source.plan.steps:
        if step.stacks and len(pocketed(source, step)) == len(step.stacks):
            shown = [row for row in source.pictures.steps.get(step.number, ()) if CUT_PICTURE in row.file]
            if shown:
                return (shown[0],)
    return ()


def _is_alike(one: Step, other: Step) -> bool:
    return (one.moves, one.onto) == (other.moves, other.onto)


def _captive(source: Source, step: Step) -> tuple[tuple[PartId, str, int], ...]:
    parts = {row.bolt: row.nut_part for row in step.access}
    counts = Counter((parts[stack.bolt], stack.size) for stack in pocketed(source, step) if stack.bolt in parts)
    rows = ((part, size, count) for (part, size), count in counts.items())
    return tuple(sorted(rows, key=lambda row: (natural_key(row[0]), natural_key(row[1]))))


def pocketed(source: Source, step: Step) -> list[Stack]:
    """Stacks of a step whose nut sits in a pocket."""
    heads = {row.bolt: row.head_end for row in step.access}
    seats = {bolt.id: bolt.seats for joint in source.plan.joints for bolt in joint.bolts}
    return [
        stack
        for stack in step.stacks
        if stack.nut and stack.bolt in heads and seats[stack.bolt][1 - heads[stack.bolt]] is Seat.CAPTIVE
    ]
