"""Everything that engineering has to say about a whole figure beyond single bolts and bonds, in one call.

Goes in: settings, joints, parts, stacks. Comes out: findings: doubtful units, overloaded bonds and bolts.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.engineering.loads import load_findings
from assembler.engineering.plausibility import plausibility_findings
from assembler.figure.findings import Finding, sort_findings
from assembler.figure.hardware import Stack
from assembler.figure.joints import Joint
from assembler.figure.parts import Part
from assembler.figure.settings import Settings


def figure_findings(
    joints: Sequence[Joint], parts: Sequence[Part], stacks: Sequence[Stack], settings: Settings
) -> tuple[Finding, ...]:
    """Doubtful units, and joints that do not carry what hangs on them; heaviest first.

    Parameters
    ----------
    joints, parts, stacks
        Of the whole figure.
    settings
        From figure.toml.
    """
    return sort_findings((*plausibility_findings(settings, joints), *load_findings(joints, parts, stacks, settings)))
