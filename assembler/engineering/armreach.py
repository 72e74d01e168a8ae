"""Bolts so deep that more than a forearm has to enter, and a reach that small people do not have.

The planner looks for openings that an upper arm passes there, of a size that nobody has read first-hand. Goes in: the
accesses of a plan's steps, the crew. Comes out: findings with numbers.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.catalogue import tables
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import natural_key
from assembler.figure.plan import Step
from assembler.figure.settings import Crew


def reach_findings(steps: Sequence[Step], crew: Crew) -> tuple[Finding, ...]:
    """Reaches that take an upper arm through an opening of a size from memory, and a reach that leaves people out.

    Parameters
    ----------
    steps
        Of the plan, with their accesses.
    crew
        Reach, glove and own openings.

    References
    ----------
    Pheasant, Bodyspace, British adults: elbow to fingertip and shoulder to grip, 5th percentile of women.
    """
    findings = []
    elbow_mm = tables.body_measure("elbow-fingertip length").small_mm
    shoulder = tables.opening("shoulder", crew.glove.value)
    asked_mm = min(shoulder.width_mm, shoulder.height_mm)
    deep = [row for step in steps for row in step.access if row.is_reachable and row.reach_mm > elbow_mm]
    if deep and not crew.upper_arm_opening_mm:
        low, high = min(row.reach_mm for row in deep), max(row.reach_mm for row in deep)
        message = (
            f"{len(deep)} bolts are reached {low:.0f} to {high:.0f} mm deep: beyond {elbow_mm:.0f} mm the upper arm of "
            f"a small person enters too; openings of {asked_mm:.0f} mm were looked for, a size from memory"
        )
        findings.append(
            Finding(
                level=Level.NOTE,
                code="upper-arm-has-to-enter",
                about=tuple(sorted({row.bolt for row in deep}, key=natural_key)),
                message=message,
                remedy="try it with your own arm, and state 'upper_arm_opening_mm' under [crew]",
            )
        )
    grip_mm = tables.body_measure("shoulder-grip length").small_mm
    if crew.reach_mm > grip_mm:
        message = (
            f"the plan counts on a reach of {crew.reach_mm:.0f} mm; one woman in twenty reaches no more than "
            f"{grip_mm:.0f} mm from shoulder to grip, and the shoulder does not enter an opening"
        )
        remedy = "state the reach of those who work: 'reach_mm' under [crew]"
        findings.append(Finding(level=Level.NOTE, code="reach-is-long", about=(), message=message, remedy=remedy))
    return sort_findings(findings)
