"""Whether the numbers that the shop states can be meant in their unit: a wrong unit must not pass silently.

Goes in: settings and joints. Comes out: findings that name the unit which the number looks like.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.joints import Joint
from assembler.figure.settings import Adhesive, Material, Settings
from assembler.words import Said, Text, say


@dataclass(frozen=True, slots=True, kw_only=True)
class _Range:
    """What a quantity can be, and what it looks like outside.

    Parameters
    ----------
    low, high
        Believable values in the stated unit.
    unit
        The stated unit.
    below, above
        What a smaller or a larger number looks like.
    """

    low: float
    high: float
    unit: Text
    below: Text
    above: Text


_DENSITY = _Range(low=10.0, high=23000.0, unit="kg/m3", below="g/cm3", above="g/m3")
_BEARING = _Range(low=0.2, high=2000.0, unit="MPa", below="GPa", above=say("like.kpa_psi"))
_BOND_LINE = _Range(low=0.01, high=10.0, unit="mm", below="m", above=say("word.micrometres"))
_WASTE = _Range(low=0.0, high=2.0, unit="(0.3 = 30 %)", below=say("like.negative_share"), above=say("like.per_cent"))
_SHEET_C = _Range(
    low=-10.0,
    high=50.0,
    unit=say("like.degrees_celsius"),
    below=say("like.nothing_usual"),
    above=say("like.fahrenheit_kelvin"),
)
_AIR_C = _Range(
    low=-40.0,
    high=55.0,
    unit=say("like.degrees_celsius"),
    below=say("like.nothing_usual"),
    above=say("like.fahrenheit_kelvin"),
)
_TIMES_MIN = _Range(
    low=0.1, high=50000.0, unit=say("word.minutes"), below=say("like.hours_days"), above=say("word.seconds")
)
_STRENGTH = _Range(low=0.05, high=100.0, unit="MPa", below="GPa", above=say("like.kpa_psi"))
_HOLE = _Range(low=2.0, high=80.0, unit="mm", below=say("like.inches"), above=say("word.micrometres"))
_REACH = _Range(low=200.0, high=1200.0, unit="mm", below=say("like.cm_inches"), above=say("like.nothing_usual"))
_ARM = _Range(low=40.0, high=500.0, unit="mm", below=say("like.cm_inches"), above=say("like.micrometres_hatch"))
_LIFT = _Range(low=3.0, high=60.0, unit="kg", below=say("word.tonnes"), above=say("like.pounds_newtons"))
_SPREAD = _Range(
    low=500.0,
    high=500000.0,
    unit=say("like.mm_minute"),
    below=say("like.cm_minute"),
    above=say("like.nothing_usual"),
)


def plausibility_findings(settings: Settings, joints: Iterable[Joint] = ()) -> tuple[Finding, ...]:
    """Stated numbers that look like another unit, as `stop` findings: everything after them would be wrong.

    Parameters
    ----------
    settings
        From figure.toml.
    joints
        From joints.toml.
    """
    findings: list[Finding] = []
    for material in settings.materials.values():
        findings += _material(material)
    findings += _adhesive(settings.adhesive)
    climate, crew = settings.climate, settings.crew
    stated = {"shop_c": climate.shop_c, "night_min_c": climate.night_min_c, "site_c": climate.site_c}
    if climate.night_site_c is not None:
        stated["night_site_c"] = climate.night_site_c
    for key, value in stated.items():
        findings += _checked(f"temperature.{key}", value, _AIR_C)
    findings += _checked("crew.reach_mm", crew.reach_mm, _REACH)
    own = {
        "hand_opening_mm": crew.hand_opening_mm,
        "forearm_opening_mm": crew.forearm_opening_mm,
        "upper_arm_opening_mm": crew.upper_arm_opening_mm,
    }
    for key, value in own.items():
        findings += _checked(f"crew.{key}", value, _ARM) if value else []
    findings += _checked("crew.spread_mm2_min", crew.spread_mm2_min, _SPREAD)
    findings += _checked("crew.lift_one_kg", crew.lift_one_kg, _LIFT) if crew.lift_one_kg else []
    for joint in joints:
        for bolt in joint.bolts:
            findings += _checked(f"{bolt.id} hole_mm", bolt.hole_mm, _HOLE)
    return sort_findings(findings)


def _material(material: Material) -> list[Finding]:
    place = f"materials.{material.name}"
    findings = _checked(f"{place}.density_kg_m3", material.density_kg_m3, _DENSITY)
    if material.bearing_mpa:
        findings += _checked(f"{place}.bearing_mpa", material.bearing_mpa, _BEARING)
    return findings


def _adhesive(glue: Adhesive) -> list[Finding]:
    findings = _checked("adhesive.bond_line_mm", glue.bond_line_mm, _BOND_LINE)
    findings += _checked("adhesive.waste", glue.waste, _WASTE)
    findings += _checked("adhesive.sheet_c", glue.sheet_c, _SHEET_C)
    times = {
        "open_min": glue.open_min,
        "working_life_min": glue.working_life_min,
        "fixture_min": glue.fixture_min,
        "handling_min": glue.handling_min,
        "full_cure_min": glue.full_cure_min,
    }
    for key, value in times.items():
        findings += _checked(f"adhesive.{key}", value, _TIMES_MIN)
    findings += _order_of_times(times)
    strengths = {"strength_mpa": glue.strength_mpa, "peel_mpa": glue.peel_mpa, "handling_mpa": glue.handling_mpa}
    for key, value in strengths.items():
        findings += _checked(f"adhesive.{key}", value, _STRENGTH) if value else []
    return findings


def _order_of_times(times: dict[str, float]) -> list[Finding]:
    """Open time, fixture, handling, full cure follow each other: times in different units show here."""
    findings = []
    for earlier, later in pairwise(("open_min", "fixture_min", "handling_min", "full_cure_min")):
        if times[earlier] > times[later]:
            message = say(
                "finding.unit-doubtful-times",
                earlier=earlier,
                earlier_min=times[earlier],
                later=later,
                later_min=times[later],
            )
            findings.append(_stop(message, f"adhesive.{earlier}", say("remedy.unit-doubtful-times")))
    return findings


def _checked(place: str, value: float, allowed: _Range) -> list[Finding]:
    if allowed.low <= value <= allowed.high:
        return []
    like = allowed.below if value < allowed.low else allowed.above
    message = say(
        "finding.unit-doubtful", place=place, value=value, unit=allowed.unit, least=allowed.low, most=allowed.high
    )
    return [_stop(message, place, say("remedy.unit-doubtful", like=like, unit=allowed.unit))]


def _stop(message: Said, place: str, remedy: Said) -> Finding:
    return Finding(level=Level.STOP, code="unit-doubtful", about=(place.split(" ")[0],), message=message, remedy=remedy)
