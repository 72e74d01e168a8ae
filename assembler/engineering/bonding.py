"""Adhesive for each joint: how much, how long it stays open, how long the joint must be left alone.

Goes in: joints and settings. Comes out: one `Bonding` for each bonded joint, and findings with numbers. No meshes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assembler.engineering.curing import TemperatureRow, cure_factor, five_temperatures, minutes_at, within_range_c
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Bonding
from assembler.figure.ids import JointId
from assembler.figure.joints import Joint, Method, Place
from assembler.figure.settings import Adhesive, Climate, Crew, Settings

__all__ = [
    "BondStress",
    "TemperatureRow",
    "bond_stress",
    "bonding_for_joints",
    "cartridges",
    "closing_minutes",
    "five_temperatures",
    "minutes_at",
    "volume_ml",
]

PLACING_MIN = 2.0
"""Time to bring a part with wet faces into place (common practice, no source)."""

HANDS_AT_JOINT = 4
"""People who can work at one joint without being in each other's way (common practice, no source)."""

LONG_HOLD_MIN = 240.0
"""A hold longer than this can run into the night and is counted at the night's lowest temperature."""

SAFETY_FACTOR = 4.0
"""Asked between the stated lap shear strength and the average shear (common practice, no source)."""

GRAVITY_M_S2 = 9.80665
"""Standard gravity."""


def volume_ml(area_mm2: float, bond_line_mm: float, waste: float) -> float:
    """Adhesive to dose for a joint: area x bond line x (1 + waste), ml.

    Parameters
    ----------
    area_mm2, bond_line_mm
        Net area and thickness.
    waste
        Share for mixer, nozzle and squeeze-out (0.3 = 30 %).
    """
    return area_mm2 * bond_line_mm * (1.0 + waste) / 1000.0


def cartridges(volumes_ml: Sequence[float], cartridge_ml: float) -> int:
    """Whole cartridges that hold the sum; 0 for nothing."""
    return math.ceil(sum(volumes_ml) / cartridge_ml - 1e-9)


def closing_minutes(area_mm2: float, bolts: int, people: int, crew: Crew) -> float:
    """Time to spread, place and tighten: area / (rate x people) + placing + bolts x minutes / people.

    Parameters
    ----------
    area_mm2, bolts
        Of the joint.
    people
        At the joint; more than four do not help.
    crew
        With the shop's rates for one person.
    """
    hands = max(1, min(people, HANDS_AT_JOINT))
    return area_mm2 / (crew.spread_mm2_min * hands) + PLACING_MIN + bolts * crew.bolt_min / hands


def bonding_for_joints(joints: Sequence[Joint], settings: Settings) -> tuple[tuple[Bonding, ...], tuple[Finding, ...]]:
    """Adhesive, clocks and holds for each bonded joint, and what does not work.

    Parameters
    ----------
    joints
        All; those that are not bonded are passed over.
    settings
        Adhesive, crew, temperatures.

    Returns
    -------
    bondings
        In the order of the joints. Outside the adhesive's range of temperature the times are those at the nearest end
        of the range, and a `stop` finding says so.
    findings
        Temperatures outside the range, too little open time, bond lines without spacer, strength not stated.
    """
    bonded = [joint for joint in joints if joint.method.is_bonded]
    bondings = tuple(_bonding(joint, settings) for joint in bonded)
    findings: list[Finding] = []
    if bonded:
        findings += _temperature_findings(bonded, settings)
        findings += _adhesive_findings(bonded, settings.adhesive)
    for joint, bonding in zip(bonded, bondings, strict=True):
        findings += _time_findings(joint, bonding, settings)
    return bondings, sort_findings(findings)


def temperature_of(place: Place, climate: Climate) -> float:
    """Temperature of the parts where a joint is closed."""
    return climate.site_c if place is Place.SITE else climate.shop_c


def hold_temperature(joint: Joint, settings: Settings) -> float:
    """Temperature that a joint's hold is counted at.

    A hold of more than four hours can run into the night: the lower of the place and the night minimum counts. On site
    the night minimum of the shop counts too, for want of another.
    """
    glue, climate = settings.adhesive, settings.climate
    day_c = temperature_of(joint.made, climate)
    day_min = glue.handling_min * cure_factor(glue.sheet_c, within_range_c(day_c, glue))
    return min(day_c, climate.night_min_c) if day_min > LONG_HOLD_MIN else day_c


def _bonding(joint: Joint, settings: Settings) -> Bonding:
    glue, crew = settings.adhesive, settings.crew
    temperature_c = temperature_of(joint.made, settings.climate)
    day = cure_factor(glue.sheet_c, within_range_c(temperature_c, glue))
    hold = cure_factor(glue.sheet_c, within_range_c(hold_temperature(joint, settings), glue))
    return Bonding(
        joint=joint.id,
        name=glue.name,
        area_mm2=joint.bond_area_mm2,
        volume_ml=volume_ml(joint.bond_area_mm2, glue.bond_line_mm, glue.waste),
        temperature_c=temperature_c,
        open_min=glue.open_min * day,
        needed_min=closing_minutes(joint.bond_area_mm2, len(joint.bolts), crew.people, crew),
        fixture_min=glue.fixture_min * hold,
        handling_min=glue.handling_min * hold,
        full_cure_min=glue.full_cure_min * hold,
    )


