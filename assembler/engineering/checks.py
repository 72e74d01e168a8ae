"""Everything that engineering has to say about a whole figure beyond single bolts and bonds, in one call.

Goes in: settings, joints, parts, stacks; then the plan. Comes out: findings: doubtful units, overloaded bonds and
bolts, open decisions; and of the plan what is loaded too soon or reached too deep.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.engineering.armreach import reach_findings
from assembler.engineering.decisions import decision_findings
from assembler.engineering.handling import handling_findings
from assembler.engineering.loads import load_findings
from assembler.engineering.plausibility import plausibility_findings
from assembler.engineering.spacing import stray_findings
from assembler.figure.findings import Finding, sort_findings
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.joints import Joint
from assembler.figure.parts import Part
from assembler.figure.plan import Plan
from assembler.figure.settings import Settings


def figure_findings(
    joints: Sequence[Joint], parts: Sequence[Part], stacks: Sequence[Stack], settings: Settings
) -> tuple[Finding, ...]:
    """Doubtful units and places, open decisions, and joints that do not carry what hangs on them; heaviest first.

    Parameters
    ----------
    joints, parts, stacks
        Of the whole figure.
    settings
        From figure.toml.
    """
    materials = {part.id: settings.material_of(part.id) for part in parts}
    return sort_findings(
        (
            *plausibility_findings(settings, joints),
            *stray_findings(joints, parts),
            *load_findings(joints, parts, stacks, settings),
            *decision_findings(joints, stacks, settings, materials),
        )
    )


def plan_findings(plan: Plan, bondings: Sequence[Bonding], settings: Settings) -> tuple[Finding, ...]:
    """Joints that the plan loads before they are cured, and bolts that it reaches with more than a forearm.

    Parameters
    ----------
    plan
        With times and accesses.
    bondings
        Of the whole figure.
    settings
        From figure.toml.
    """
    return sort_findings(
        (
            *handling_findings(plan.steps, plan.joints, plan.parts, bondings, settings),
            *reach_findings(plan.steps, settings.crew),
        )
    )
