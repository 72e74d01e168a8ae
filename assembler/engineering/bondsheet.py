"""The calculation of the bond of one joint, line by line.

Goes in: a joint, its bonding, settings. Comes out: rows.
"""

from __future__ import annotations

import math

from assembler.engineering.bonding import HANDS_AT_JOINT, LONG_HOLD_MIN, PLACING_MIN, hold_temperature
from assembler.engineering.bondstress import SAFETY_FACTOR, bond_stress
from assembler.engineering.calculation import PRACTICE, SURVEY, WorksheetRow, two_digits_down
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.curing import cure_factor, within_range_c
from assembler.engineering.loads import CarriedLoad, levers_mm
from assembler.figure.hardware import Bonding
from assembler.figure.joints import Joint
from assembler.figure.settings import Settings

CURE_SOURCE = "times halve for each 10 C more: three manufacturers' pages (read in a copy of the source)"


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
    hold_c = within_range_c(hold_temperature(joint, settings), glue)
    day, hold = cure_factor(glue.sheet_c, day_c), cure_factor(glue.sheet_c, hold_c)
    hands = max(1, min(crew.people, HANDS_AT_JOINT))

    def row(quantity: str, formula: str, inputs: str, result: str, unit: str, source: str) -> WorksheetRow:
        return WorksheetRow(
            about=joint.id, quantity=quantity, formula=formula, inputs=inputs, result=result, unit=unit, source=source
        )

    return [
        row("bond area", "facing area net of holes", "", f"{joint.bond_area_mm2 / 100:.1f}", "cm2", SURVEY),
        row(
            "adhesive",
            "area x bond line x (1 + waste)",
            f"{joint.bond_area_mm2:.0f} mm2 x {glue.bond_line_mm:g} mm x (1 + {glue.waste:g})",
            f"{bonding.volume_ml:.1f}",
            "ml",
            f"{PRACTICE}; bond line and waste: {glue.source}",
        ),
        row(
            "open time",
            "sheet x 2^((sheet C - part C)/10)",
            f"{glue.open_min:g} x 2^(({glue.sheet_c:g} - {day_c:g})/10) = {glue.open_min:g} x {day:.2f}",
            f"{math.floor(bonding.open_min)}",
            "min",
            f"{CURE_SOURCE}; sheet: {glue.source}",
        ),
        row(
            "time to close",
            "area / (rate x people) + placing + bolts x minutes / people",
            f"{joint.bond_area_mm2:.0f} / ({crew.spread_mm2_min:g} x {hands}) + {PLACING_MIN:g} + "
            f"{len(joint.bolts)} x {crew.bolt_min:g} / {hands}",
            f"{math.ceil(bonding.needed_min)}",
            "min",
            f"{PRACTICE}; rates: figure.toml",
        ),
        row(
            "hold until handling strength",
            "sheet x 2^((sheet C - hold C)/10)",
            f"{glue.handling_min:g} x 2^(({glue.sheet_c:g} - {hold_c:g})/10) = {glue.handling_min:g} x {hold:.2f}; "
            f"over {LONG_HOLD_MIN:g} min the night minimum counts",
            f"{math.ceil(bonding.handling_min)}",
            "min",
            f"{CURE_SOURCE}; sheet: {glue.source}",
        ),
        row(
            "full cure",
            "sheet x 2^((sheet C - hold C)/10)",
            f"{glue.full_cure_min / 60:g} h x {hold:.2f}",
            f"{math.ceil(bonding.full_cure_min / 60)}",
            "h",
            f"{CURE_SOURCE}; sheet: {glue.source}",
        ),
        _bond_load_row(joint, settings),
        *([] if load is None else _stress_rows(joint, load, settings)),
    ]


def _stress_rows(joint: Joint, load: CarriedLoad, settings: Settings) -> list[WorksheetRow]:
    """Average shear and peel at rest under the piece that hangs on the joint."""
    lever_mm, _ = levers_mm(joint, load, settings.up)
    stress, _ = bond_stress(joint, load.mass_kg, settings.adhesive, lever_mm=lever_mm)
    names = ", ".join(load.parts) if len(load.parts) < 5 else f"{len(load.parts)} parts"
    asked = f"asked is strength / {SAFETY_FACTOR:g}"
    shear = WorksheetRow(
        about=joint.id,
        quantity="average shear under what hangs on it",
        formula="mass x g / area",
        inputs=f"{load.mass_kg:.2f} kg ({names}) x 9.81 / {joint.bond_area_mm2:.0f}",
        result=f"{stress.average_mpa:.2g}",
        unit="MPa",
        source=f"definition; {asked}: {PRACTICE}",
    )
    peel = WorksheetRow(
        about=joint.id,
        quantity="greatest peel under what hangs on it",
        formula="2 M / (area x r), r = seam / 2 pi",
        inputs=f"2 x {stress.moment_nm:.2f} N m / ({joint.bond_area_mm2:.0f} x {joint.seam_mm:.0f} / 2 pi)",
        result=f"{stress.peel_mpa:.2g}",
        unit="MPa",
        source=f"thin ring, strength of materials; {asked}: {PRACTICE}",
    )
    return [shear, peel]


def _bond_load_row(joint: Joint, settings: Settings) -> WorksheetRow:
    """Mass that the cured bond carries in plain shear; peel and shock are not in it."""
    glue = settings.adhesive
    formula = f"area x strength / {SAFETY_FACTOR:g} / g"
    if glue.strength_mpa <= 0:
        inputs, result, unit = "strength_mpa is not stated", "not checked", ""
    else:
        carried_kg = joint.bond_area_mm2 * glue.strength_mpa / SAFETY_FACTOR / GRAVITY_M_S2
        inputs = f"{joint.bond_area_mm2:.0f} x {glue.strength_mpa:g} / {SAFETY_FACTOR:g} / 9.81"
        result, unit = two_digits_down(carried_kg), "kg"
    return WorksheetRow(
        about=joint.id,
        quantity="mass in plain shear on the cured bond",
        formula=formula,
        inputs=inputs,
        result=result,
        unit=unit,
        source=f"{PRACTICE}: factor of safety; strength: {glue.source}",
    )
