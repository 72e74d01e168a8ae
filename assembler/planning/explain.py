"""Why does a step stand where it stands? A plan and a step number in, lines of text out."""

from __future__ import annotations

from assembler.figure.plan import Plan, Step
from assembler.planning.weights import IMPOSSIBLE, UNREACHABLE, weigh
from assembler.words import Text, say


def explain(plan: Plan, step_number: str) -> tuple[Text, ...]:
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
        lines.append(say("explain.critical"))
    return tuple(dict.fromkeys(lines))


def _costs(step: Step) -> list[Text]:
    """What the step was weighed at when the order was chosen, and the next best choice at its place."""
    costs = {name: minutes for name, minutes in step.costs.items() if name not in IMPOSSIBLE}
    if not costs:
        return []
    named = tuple(
        say("explain.cost", what=say(f"cost.{name}"), cost_min=minutes)
        for name, minutes in costs.items()
        if minutes >= 0.5
    )
    lines: list[Text] = [say("explain.weighed", cost_min=sum(costs.values()), named=named)]
    for other in step.instead:
        lines.append(say("explain.next_best", moves=tuple(other.moves), cost_min=other.minutes))
    return [*lines, *_other_order(step)]


def _other_order(step: Step) -> list[Text]:
    """What another step at its place would have cost in the end: whole orders, as far as the search looked."""
    if step.other_order is None:
        return []
    dearer = step.other_order.dearer_min
    if dearer is None:
        return [say("explain.no_other_order", bench=step.bench)]
    if dearer >= weigh(UNREACHABLE):
        cost = say("explain.other_impossible")
    elif dearer >= 0.5:
        cost = say("explain.other_dearer", cost_min=dearer)
    elif dearer > -0.5:
        cost = say("explain.other_same")
    else:
        cost = say("explain.other_cheaper", cost_min=-dearer)
    return [say("explain.other_order", bench=step.bench, cost=cost)]


def _waits(step: Step, by_number: dict[str, Step]) -> list[Text]:
    lines: list[Text] = []
    for number in step.after:
        earlier = by_number[number]
        what: Text = say("explain.brings") if set(step.moves) <= {*earlier.moves, *earlier.onto} else ""
        if not what and earlier.bench == step.bench:
            what = say("explain.before_on_bench", bench=step.bench)
        lines.append(say("explain.comes_first", step=number, what=what or say("explain.finished")))
    for gate in step.gates:
        earlier = by_number[gate.step]
        line = say("explain.loaded", joint=gate.joint, step=gate.step, free=earlier.frees)
        is_decisive = abs(earlier.free_min - step.start_min) < 0.5
        lines.append(say("explain.decides", loaded=line) if is_decisive else line)
    return lines
