"""The calculation of the bond of one joint, line by line.

Goes in: a joint, its bonding, settings. Comes out: rows.
"""

from __future__ import annotations

import math

from assembler.catalogue.records import Sureness
from assembler.engineering.bonding import cure_clock, night_temperature, temperature_of
from assembler.engineering.bondstress import PEEL_SHARE, SAFETY_FACTOR, bond_stress, cured_strength
from assembler.engineering.calculation import PRACTICE, SURVEY, WorksheetRow, sheet_row
from assembler.engineering.curing import HALVING_C, cure_factor, within_range_c
from assembler.engineering.loads import CarriedLoad, levers_mm
from assembler.engineering.patterns import TIGHTENING_PASSES
from assembler.engineering.worktimes import hands
from assembler.figure.hardware import Bonding
from assembler.figure.joints import Joint
from assembler.figure.settings import Settings
from assembler.words import Value, say

NO_STRESS_MPA = 5e-5
"""Less than this is printed as 0: rounding of centres of mass that lie above their joint."""


def bond_rows(
    joint: Joint, bonding: Bonding, settings: Settings, load: CarriedLoad | None = None
) -> list[WorksheetRow]:
    """Rows for the bond of a joint.

    Parameters
    ----------
    joint, bonding
        A bonded joint and its adhesive.
    settings
        Adhesive, crew, temperatures.
    load
        What hangs on the joint alone, if anything does.
    """
    glue, crew = settings.adhesive, settings.crew
    day_c = within_range_c(bonding.temperature_c, glue)
    day, at_joint = cure_factor(glue.sheet_c, day_c), hands(crew)
    cure = say("source.cure", how=Sureness.SECOND_HAND.label, sheet=glue.source)
    area_mm2 = joint.bond_area_mm2
    return [
        sheet_row("bond_area", joint.id, f"{area_mm2 / 100:.1f}", "cm2", SURVEY),
        sheet_row(
            "adhesive",
            joint.id,
            f"{bonding.volume_ml:.1f}",
            "ml",
            say("source.adhesive", rule=PRACTICE, sheet=glue.source),
            area_mm2=area_mm2,
            bond_line_mm=glue.bond_line_mm,
            waste=glue.waste,
        ),
        sheet_row(
            "open_time",
            joint.id,
            f"{math.floor(bonding.open_min)}",
            "min",
            cure,
            open_min=glue.open_min,
            sheet_c=glue.sheet_c,
            part_c=day_c,
            factor=day,
        ),
        sheet_row(
            "time_to_close",
            joint.id,
            f"{math.ceil(bonding.needed_min)}",
            "min",
            say("source.rates", rule=PRACTICE),
            area_mm2=area_mm2,
            spread_mm2_min=crew.spread_mm2_min,
            hands=at_joint,
            placing_min=crew.close_min,
            count=len(joint.bolts),
            bolt_min=crew.bolt_min,
            rounds=len(TIGHTENING_PASSES),
            round_min=crew.round_min,
            pairs=math.ceil(at_joint / 2),
        ),
        sheet_row(
            "hold",
            joint.id,
            f"{math.ceil(bonding.handling_min)}",
            "min",
            cure,
            **_cure_values(joint, glue.handling_min, settings),
        ),
        sheet_row(
            "full_cure",
            joint.id,
            f"{math.ceil(bonding.full_cure_min / 60)}",
            "h",
            cure,
            **_cure_values(joint, glue.full_cure_min, settings),
        ),
        *([] if load is None else _stress_rows(joint, load, settings)),
    ]


def _stress_rows(joint: Joint, load: CarriedLoad, settings: Settings) -> list[WorksheetRow]:
    """Shear and peel at rest under the piece that hangs on the joint, and how much of what is allowed they use."""
    lever_mm, _ = levers_mm(joint, load, settings.up)
    glue = settings.adhesive
    stress, _ = bond_stress(joint, load.mass_kg, glue, lever_mm=lever_mm)
    bears = cured_strength(glue)
    names: Value = tuple(load.parts) if len(load.parts) < 5 else say("sheet.parts", count=len(load.parts))
    rows = [
        sheet_row(
            "shear",
            joint.id,
            _stress_text(stress.average_mpa),
            "MPa",
            say("source.shear"),
            mass_kg=load.mass_kg,
            parts=names,
            area_mm2=joint.bond_area_mm2,
        ),
        sheet_row(
            "peel",
            joint.id,
            _stress_text(stress.peel_mpa),
            "MPa",
            say("source.peel"),
            moment_nm=stress.moment_nm,
            area_mm2=joint.bond_area_mm2,
            seam_mm=joint.seam_mm,
        ),
    ]
    if stress.utilisation is None:
        return [*rows, sheet_row("share_unknown", joint.id, say("sheet.not_checked"), "", PRACTICE)]
    assumed = say("sheet.peel_assumed", share=PEEL_SHARE, shear_mpa=bears.shear_mpa)
    used = sheet_row(
        "share",
        joint.id,
        f"{math.ceil(100.0 * stress.utilisation - 1e-6)}",
        "%",
        say("source.share", rule=PRACTICE, sheet=glue.source),
        safety=SAFETY_FACTOR,
        shear_mpa=bears.shear_mpa,
        peel_mpa=bears.peel_mpa,
        peel=say("sheet.peel_stated") if glue.peel_mpa else assumed,
    )
    return [*rows, used]


def _cure_values(joint: Joint, sheet_min: float, settings: Settings) -> dict[str, Value]:
    """What the sum is made of: what each hour by day and by night does of the whole."""
    glue, clock = settings.adhesive, cure_clock(joint.made, settings)
    slow_c, fast_c = HALVING_C
    return {
        "sheet_min": sheet_min,
        "sheet_c": glue.sheet_c,
        "day_c": temperature_of(joint.made, settings.climate),
        "day_percent": 100.0 * clock.day_share * 60.0 / sheet_min,
        "night_c": night_temperature(joint.made, settings.climate),
        "night_percent": 100.0 * clock.night_share * 60.0 / sheet_min,
        "slow_c": slow_c,
        "fast_c": fast_c,
    }


def _stress_text(stress_mpa: float) -> str:
    """Two digits; 0 for what is below any strength by a thousand."""
    return f"{stress_mpa:.2g}" if stress_mpa >= NO_STRESS_MPA else "0"
