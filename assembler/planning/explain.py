"""Why does a step stand where it stands? A plan and a step number in, lines of text out."""

from __future__ import annotations

from assembler.figure.plan import Plan, Step


def explain(plan: Plan, step_number: str) -> tuple[str, ...]:
    """What forced the place of a step in the order, one line each.

    Parameters
    ----------
    plan
        From `assembler.planning.order.plan_build`.
    step_number
        As printed.

    Raises
    ------
    KeyError
        If the plan has no such step.
    """
    by_number = {str(step.number): step for step in plan.steps}
    if step_number not in by_number:
        raise KeyError(f"no step {step_number}; the plan has {', '.join(by_number)}")
    step = by_number[step_number]
    lines = [*step.why, *_waits(step, by_number)]
    if step.is_critical:
        lines.append("a delay here delays the whole build (critical path)")
    return tuple(dict.fromkeys(lines))


def _waits(step: Step, by_number: dict[str, Step]) -> list[str]:
    lines = []
    for number in step.after:
        earlier = by_number[number]
        what = "brings the piece that is moved here" if set(step.moves) <= {*earlier.moves, *earlier.onto} else ""
        if not what and earlier.bench == step.bench:
            what = f"is the step before on bench {step.bench}"
        lines.append(f"step {number} comes first: it {what or 'has to be finished'}")
    for gate in step.gates:
        earlier = by_number[gate.step]
        until = earlier.end_min + (earlier.hold.minutes if earlier.hold else 0.0)
        decides = " and decides the start" if abs(until - step.start_min) < 0.5 else ""
        lines.append(
            f"{gate.joint}, closed in step {gate.step}, would be loaded: it is free at minute {until:.0f}{decides}"
        )
    return lines
