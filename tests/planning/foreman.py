"""A plan as a foreman's list: on which bench, what goes where, what is lifted; run by name to read it.

python -m tests.planning.foreman bust standing
"""

from __future__ import annotations

import sys

from assembler.figure.plan import Plan, Step
from assembler.figure.settings import Base
from assembler.planning.order import plan_build
from assembler.planning.standing import step_findings
from tests.planning import figures


def listed(plan: Plan, base: Base) -> list[str]:
    """One line a step, then the findings that stop the build."""
    lines = [_line(step) for step in plan.steps]
    findings = (*plan.findings, *step_findings(plan, base))
    lines += [f"    {finding.level.value}: {finding.code}: {finding.message}" for finding in findings]
    return [*lines, f"    {plan.total_min:.0f} min"]


def _line(step: Step) -> str:
    lift = step.lift
    said = "" if lift is None else f"{lift.mass_kg:.1f} kg by {lift.people or 'hoist'}"
    if lift is not None:
        said += f" {lift.by} {lift.height_mm:.0f} mm ({len(lift.parts)})"
    gates = ",".join(gate.joint for gate in step.gates)
    way = "up " + "".join(f"{v:+.0f}" for v in step.up)
    prop = f" PROP {step.stability.reason}" if step.stability and step.stability.needs_prop else ""
    return f"{step.number:>3} {step.bench:3} {way} {step.title} | {said} | gates {gates or '-'}{prop}"


def main() -> None:
    """Print the figures that are named."""
    for name in sys.argv[1:] or sorted(figures.KNOWN):
        given = figures.KNOWN[name]().given
        lines = listed(plan_build(**given), given["settings"].base)
        sys.stdout.write(f"== {name}\n" + "\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
