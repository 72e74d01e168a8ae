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
from assembler.words import say


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
        message = say(
            "finding.upper-arm-has-to-enter",
            count=len(deep),
            low_mm=low,
            high_mm=high,
            elbow_mm=elbow_mm,
            asked_mm=asked_mm,
        )
        findings.append(
            Finding(
                level=Level.NOTE,
                code="upper-arm-has-to-enter",
                about=tuple(sorted({row.bolt for row in deep}, key=natural_key)),
                message=message,
                remedy=say("remedy.upper-arm-has-to-enter"),
            )
        )
    grip_mm = tables.body_measure("shoulder-grip length").small_mm
    if crew.reach_mm > grip_mm:
        message = say("finding.reach-is-long", reach_mm=crew.reach_mm, grip_mm=grip_mm)
        remedy = say("remedy.reach-is-long")
        findings.append(Finding(level=Level.NOTE, code="reach-is-long", about=(), message=message, remedy=remedy))
    return sort_findings(findings)
