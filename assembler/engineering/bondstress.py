"""Stress in a bond under what hangs on it, against the strength that the shop states.

Goes in: a bonded joint, the mass it carries and where. Comes out: average shear and peel, the safety, findings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import JointId
from assembler.figure.joints import Joint
from assembler.figure.settings import Adhesive

SAFETY_FACTOR = 4.0
"""Asked between stated strength and average stress (common practice, no source).

Averages hide peaks at the edges of a bond, several times higher in stiff laps, and coupons flatter; the factor covers
both.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class BondStress:
    """Average stresses in a bond under a load.

    Parameters
    ----------
    joint
        The joint.
    force_n, moment_nm
        Carried.
    average_mpa
        Force / area: shear, or tension where the force pulls.
    peel_mpa
        Greatest tension from the moment, the bond taken as a thin ring of the seam's length.
    safety
        Strength / larger of both; None when no strength is stated or nothing is carried.
    """

    joint: JointId
    force_n: float
    moment_nm: float
    average_mpa: float
    peel_mpa: float
    safety: float | None


def ring_peel_mpa(moment_nm: float, area_mm2: float, seam_mm: float) -> float:
    """Greatest tension in a thin ring of bond under a moment: 2 M / (A r), r = seam / 2 pi; 0 without a seam.

    Parameters
    ----------
    moment_nm
        About an axis in the plane of the bond.
    area_mm2
        Of the bond.
    seam_mm
        Length of the visible seam: the girth of the ring.

    References
    ----------
    Section modulus of a thin ring: pi r^2 t = A r / 2 (any text on strength of materials).
    """
    if seam_mm <= 0 or area_mm2 <= 0:
        return 0.0
    radius_mm = seam_mm / (2.0 * math.pi)
    return 2.0 * moment_nm * 1000.0 / (area_mm2 * radius_mm)


def bond_stress(
    joint: Joint, carried_kg: float, adhesive: Adhesive, acceleration_g: float = 1.0, lever_mm: float = 0.0
) -> tuple[BondStress, tuple[Finding, ...]]:
    """Average shear and peel in a bond that carries a mass, and a finding where they are too high.

    Parameters
    ----------
    joint
        Bonded, with an area above 0.
    carried_kg
        Mass whose load path crosses the joint.
    adhesive
        With the stated strength.
    acceleration_g
        1 at rest; transport: see `assembler.catalogue.tables.transport_accelerations`.
    lever_mm
        Distance of the carried centre of mass from the joint's centre, across the force.

    Raises
    ------
    ValueError
        If the joint has no area.
    """
    if joint.bond_area_mm2 <= 0:
        raise ValueError(f"{joint.id} has no bond area")
    force_n = carried_kg * GRAVITY_M_S2 * acceleration_g
    moment_nm = force_n * lever_mm / 1000.0
    average_mpa = force_n / joint.bond_area_mm2
    peel_mpa = ring_peel_mpa(moment_nm, joint.bond_area_mm2, joint.seam_mm)
    greatest_mpa = max(average_mpa, peel_mpa)
    is_known = adhesive.strength_mpa > 0 and greatest_mpa > 0
    stress = BondStress(
        joint=joint.id,
        force_n=force_n,
        moment_nm=moment_nm,
        average_mpa=average_mpa,
        peel_mpa=peel_mpa,
        safety=adhesive.strength_mpa / greatest_mpa if is_known else None,
    )
    if stress.safety is None or stress.safety >= SAFETY_FACTOR:
        return stress, ()
    message = (
        f"{carried_kg:.1f} kg at {acceleration_g:g} g put {greatest_mpa:.3f} MPa on the bond; the stated "
        f"{adhesive.strength_mpa:g} MPa is {stress.safety:.1f} times that, {SAFETY_FACTOR:g} is asked"
    )
    remedy = "a larger flange, more bolts, or support until the figure stands"
    return stress, (
        Finding(level=Level.WARN, code="bond-overloaded", about=(joint.id,), message=message, remedy=remedy),
    )
