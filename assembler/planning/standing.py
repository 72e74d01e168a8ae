"""Does what stands stand, and who lifts what is lifted? Steps in; findings on falls, props, lifts and peel out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembler.figure.findings import Finding, Level
from assembler.figure.parts import Part, Vector
from assembler.figure.plan import LiftedBy, Plan, Stability, Step, StepKind
from assembler.figure.settings import Base
from assembler.planning.support import SAFE_DEG

MAIN_BENCH = "B1"


def step_findings(plan: Plan, base: Base) -> list[Finding]:
    """Falls, tipping, heavy lifts and lifts that peel one by one, props in one line.

    They name steps, so they are asked for once the steps have the numbers that are printed.
    """
    found, propped = [], []
    for step in plan.steps:
        stability, is_main = (
            step.stability,
            step.bench == MAIN_BENCH and (step.kind is not StepKind.TURN or step.up == plan.up),
        )
        if stability and is_main and stability.tip_deg < 0.0:
            found.append(_falls(plan, step, stability, base.anchors))
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
    return [*found, *_peel_findings(plan.steps), *_no_ground(plan.steps, base)]


def _no_ground(steps: Sequence[Step], base: Base) -> list[Finding]:
    """That nothing is named that holds the figure where it stands."""
    if not base.is_floor:
        return []
    return [
        Finding(
            level=Level.NOTE,
            code="ground-undecided",
            about=(f"step {step.number}",),
            message=f"step {step.number} stands it on the floor: figure.toml names no base and no anchors that hold it",
            remedy="state 'part', or 'size_mm' and 'mass_kg', or 'anchors' under [base] in figure.toml; a figure that "
            "people can touch is not left on its own weight",
        )
        for step in steps
        if step.kind is StepKind.BASE and not step.moves
    ]


def _falls(plan: Plan, step: Step, stability: Stability, anchors: int) -> Finding:
    height_mm = _height_mm([part for part in plan.parts if part.id in (*step.moves, *step.onto)], step.up)
    held = (
        f"the {anchors} anchors, if they hold that moment, and a strap or prop until they do"
        if anchors
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


def _height_mm(parts: Sequence[Part], up: Vector) -> float:
    """Height of the centre of mass above the lowest point; exact where up is an axis."""
    mass_kg = sum(part.mass_kg for part in parts)
    centre = sum(part.mass_kg * float(np.dot(part.centre_mm, up)) for part in parts) / max(mass_kg, 1e-9)
    corners = (
        [sorted(way * end for end in ends) for way, *ends in zip(up, p.low_mm, p.high_mm, strict=True)] for p in parts
    )
    return centre - min(sum(low for low, _ in three) for three in corners)


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
        remedy="a hoist; or slide or roll it, which is no lift; or four people, which the rule for teams does not "
        "count; or parts brought in one by one",
    )


def _peel_findings(steps: Sequence[Step]) -> list[Finding]:
    """Lifts of what stands, on stands or by a hoist, in which part of it hangs on glue alone."""
    return [
        Finding(
            level=Level.STOP,
            code="peels",
            about=(f"step {step.number}", joint),
            message=(
                f"step {step.number} lifts {', '.join(step.lift.parts)}, and what is below {joint} hangs on its glue "
                "alone: it peels"
            ),
            remedy="bolts in this joint, a support from below that takes the lowest part, or another cut",
        )
        for step in steps
        for joint in step.peels
        if step.lift is not None and step.kind in (StepKind.JOIN, StepKind.BASE)
    ]
