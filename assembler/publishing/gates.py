"""Which waits of a step are new, and which the steps before it have kept already.

A step late in the build waits for every joint below it. Most of them were waited for long ago; a bar with all of them
would hide the one that matters. Both are printed, the new ones with a field for the time.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.figure.ids import StepNumber, natural_key
from assembler.figure.plan import Gate, Plan, Step


def sorted_gates(gates: Sequence[Gate]) -> list[Gate]:
    """By the step that closed the joint, then by joint."""
    return sorted(gates, key=lambda gate: (natural_key(gate.step), natural_key(gate.joint)))


def split_gates(plan: Plan, step: Step) -> tuple[list[Gate], list[Gate]]:
    """Waits of a step: those that nothing before it has kept, and those that are kept by then.

    A wait is kept when a step that has to be done before this one (at any distance) waited for the same joint.

    Parameters
    ----------
    plan
        The whole plan.
    step
        One of its steps.
    """
    kept = {gate.joint for other in _before(plan, step) for gate in other.gates}
    ordered = sorted_gates(step.gates)
    return [gate for gate in ordered if gate.joint not in kept], [gate for gate in ordered if gate.joint in kept]


def _before(plan: Plan, step: Step) -> list[Step]:
    """Every step that has to be done before a step, in the order of the book."""
    steps = {other.number: other for other in plan.steps}
    found: set[StepNumber] = set()
    open_ends = [step]
    while open_ends:
        one = open_ends.pop()
        for name in (*one.after, *(gate.step for gate in one.gates)):
            if name in steps and name not in found:
                found.add(name)
                open_ends.append(steps[name])
    return [other for other in plan.steps if other.number in found]
