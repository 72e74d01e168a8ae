"""Does what stands stand, and who lifts what is lifted? Steps in; findings on falls, props, lifts and peel out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembler.figure.findings import Finding, Level
from assembler.figure.parts import Vector
from assembler.figure.plan import LiftedBy, Stability, Step, StepKind
from assembler.planning.benches import Placed
from assembler.planning.gravity import Side, peeled
from assembler.planning.scene import PartSet, Scene
from assembler.planning.support import SAFE_DEG, Support

MAIN_BENCH = "B1"


def standing_findings(scene: Scene, support: Support, placed: Sequence[Placed], steps: Sequence[Step]) -> list[Finding]:
    """Falls, tipping, heavy lifts and lifts that peel one by one, props in one line.

    Parameters
    ----------
    scene, support
        The figure and what carries what in it.
    placed
        All joinings.
    steps
        Of the plan.
    """
    found, propped = [], []
    for step in steps:
        stability, is_main = step.stability, step.bench == MAIN_BENCH and step.kind is not StepKind.TURN
        if stability and is_main and stability.tip_deg < 0.0:
            found.append(_falls(scene, step, stability))
        elif stability and stability.needs_prop and is_main and stability.tip_deg < SAFE_DEG:
            found.append(_tips(step, stability))
        elif stability and stability.needs_prop:
            propped.append(step)
        if step.lift and step.lift.people == 0:
            found.append(_too_heavy(step))
    if propped:
        found.append(
            Finding(
                level=Level.NOTE,
                code="needs-prop",
                about=tuple(f"step {step.number}" for step in propped),
                message=f"{len(propped)} steps need a prop, a strap or a cradle",
                remedy="the steps say which, and until when",
            )
        )
    return [*found, *_peel_findings(scene, support, placed, steps)]


def _falls(scene: Scene, step: Step, stability: Stability) -> Finding:
    there = scene.set_of((*step.moves, *step.onto))
    height_mm = _height_mm(scene, there, step.up)
    held = (
        f"the {scene.settings.base.anchors} anchors, if they hold that moment, and a strap or prop until they do"
        if scene.settings.base.anchors
        else "anchors that hold that moment, a wider base, or ballast on the other side"
    )
    push_n = stability.moment_nm / max(height_mm, 1.0) * 1000.0
    return Finding(
        level=Level.STOP,
        code="falls",
        about=(f"step {step.number}", *step.moves),
        message=(
            f"after step {step.number} what stands falls towards {_side_words(stability.toward)}: its centre of mass "
            f"lies {stability.overhang_mm:.0f} mm outside its feet, a moment of {stability.moment_nm:.2f} N m"
        ),
        remedy=f"{held}; a strap or prop at the height of the centre of mass, {height_mm:.0f} mm, takes {push_n:.0f} N",
    )


def _height_mm(scene: Scene, there: PartSet, up: Vector) -> float:
    return float(np.dot(scene.centre_mm(there), up)) - scene.lowest_mm(there, up)


def _side_words(toward: Vector) -> str:
    """A level direction by the axes of the mesh files ('+x', '-x and +y')."""
    names = [
        f"{'+' if value > 0 else '-'}{axis}" for axis, value in zip("xyz", toward, strict=True) if abs(value) > 0.3
    ]
    return " and ".join(names)


def _tips(step: Step, stability: Stability) -> Finding:
    return Finding(
        level=Level.WARN,
        code="tips",
        about=(f"step {step.number}", *step.moves),
        message=f"after step {step.number} what stands {stability.reason}",
        remedy="anchor the base, or prop what stands and keep the prop until it is anchored",
    )


def _too_heavy(step: Step) -> Finding:
    assert step.lift is not None
    return Finding(
        level=Level.WARN,
        code="too-heavy",
        about=(f"step {step.number}", *(step.lift.parts if step.lift.by is LiftedBy.STANDS else step.moves)),
        message=f"step {step.number}: {step.lift.rule}",
        remedy="a hoist, more people, or parts brought in one by one",
    )


def _peel_findings(scene: Scene, support: Support, placed: Sequence[Placed], steps: Sequence[Step]) -> list[Finding]:
    """Lifts of what stands, on stands or by a hoist, in which part of it hangs on glue alone."""
    found = []
    for item in placed:
        if item.side not in (Side.RAISED, Side.LOWERED) or item.lifted.bit_count() == 1:
            continue
        step = next(one for one in steps if one.joints and one.moves == scene.names(item.moves))
        if step.lift is None or step.lift.by is LiftedBy.HANDS:
            continue
        for joint in peeled(support, item.onto if item.side is Side.LOWERED else item.moves, item.lifted, item.up):
            found.append(
                Finding(
                    level=Level.STOP,
                    code="peels",
                    about=(f"step {step.number}", joint.id),
                    message=(
                        f"step {step.number} lifts {', '.join(step.lift.parts)}, and what is below {joint.id} hangs on "
                        "its glue alone: it peels"
                    ),
                    remedy="bolts in this joint, a support from below that takes the lowest part, or another cut",
                )
            )
    return found
