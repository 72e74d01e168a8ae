"""Turns of the work: joinings with what is up in, steps of kind `turn` out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assembler.figure.ids import BenchId, SectionId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.parts import Vector
from assembler.figure.plan import Heading, Lift, Stability, Step, StepKind
from assembler.planning.benches import lean_deg
from assembler.planning.scene import PartSet, Scene, members
from assembler.words import Said, say


def turn_step(
    scene: Scene,
    standing: PartSet,
    *,
    bench: int,
    section: SectionId,
    before: Vector,
    after: Vector,
    minutes: float,
    lift: Lift,
    stability: Stability,
    reason: Said,
) -> Step:
    """The step in which what stands on a bench is turned.

    Parameters
    ----------
    scene
        The figure.
    standing
        What is turned.
    bench, section
        Where it is and what it belongs to.
    before, after
        What is up before and after, in the frame of the figure.
    minutes, lift, stability
        Of the turn, and how the work stands after it.
    reason
        Why it is turned.
    """
    names = scene.names(standing)
    heading = Heading(
        names=tuple(names),
        bench=BenchId(f"B{bench}") if len(names) > 3 else None,
        lying=lying_words(scene, standing, after),
    )
    return Step(
        number=StepNumber(""),
        title="",
        heading=heading,
        kind=StepKind.TURN,
        place=Place.SHOP,
        bench=BenchId(f"B{bench}"),
        section=section,
        up=after,
        onto=names,
        lift=lift,
        stability=stability,
        minutes=minutes,
        why=(reason,),
        notes=(say("note.turn", turn_deg=lean_deg(before, after), people=_people(lift)),),
    )


def _people(lift: Lift) -> Said:
    if lift.people == 0:
        return say("turn.by_hoist")
    return say("turn.by_one") if lift.people == 1 else say("turn.by_people", people=lift.people)


def lying_words(scene: Scene, standing: PartSet, up: Vector) -> Said:
    """How the work lies, in words, from what is up on the bench; a part says which side that is."""
    if lean_deg(up, scene.up) < 1.0:
        return say("lying.upright")
    if lean_deg(up, scene.up) > 179.0:
        return say("lying.upside_down")
    along = np.asarray(up)
    top = max(members(standing), key=lambda number: (round(float(scene.parts[number].centre_mm @ along), 1), -number))
    return say("lying.on_top", part=scene.parts[top].id)


def with_blocks(step: Step) -> Step:
    """The step with the order to raise the work."""
    note = say("note.raise_on_blocks")
    return replace(step, notes=(*step.notes, note))
