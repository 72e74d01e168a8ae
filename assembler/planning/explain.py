"""Why does a step stand where it stands? A plan and a step number in, lines of text out."""

from __future__ import annotations

from assembler.figure.plan import Plan, Step
from assembler.planning.weights import IMPOSSIBLE, UNREACHABLE, weigh


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
    lines = [*step.why, *_waits(step, by_number), *_costs(step)]
    if step.is_critical:
        lines.append("a delay here delays the whole build (critical path)")
    return tuple(dict.fromkeys(lines))


def _costs(step: Step) -> list[str]:
    """What the step was weighed at when the order was chosen, and the next best choice at its place."""
    costs = {name: minutes for name, minutes in step.costs.items() if name not in IMPOSSIBLE}
    if not costs:
        return []
    named = ", ".join(f"{name} {minutes:.0f}" for name, minutes in costs.items() if minutes >= 0.5)
    lines = [f"weighed at {sum(costs.values()):.0f} minutes: {named}"]
    for other in step.instead:
        lines.append(f"next best as the last to come here: {', '.join(other.moves)}, at {other.minutes:.0f} minutes")
    return [*lines, *_other_order(step)]


def _other_order(step: Step) -> list[str]:
    """What another step at its place would have cost in the end: whole orders, as far as the search looked."""
    if step.other_order is None:
        return []
    dearer = step.other_order.dearer_min
    if dearer is None:
        return [f"no order of bench {step.bench} that was looked at has another step here"]
    if dearer >= weigh(UNREACHABLE):
        cost = "leaves more bolts out of reach or a way in shut"
    elif dearer >= 0.5:
        cost = f"is weighed {dearer:.0f} min dearer as a whole"
    elif dearer > -0.5:
        cost = "is weighed the same as a whole"
    else:
        cost = f"is weighed {-dearer:.0f} min less as a whole: the calendar decided against it"
    return [f"the best order of bench {step.bench} with another step here, of those looked at, {cost}"]


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
        decides = " and decides the start" if abs(earlier.free_min - step.start_min) < 0.5 else ""
        lines.append(f"{gate.joint}, closed in step {gate.step}, would be loaded: it is free {earlier.frees}{decides}")
    return lines