def _temperature_findings(joints: Sequence[Joint], settings: Settings) -> list[Finding]:
    glue, climate = settings.adhesive, settings.climate
    findings = []
    for place in Place:
        ids = tuple(joint.id for joint in joints if joint.made is place)
        temp_c = temperature_of(place, climate)
        if ids and not glue.lowest_c <= temp_c <= glue.highest_c:
            findings.append(
                Finding(
                    level=Level.STOP,
                    code="too-cold-to-glue" if temp_c < glue.lowest_c else "too-hot-to-glue",
                    about=ids,
                    message=f"parts at the {place} are at {temp_c:g} C; {glue.name} is for {_range(glue)}",
                    remedy="bring the parts into the range; the times printed are those at its nearest end",
                )
            )
    night = tuple(
        joint.id
        for joint in joints
        if hold_temperature(joint, settings) < min(glue.lowest_c, temperature_of(joint.made, climate))
    )
    if night:
        findings.append(
            Finding(
                level=Level.STOP,
                code="night-too-cold-to-cure",
                about=night,
                message=f"the night falls to {climate.night_min_c:g} C in the hold; {glue.name} is for {_range(glue)}",
                remedy=f"keep the joint at {glue.lowest_c:g} C or warmer over night; the holds printed are for that",
            )
        )
    return findings


def _range(glue: Adhesive) -> str:
    return f"{glue.lowest_c:g} to {glue.highest_c:g} C"


def _adhesive_findings(joints: Sequence[Joint], glue: Adhesive) -> list[Finding]:
    findings = []
    squeezed = tuple(joint.id for joint in joints if joint.method is Method.BOLTED_AND_BONDED)
    if squeezed and not glue.spacer:
        findings.append(
            Finding(
                level=Level.WARN,
                code="bond-line-squeezed",
                about=squeezed,
                message=f"bolts squeeze the bond line of {glue.bond_line_mm:g} mm towards zero; no spacer is stated",
                remedy="use spacers, glass beads or printed stops, and name them as 'spacer' under [adhesive]",
            )
        )
    if glue.strength_mpa <= 0:
        findings.append(
            Finding(
                level=Level.NOTE,
                code="bond-strength-not-stated",
                about=tuple(joint.id for joint in joints),
                message=f"lap shear strength of {glue.name} on this material is not stated: bonds are not checked",
                remedy="glue and break coupons of your own, and state 'strength_mpa' under [adhesive]",
            )
        )
    return findings


def _time_findings(joint: Joint, bonding: Bonding, settings: Settings) -> list[Finding]:
    glue, crew = settings.adhesive, settings.crew
    if bonding.needed_min <= bonding.open_min:
        return []
    enough = _people_that_do(joint, bonding.open_min, crew)
    more = f"{enough} people, " if enough else ""
    slower = bonding.needed_min / bonding.open_min * glue.open_min
    return [
        Finding(
            level=Level.STOP,
            code="open-time-too-short",
            about=(joint.id,),
            message=(
                f"{crew.people} people need {bonding.needed_min:.0f} min to spread "
                f"{joint.bond_area_mm2 / 100:.0f} cm2, "
                f"place and tighten {len(joint.bolts)} bolts; the open time at {bonding.temperature_c:g} C "
                f"is {bonding.open_min:.0f} min"
            ),
            remedy=f"{more}an open time of {slower:.0f} min at {glue.sheet_c:g} C, colder parts, or a smaller joint",
        )
    ]


def _people_that_do(joint: Joint, open_min: float, crew: Crew) -> int:
    """Smallest crew that closes the joint in time; 0 when none does."""
    for people in range(crew.people + 1, HANDS_AT_JOINT + 1):
        if closing_minutes(joint.bond_area_mm2, len(joint.bolts), people, crew) <= open_min:
            return people
    return 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BondStress:
    """Average stress in a bond under a load, against the strength that the shop states.

    Parameters
    ----------
    joint
        The joint.
    force_n
        Carried.
    average_mpa
        Force / area.
    safety
        Strength / average; None when no strength is stated or nothing is carried.
    """

    joint: JointId
    force_n: float
    average_mpa: float
    safety: float | None


def bond_stress(
    joint: Joint, carried_kg: float, adhesive: Adhesive, acceleration_g: float = 1.0
) -> tuple[BondStress, tuple[Finding, ...]]:
    """Average shear in a bond that carries a mass, and a finding where it is too high.

    The average hides peaks at the ends (several times higher in stiff lap joints); that is what the factor is for.

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

    Raises
    ------
    ValueError
        If the joint has no area.
    """
    if joint.bond_area_mm2 <= 0:
        raise ValueError(f"{joint.id} has no bond area")
    force_n = carried_kg * GRAVITY_M_S2 * acceleration_g
    average_mpa = force_n / joint.bond_area_mm2
    safety = adhesive.strength_mpa / average_mpa if adhesive.strength_mpa > 0 and average_mpa > 0 else None
    stress = BondStress(joint=joint.id, force_n=force_n, average_mpa=average_mpa, safety=safety)
    if safety is None or safety >= SAFETY_FACTOR:
        return stress, ()
    finding = Finding(
        level=Level.WARN,
        code="bond-overloaded",
        about=(joint.id,),
        message=(
            f"{carried_kg:.1f} kg at {acceleration_g:g} g put {average_mpa:.3f} MPa on the bond; "
            f"{adhesive.strength_mpa:g} MPa is {safety:.1f} times that, {SAFETY_FACTOR:g} is asked"
        ),
        remedy="a larger flange, more bolts, or support until the figure stands",
    )
    return stress, (finding,)
