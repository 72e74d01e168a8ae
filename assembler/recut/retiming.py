"""A plan whose order was changed after planning gets its calendar anew: one crew, in the order of the book.

A plan goes in, the same plan with other times comes out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from assembler.figure.ids import StepNumber
from assembler.figure.plan import Plan, Step


def in_book_order(plan: Plan) -> Plan:
    """The plan with every step as early as the step before it, its dependencies and its gates allow.

    Parameters
    ----------
    plan
        Steps in the order of the book.

    Returns
    -------
    Plan
        `start_min`, `end_min`, `is_critical` and `total_min` anew. Critical are the steps of one chain without slack
        that ends last.
    """
    ends: dict[StepNumber, float] = {}
    held: dict[StepNumber, StepNumber | None] = {}
    steps: list[Step] = []
    by_number = {step.number: step for step in plan.steps}
    for step in plan.steps:
        start, cause = _earliest(step, steps, ends, by_number)
        ends[step.number] = start + step.minutes
        held[step.number] = cause
        steps.append(replace(step, start_min=start, end_min=ends[step.number]))
    finish = {step.number: step.end_min + (step.hold.minutes if step.hold else 0.0) for step in steps}
    total = max(finish.values(), default=0.0)
    critical = _chain(next((number for number, end in finish.items() if end == total), None), held)
    return replace(
        plan, steps=tuple(replace(step, is_critical=step.number in critical) for step in steps), total_min=total
    )


def _earliest(
    step: Step, done: Sequence[Step], ends: Mapping[StepNumber, float], by_number: Mapping[StepNumber, Step]
) -> tuple[float, StepNumber | None]:
    """Start of a step and the step that holds it up; None for the first."""
    limits = [(done[-1].end_min, done[-1].number)] if done else []
    limits += [(ends[number], number) for number in step.after if number in ends]
    limits += [
        (ends[gate.step] + _cure_min(by_number[gate.step], gate.joint), gate.step)
        for gate in step.gates
        if gate.step in ends
    ]
    return max(limits, default=(0.0, None))


def _cure_min(step: Step, joint: str) -> float:
    cures = [dose.handling_min for dose in step.adhesive if dose.joint == joint]
    return max(cures, default=step.hold.minutes if step.hold else 0.0)


def _chain(last: StepNumber | None, held: Mapping[StepNumber, StepNumber | None]) -> set[StepNumber]:
    chain: set[StepNumber] = set()
    while last is not None:
        chain.add(last)
        last = held[last]
    return chain
