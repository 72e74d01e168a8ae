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
from assembler.words import Said, say

SAFETY_FACTOR = 4.0
"""Asked between stated strength and average stress (common practice, no source).

Averages hide peaks at the edges of a bond, several times higher in stiff laps, and coupons flatter; the factor covers
both.
"""


PEEL_SHARE = 0.25
"""Of the shear strength that counts against peel where the shop states no peel strength (common practice, no source).

Adhesives fail in peel and cleavage far below their shear strength: a rigid epoxy that shears at 14 MPa peels off at
0.35 N a millimetre of width (Petrie, Handbook of Adhesives and Sealants, p. 98, read second-hand).
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
    utilisation
        Larger of shear over allowed shear and peel over allowed peel, allowed being strength / 4; None when no strength
        is stated.
    safety
        The least of both strengths over their stress; None when no strength is stated or nothing is carried.
    """

    joint: JointId
    force_n: float
    moment_nm: float
    average_mpa: float
    peel_mpa: float
    utilisation: float | None
    safety: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BondStrength:
    """What a bond bears at a moment.

    Parameters
    ----------
    shear_mpa, peel_mpa
        Strengths; 0: not stated.
    when
        Cured, or after its hold.
    """

    shear_mpa: float
    peel_mpa: float
    when: Said


def cured_strength(adhesive: Adhesive) -> BondStrength:
    """Strengths of the cured bond; peel is a quarter of shear where the shop states none."""
    peel_mpa = adhesive.peel_mpa or PEEL_SHARE * adhesive.strength_mpa
    return BondStrength(shear_mpa=adhesive.strength_mpa, peel_mpa=peel_mpa, when=say("word.cured"))


def handling_strength(adhesive: Adhesive) -> BondStrength:
    """Strengths at the end of the hold; peel in the proportion that it has to shear in the cured bond.

    References
    ----------
    Industrieverband Klebstoffe, Leitfaden Kleben, 4.3: handling strength is 0.2 to 1 MPa, and clamps may come off
    (read second-hand).
    """
    cured = cured_strength(adhesive)
    share = cured.peel_mpa / cured.shear_mpa if cured.shear_mpa > 0 else PEEL_SHARE
    return BondStrength(
        shear_mpa=adhesive.handling_mpa, peel_mpa=share * adhesive.handling_mpa, when=say("word.after_hold")
    )


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
    joint: Joint,
    carried_kg: float,
    adhesive: Adhesive,
    acceleration_g: float = 1.0,
    lever_mm: float = 0.0,
    strength: BondStrength | None = None,
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
    strength
        Of the bond when it carries that; None: cured.

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
    bears = strength or cured_strength(adhesive)
    stress = BondStress(
        joint=joint.id,
        force_n=force_n,
        moment_nm=moment_nm,
        average_mpa=average_mpa,
        peel_mpa=peel_mpa,
        utilisation=_utilisation(average_mpa, peel_mpa, bears),
        safety=_safety(average_mpa, peel_mpa, bears),
    )
    if stress.safety is None or stress.safety >= SAFETY_FACTOR:
        return stress, ()
    is_peel = bears.peel_mpa * average_mpa < bears.shear_mpa * peel_mpa
    what, stress_mpa, bears_mpa = (
        (say("word.peel"), peel_mpa, bears.peel_mpa) if is_peel else (say("word.shear"), average_mpa, bears.shear_mpa)
    )
    message = say(
        "finding.bond-overloaded",
        carried_kg=carried_kg,
        acceleration_g=acceleration_g,
        stress_mpa=stress_mpa,
        what=what,
        when=bears.when,
        bears_mpa=bears_mpa,
        safety=stress.safety,
        asked=SAFETY_FACTOR,
    )
    remedy = say("remedy.bond-overloaded")
    return stress, (
        Finding(level=Level.WARN, code="bond-overloaded", about=(joint.id,), message=message, remedy=remedy),
    )


def _safety(average_mpa: float, peel_mpa: float, bears: BondStrength) -> float | None:
    pairs = ((average_mpa, bears.shear_mpa), (peel_mpa, bears.peel_mpa))
    return min((strong / stress for stress, strong in pairs if stress > 0 and bears.shear_mpa > 0), default=None)


def _utilisation(average_mpa: float, peel_mpa: float, bears: BondStrength) -> float | None:
    if bears.shear_mpa <= 0:
        return None
    return SAFETY_FACTOR * max(average_mpa / bears.shear_mpa, peel_mpa / bears.peel_mpa)
