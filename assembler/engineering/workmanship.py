"""What the crew has to be told about bolts and bonds besides numbers, one line each, in the imperative.

Goes in: a joint with its bonding and stacks. Comes out: lines for the page of the step. Product data sheets rule.
"""

from __future__ import annotations

from collections.abc import Sequence

from assembler.engineering.bonding import batches
from assembler.engineering.curing import cure_factor, within_range_c
from assembler.engineering.patterns import TIGHTENING_PASSES
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.joints import Joint
from assembler.figure.settings import Settings

PREPARED_H = 4
"""Hours that an abraded and degreased face may wait (common practice, no source)."""


def bonding_lines(joint: Joint, bonding: Bonding, settings: Settings) -> tuple[str, ...]:
    """Lines for gluing one joint: preparation, batches, spacer, masking, squeeze-out.

    Parameters
    ----------
    joint, bonding
        A bonded joint and its adhesive.
    settings
        Adhesive and crew.
    """
    glue = settings.adhesive
    life_min = glue.working_life_min * cure_factor(glue.sheet_c, within_range_c(bonding.temperature_c, glue))
    count = batches(bonding.area_mm2, life_min, settings.crew)
    lines = [
        f"Abrade both faces, remove the dust, degrease, let dry. Glue within {PREPARED_H} h, or abrade again.",
        "Mask the outer skin along both sides of the seam.",
        "Purge the nozzle until the mix is even. Change the nozzle after any pause near the working life.",
    ]
    if count > 1:
        lines.append(f"Mix {count} batches, one after the other: each is workable for {int(life_min)} min.")
    if glue.spacer and joint.bolts:
        lines.append(f"Keep the bond open with {glue.spacer} under the bolts.")
    lines.append("Wipe off what squeezes out before it sets; pull the masking while it is soft.")
    return tuple(lines)


def tightening_lines(joint: Joint, stacks: Sequence[Stack]) -> tuple[str, ...]:
    """Lines for tightening one joint: passes, prevailing torque, and when to check again.

    Parameters
    ----------
    joint
        The joint.
    stacks
        Of all joints or of this one; without one there are no lines.
    """
    own = [stack for stack in stacks if stack.joint == joint.id]
    if not own:
        return ()
    first = f"{TIGHTENING_PASSES[0]:.0%}".replace("%", " %")
    lines = [f"Tighten in the printed order, twice: first to {first} of the torque, then to all of it."]
    if any(stack.nut == "ISO 7040" for stack in own):
        lines.append("The nuts turn hard by themselves: add the torque at which they just turn.")
    if joint.method.is_bonded:
        lines.append("Check the torque once more within the working life. Never re-tighten a cured bond: it cracks.")
    else:
        lines.append("Plastic creeps and preload fades: check the torque after a day, and at each inspection.")
    return tuple(lines)
