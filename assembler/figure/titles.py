"""Titles of steps, made of values: who renumbers or renames changes values, and never words.

A step goes in, its title comes out. Which movement a step closes with is decided here, for title, orders and picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Protocol

from assembler.figure.parts import Vector
from assembler.figure.plan import CarriedBy, Grounding, Heading, Move, Step, StepKind, Swing
from assembler.words import Text, both, say

STRAIGHT, SLANTED = 0.996, 0.5
"""The one rule for the verb of a movement: within 5 degrees of the vertical it is straight, less than 30 degrees from
the level it is sliding sideways, between them it is at a slant."""
_MOST_NAMED = 4
"""Parts of a piece that its title names one by one."""
LEVEL = 0.26
"""Within 15 degrees of the level what stands is not lifted over what arrives."""


class Movement(StrEnum):
    """The last movement of a step."""

    LOWER = "lower"
    SLANT = "slant"
    """Down, but not straight down."""
    RAISE = "raise"
    SLIDE = "slide"
    TURN_IN = "turn_in"


class Moving(Protocol):
    """Whatever says how its parts move in: a step, or what a picture of it shows."""

    @property
    def path(self) -> Sequence[Move]:
        """Movements, the last one last."""

    @property
    def swing(self) -> Swing | None:
        """A turning movement before them."""

    @property
    def up(self) -> Vector:
        """What is up on the bench."""


def closing_movement(step: Moving) -> Movement | None:
    """How a step closes its joints; None for a step without movement."""
    if step.swing is not None:
        return Movement.TURN_IN
    if not step.path:
        return None
    rise = sum(a * b for a, b in zip(step.path[-1].direction, step.up, strict=True))
    if abs(rise) < SLANTED:
        return Movement.SLIDE
    if rise > 0:
        return Movement.RAISE
    return Movement.LOWER if rise <= -STRAIGHT else Movement.SLANT


def titled(step: Step) -> Step:
    """The step with the title that its heading and its movement ask for."""
    return replace(step, title=_title(step))


def _title(step: Step) -> Text:
    if step.heading is None:
        return step.title
    what = _what(step)
    match step.kind:
        case StepKind.TURN:
            return say("title.turn", what=what, lying=step.heading.lying)
        case StepKind.BASE if not step.moves:
            return say(f"title.ground.{(step.heading.grounding or Grounding.LEVELLED).name.lower()}", what=what)
        case StepKind.DRY_FIT:
            return say("title.trial", movement=_closing(step, what))
        case _:
            return _closing(step, what)


def _what(step: Step) -> Text:
    assert step.heading is not None
    if step.kind is StepKind.TURN and step.heading.bench is not None:
        return say("title.on_bench", bench=step.heading.bench)
    return _named(step.heading)


def _named(heading: Heading) -> Text:
    if heading.unit:
        return say("title.unit", unit=heading.unit, parts=_parts(heading))
    if heading.bench is not None:
        return say("title.piece_of_bench", bench=heading.bench, parts=_parts(heading))
    if heading.is_standing:
        return say("title.piece_standing", parts=_parts(heading))
    return both(heading.names) or say("title.whole")


def _parts(heading: Heading) -> Text:
    """What a piece is made of: by name, or by number where a title would hold nothing else."""
    count = len(heading.names)
    return both(heading.names) if count <= _MOST_NAMED else say("title.parts_in_all", count=count)


def _closing(step: Step, what: Text) -> Text:
    assert step.heading is not None
    onto, raised = both(step.heading.onto), step.heading.raised
    if raised is not None:
        return say(
            "title.lifted_on_stands" if step.carried_by is CarriedBy.STANDS else "title.lifted_by_hoist",
            raised=_named(raised),
            lift_mm=step.heading.raised_mm,
            what=what,
            onto=onto,
        )
    if not onto:
        return say("title.set_on_base" if step.carried_by is CarriedBy.BASE else "title.set_down", what=what)
    movement = closing_movement(step)
    return say(f"title.move.{movement or 'none'}", what=what, onto=onto)
