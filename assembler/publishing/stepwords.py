"""What a step tells people to do, in order and in the imperative, from what the plan knows of it."""

from __future__ import annotations

from assembler.figure.parts import Vector
from assembler.figure.plan import Step, StepKind
from assembler.publishing import quantities
from assembler.publishing.source import Source

STEEP = 0.8
"""A movement whose share along the vertical is above this is called lowering or raising."""


def orders(source: Source, step: Step) -> tuple[str, ...]:
    """The orders of a step, one sentence or two each.

    A step without movement, joints or notes gets none: its title says it all.
    """
    lines = [*_preparing(source, step), *_closing(source, step), *_after(source, step)]
    return (*lines, *step.notes)


def movement_word(step: Step) -> str:
    """Key of the verb for the closing movement: 'lower', 'raise' or 'slide'."""
    along = _along_up(step.path[-1].direction, step.up)
    if along < -STEEP:
        return "lower"
    return "raise" if along > STEEP else "slide"


def _along_up(direction: Vector, up: Vector) -> float:
    return sum(a * b for a, b in zip(direction, up, strict=True))


def _preparing(source: Source, step: Step) -> list[str]:
    words = source.words
    lines = []
    if step.kind is StepKind.DRY_FIT:
        lines.append(words("orders.dry_only"))
    if step.gates:
        lines.append(words("orders.gate"))
    if step.lift and step.moves and step.lift.people != 1:
        key = "orders.hoist" if step.lift.people == 0 else "orders.lift"
        lines.append(words(key, people=step.lift.people, mass=quantities.mass(step.lift.mass_kg)))
    if step.adhesive:
        lines.append(words("orders.dry_fit", parts=words.listed(step.moves) or words("orders.the_parts")))
        lines.append(words("orders.surface", joints=words.listed([row.joint for row in step.adhesive])))
    return lines


def _closing(source: Source, step: Step) -> list[str]:
    words = source.words
    lines = []
    for row in step.adhesive:
        lines.append(words("orders.spread", volume=quantities.volume(row.volume_ml), name=row.name, joint=row.joint))
    if step.moves and step.path:
        lines.append(_movement(source, step))
    bolts = len(step.stacks)
    if bolts:
        lines.append(words.count("orders.enter", bolts))
        lines.append(words("orders.tighten"))
    if step.adhesive:
        lines.append(words("orders.wipe"))
    return lines


def _movement(source: Source, step: Step) -> str:
    words = source.words
    leg = step.path[-1]
    key = f"orders.move.{movement_word(step)}"
    onto = sorted({name for joint in step.joints for name in source.joint(joint).parts if name not in step.moves})
    target = words.listed(onto) if onto else words("orders.its_place")
    line = words(key, parts=words.listed(step.moves), onto=target, travel=quantities.length(leg.travel_mm))
    if len(step.path) > 1:
        line = f"{words('orders.legs', count=len(step.path))} {line}"
    return line


def _after(source: Source, step: Step) -> list[str]:
    words = source.words
    if step.stability and step.stability.needs_prop:
        reason = step.stability.reason
        return [words("orders.prop_reason", reason=reason) if reason else words("orders.prop")]
    return []
