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

STRAIGHT, LEVEL = 0.996, 0.26
"""A movement within 5 degrees of the vertical is called straight, within 15 degrees of the level sideways."""


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
    if abs(rise) <= LEVEL:
        return Movement.SLIDE
    if rise > 0:
        return Movement.RAISE
    return Movement.LOWER if rise <= -STRAIGHT else Movement.SLANT


def titled(step: Step) -> Step:
    """The step with the title that its heading and its movement ask for."""
    return replace(step, title=_title(step))


def _title(step: Step) -> str:
    if step.heading is None:
        return step.title
    what = _what(step)
    match step.kind:
        case StepKind.TURN:
            return f"Turn {what}: {step.heading.lying}"
        case StepKind.BASE if not step.moves:
            return _grounded(step.heading.grounding, what)
        case StepKind.DRY_FIT:
            return f"Trial fit: {_closing(step, what)}"
        case _:
            return _closing(step, what)


def _grounded(grounding: Grounding | None, what: str) -> str:
    match grounding:
        case Grounding.STOOD:
            return f"Set the base down, level it and stand {what} on it"
        case Grounding.PLACED:
            return f"Stand {what} in place, level and bolt down to the anchors"
        case Grounding.BOLTED:
            return f"Bolt {what} down to the anchors"
        case Grounding.FLOOR:
            return f"Stand {what} in place on the floor and level"
        case _:
            return f"Set the base {what} down and level it"


def _what(step: Step) -> str:
    assert step.heading is not None
    if step.kind is StepKind.TURN and step.heading.bench is not None:
        return f"what stands on bench {step.heading.bench}"
    return _named(step.heading)


def _named(heading: Heading) -> str:
    if heading.bench is not None:
        return f"the piece of bench {heading.bench} ({_and(heading.names)})"
    if heading.is_standing:
        return f"the piece that stands ({_and(heading.names)})"
    return _and(heading.names) or "the finished figure"


def _closing(step: Step, what: str) -> str:
    assert step.heading is not None
    onto, raised = _and(step.heading.onto), step.heading.raised
    if raised is not None:
        height = f"{step.heading.raised_mm:.0f} mm"
        means = "on stands" if step.carried_by is CarriedBy.STANDS else "with a hoist"
        return f"Lift {_named(raised)} by {height} {means} and bring {what} in under {onto}"
    if not onto:
        return f"Set {what} down at its place on the {'base' if step.carried_by is CarriedBy.BASE else 'ground'}"
    match closing_movement(step):
        case None:
            return f"Place {what} at {onto}"
        case Movement.LOWER:
            return f"Lower {what} onto {onto}"
        case Movement.SLANT:
            return f"Lower {what} at a slant against {onto}"
        case Movement.RAISE:
            return f"Raise {what} to {onto} from below"
        case Movement.SLIDE:
            return f"Move {what} sideways against {onto}"
        case Movement.TURN_IN:
            return f"Turn {what} in at {onto}"


def _and(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + " and " + words[-1] if len(words) > 1 else "".join(words)
