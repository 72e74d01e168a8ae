"""Adhesive for each joint: how much, how long it stays open, how long the joint must be left alone.

Goes in: joints and settings. Comes out: one `Bonding` for each bonded joint, and findings with numbers. No meshes.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

from assembler.engineering.curing import (
    DayAndNight,
    TemperatureRow,
    cure_factor,
    day_and_night,
    five_temperatures,
    hold_minutes,
    longest_hold,
    minutes_at,
    within_range_c,
)
from assembler.engineering.workhours import DAY_MIN
from assembler.engineering.worktimes import HANDS_AT_JOINT, bolts_minutes, hands
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Bonding
from assembler.figure.joints import Joint, Method, Place
from assembler.figure.settings import Adhesive, Climate, Crew, Settings

__all__ = [
    "TemperatureRow",
    "batches",
    "bonding_for_joints",
    "cartridges",
    "closing_minutes",
    "five_temperatures",
    "minutes_at",
    "sessions",
    "volume_ml",
]

PURGE_ML = 12.0
"""What fills and purges a mixing nozzle each time the gun has rested too long (10 to 15 ml; common practice)."""

PREPARED_H = 4
"""Hours that an abraded and degreased face may wait (common practice, no source)."""


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


def sessions(starts_min: Sequence[float], life_min: float) -> int:
    """How often a nozzle is filled: once for all joints that are glued within one working life of its mixing.

    Parameters
    ----------
    starts_min
        When each joint is glued.
    life_min
        Minutes until what stands in the nozzle is too thick.
    """
    count, fresh_min = 0, -math.inf
    for start_min in sorted(starts_min):
        if start_min - fresh_min > life_min:
            count += 1
        # Each joint pushes fresh adhesive into the nozzle.
        fresh_min = start_min
    return count


def closing_minutes(area_mm2: float, bolts: int, people: int, crew: Crew) -> float:
    """Time to spread, place and tighten: area / (rate x people) + placing + bolts x minutes / pairs.

    Parameters
    ----------
    area_mm2, bolts
        Of the joint.
    people
        At the joint; more than four do not help.
    crew
        With the shop's rates for one person.
    """
    together = max(1, min(people, HANDS_AT_JOINT))
    spread_min = area_mm2 / (crew.spread_mm2_min * together)
    return spread_min + crew.close_min + bolts_minutes([0.0] * bolts, together, crew)


def batches(area_mm2: float, working_life_min: float, crew: Crew) -> int:
    """Batches to mix for one joint, so that each is spread within its working life; 0 for no area.

    Parameters
    ----------
    area_mm2
        Of the joint.
    working_life_min
        At the temperature of the work.
    crew
        People, and the area one spreads a minute.
    """
    return math.ceil(area_mm2 / (crew.spread_mm2_min * hands(crew)) / working_life_min - 1e-9)


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
    """The lowest temperature that a joint's hold meets.

    Any hold can begin at the end of a working day: the lower of the place by day and by night. Where the night on site
    is not stated, that of the shop stands in, and a `stop` finding says so.
    """
    climate = settings.climate
    return min(temperature_of(joint.made, climate), night_temperature(joint.made, climate))


def cure_clock(place: Place, settings: Settings) -> DayAndNight:
    """How fast the adhesive cures at a place by day, in the working hours, and by night, as stated."""
    climate = settings.climate
    opens_h, closes_h = settings.crew.hours_h
    day_c = temperature_of(place, climate)
    night_c = min(day_c, night_temperature(place, climate))
    return day_and_night(settings.adhesive, day_c, night_c, opens_h * 60.0, closes_h * 60.0)


def hold_clocks(place: Place, settings: Settings) -> tuple[tuple[str, str], ...]:
    """When a joint is free that is closed by the start, the middle and the end of a working day.

    Returns
    -------
    tuple
        Pairs ('12:30', '00:26 +1'): closed by, free from; +1 is the next day. The next day is a working day.
    """
    clock = cure_clock(place, settings)
    middle = (clock.opens_min + clock.closes_min) / 2.0
    rows = []
    for closed_min in (clock.opens_min, middle, clock.closes_min):
        free_min = math.ceil(closed_min + hold_minutes(settings.adhesive.handling_min, closed_min, clock) - 1e-6)
        days, minute = divmod(free_min, DAY_MIN)
        later = f" +{days}" if days else ""
        rows.append((_clock(round(closed_min)), f"{_clock(minute)}{later}"))
    return tuple(rows)


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def night_temperature(place: Place, climate: Climate) -> float:
    """The coldest of a night at a place; of the shop where that on site is not stated."""
    is_known = place is Place.SITE and climate.night_site_c is not None
    return float(climate.night_site_c or 0.0) if is_known else climate.night_min_c


def coldest_c(place: Place, settings: Settings, recorded_c: float) -> float:
    """What a recorded hold goes by at night: the temperature that was recorded, or the coldest of a night there."""
    return min(recorded_c, night_temperature(place, settings.climate))


def handling_min(place: Place, settings: Settings, recorded_c: float, closed_at: datetime.datetime) -> float | None:
    """Minutes to handling strength of parts joined at a temperature and time, at the slow end of the rule.

    None where no time can be given.
    """
    glue, night_c = settings.adhesive, coldest_c(place, settings, recorded_c)
    if minutes_at(glue.handling_min, glue.sheet_c, night_c, glue.lowest_c, glue.highest_c) is None:
        return None
    opens_h, closes_h = settings.crew.hours_h
    clock = day_and_night(glue, recorded_c, night_c, opens_h * 60.0, closes_h * 60.0)
    return hold_minutes(glue.handling_min, closed_at.hour * 60.0 + closed_at.minute, clock)


def _bonding(joint: Joint, settings: Settings) -> Bonding:
    glue, crew = settings.adhesive, settings.crew
    temperature_c = temperature_of(joint.made, settings.climate)
    day = cure_factor(glue.sheet_c, within_range_c(temperature_c, glue))
    clock = cure_clock(joint.made, settings)
    return Bonding(
        joint=joint.id,
        name=glue.name,
        area_mm2=joint.bond_area_mm2,
        volume_ml=volume_ml(joint.bond_area_mm2, glue.bond_line_mm, glue.waste),
        temperature_c=temperature_c,
        open_min=glue.open_min * day,
        needed_min=closing_minutes(joint.bond_area_mm2, len(joint.bolts), hands(crew), crew),
        fixture_min=longest_hold(glue.fixture_min, clock),
        handling_min=longest_hold(glue.handling_min, clock),
        full_cure_min=longest_hold(glue.full_cure_min, clock),
        hold_c=hold_temperature(joint, settings),
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
    for place in Place:
        night = tuple(
            joint.id
            for joint in joints
            if joint.made is place
            and hold_temperature(joint, settings) < min(glue.lowest_c, temperature_of(place, climate))
        )
        if night:
            cold = f"the night falls to {night_temperature(place, climate):g} C in the hold"
            findings.append(
                Finding(
                    level=Level.STOP,
                    code="night-too-cold-to-cure",
                    about=night,
                    message=f"{cold}; {glue.name} is for {_range(glue)}",
                    remedy=f"keep the joint at {glue.lowest_c:g} C or warmer over night, as the holds printed ask",
                )
            )
    return findings + _unknown_night(joints, settings)


def _unknown_night(joints: Sequence[Joint], settings: Settings) -> list[Finding]:
    """Joints glued on site whose hold runs into a night that nobody has stated."""
    climate = settings.climate
    if climate.night_site_c is not None:
        return []
    about = tuple(joint.id for joint in joints if joint.made is Place.SITE)
    if not about:
        return []
    message = (
        f"the night on site is not stated: these holds are counted at the shop's {climate.night_min_c:g} C at best, "
        "and a night outdoors is colder"
    )
    remedy = "state 'night_site_c' under [temperature] in figure.toml"
    return [Finding(level=Level.STOP, code="site-night-not-stated", about=about, message=message, remedy=remedy)]


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
    """A joint that cannot be closed and tightened while the adhesive is open and workable."""
    glue, crew = settings.adhesive, settings.crew
    limit_min, limit = min((bonding.open_min, "open time"), (working_life_min(bonding, glue), "working life"))
    if bonding.needed_min <= limit_min:
        return []
    enough = _people_that_do(joint, limit_min, crew)
    more = f"{enough} people, " if enough else "split the joint's work, "
    sheet_min = glue.open_min if limit == "open time" else glue.working_life_min
    slower = math.ceil(bonding.needed_min / limit_min * sheet_min)
    message = (
        f"{hands(crew)} people need {bonding.needed_min:.0f} min to spread {joint.bond_area_mm2 / 100:.0f} cm2, "
        f"place, and tighten {len(joint.bolts)} bolts; the {limit} at {bonding.temperature_c:g} C is "
        f"{math.floor(limit_min)} min"
    )
    remedy = f"{more}an adhesive with {slower} min of {limit} at {glue.sheet_c:g} C, or colder parts"
    return [Finding(level=Level.STOP, code="open-time-too-short", about=(joint.id,), message=message, remedy=remedy)]


def working_life_min(bonding: Bonding, glue: Adhesive) -> float:
    """Working life of the adhesive at the temperature of the parts, minutes.

    Parameters
    ----------
    bonding
        With that temperature.
    glue
        With the minutes of its data sheet.
    """
    return glue.working_life_min * cure_factor(glue.sheet_c, within_range_c(bonding.temperature_c, glue))


def _people_that_do(joint: Joint, open_min: float, crew: Crew) -> int:
    """Smallest crew that closes the joint in time; 0 when none does."""
    for people in range(hands(crew) + 1, HANDS_AT_JOINT + 1):
        if closing_minutes(joint.bond_area_mm2, len(joint.bolts), people, crew) <= open_min:
            return people
    return 0
