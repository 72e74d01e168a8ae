"""How hard one person has to push at shoulder height until what stands unfixed tips or slides.

Goes in: mass, height of its centre, tip angle. Comes out: the force, and which of the two it does.
"""

from __future__ import annotations

import math

from assembler.catalogue import tables
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.exposure import FRICTION


def shoulder_mm() -> float:
    """Height of the shoulder of a tall person, from which a push has the longest lever."""
    return tables.body_measure("shoulder height").large_mm


def least_push_n(mass_kg: float, centre_mm: float, tip_deg: float) -> tuple[float, bool]:
    """The level force at shoulder height that moves what stands, and whether it slides it (else it tips it).

    Parameters
    ----------
    mass_kg
        Of all that stands, its base among it.
    centre_mm
        Height of its centre of mass above the ground.
    tip_deg
        Tip angle; what falls by itself takes no push.

    References
    ----------
    Statics of a rigid body: it tips when F z = m g d, d = h tan(tip angle); it slides when F = friction x m g.
    """
    weight_n = mass_kg * GRAVITY_M_S2
    arm_mm = max(0.0, centre_mm * math.tan(math.radians(min(tip_deg, 89.0))))
    tips_n, slides_n = weight_n * arm_mm / shoulder_mm(), FRICTION * weight_n
    return min(tips_n, slides_n), slides_n < tips_n
