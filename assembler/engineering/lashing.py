"""How many straps over the top hold a crate on a lorry, against sliding and tipping: masses and levers in, counts out.

Numbers to plan with. Securing the load is the driver's and the loader's, by the law of the country and the papers of
the straps.
"""

from __future__ import annotations

import math

from assembler.engineering.constants import GRAVITY_M_S2

FRICTION = 0.3
"""Planed timber on a plywood floor that may be wet (from memory; EN 12195-1 has 0.45 for sawn timber on plywood)."""

STRAP_N = 4000.0
"""Standard tension force S_TF of a usual ratchet strap, 400 daN on its label (from memory; the label rules)."""

STEEP_DEG = 75.0
"""Least angle of a strap to the floor that is counted with; flatter ones hold less (from memory)."""

SAFETY_FORWARD, SAFETY_OTHER = 1.25, 1.1
"""Factors of EN 12195-1 for top-over lashing (from memory)."""


def straps_against_sliding(mass_kg: float, asked_g: float, safety: float, friction: float = FRICTION) -> int:
    """Top-over straps that keep a crate from sliding by friction alone, nothing blocking it.

    Parameters
    ----------
    mass_kg
        Of the crate.
    asked_g
        Acceleration in this direction.
    safety
        Factor of the direction.
    friction
        Between crate and floor.

    References
    ----------
    EN 12195-1:2010: n = (c - mu) m g f / (2 mu sin(alpha) F).
    """
    return math.ceil(mass_kg / mass_per_strap_kg(asked_g, safety, friction) - 1e-9) if asked_g > friction else 0


def mass_per_strap_kg(asked_g: float, safety: float, friction: float = FRICTION) -> float:
    """Mass that one top-over strap keeps from sliding; infinite where friction alone does."""
    if asked_g <= friction:
        return math.inf
    held_n = 2.0 * friction * math.sin(math.radians(STEEP_DEG)) * STRAP_N
    return held_n / ((asked_g - friction) * GRAVITY_M_S2 * safety)


def straps_against_tipping(
    mass_kg: float, asked_g: float, safety: float, *, height_mm: float, arm_mm: float, base_mm: float
) -> int:
    """Top-over straps that keep a crate from tipping over one edge.

    Parameters
    ----------
    mass_kg, asked_g, safety
        As for sliding.
    height_mm
        Of the centre of mass.
    arm_mm
        From it to the edge, level.
    base_mm
        Of the crate, across that edge.

    References
    ----------
    Moments about the edge (statics), as EN 12195-1:2010 has them: both ends of a strap over the middle press with
    F sin(alpha) at half the base, or one end at the far side; the same moment.
    """
    short_mm = asked_g * height_mm - arm_mm
    if short_mm <= 0.0:
        return 0
    moment_nmm = mass_kg * GRAVITY_M_S2 * safety * short_mm
    return math.ceil(moment_nmm / (STRAP_N * math.sin(math.radians(STEEP_DEG)) * base_mm) - 1e-9)
