"""The calculation of the bond of one joint, line by line.

Goes in: a joint, its bonding, settings. Comes out: rows.
"""

from __future__ import annotations

import math

from assembler.catalogue.records import Sureness
from assembler.engineering.bonding import cure_clock, night_temperature, temperature_of
from assembler.engineering.bondstress import PEEL_SHARE, SAFETY_FACTOR, bond_stress, cured_strength
from assembler.engineering.calculation import PRACTICE, SURVEY, WorksheetRow
from assembler.engineering.curing import HALVING_C, cure_factor, within_range_c
from assembler.engineering.loads import CarriedLoad, levers_mm
from assembler.engineering.patterns import TIGHTENING_PASSES
from assembler.engineering.worktimes import hands
from assembler.figure.hardware import Bonding
from assembler.figure.joints import Joint
from assembler.figure.settings import Settings

CURE_SOURCE = f"times halve for each 10 C more: three manufacturers' pages ({Sureness.SECOND_HAND.label})"

CURE_FORMULA = (
    "minutes by day and by night / (sheet x 2^((sheet C - T)/K)) add up to 1, K the slower of "
    f"{HALVING_C[0]:g} and {HALVING_C[1]:g} C"
)

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
            "area / (rate x people) + placing + bolts x (fitting + rounds x tightening) / pairs",
            f"{joint.bond_area_mm2:.0f} / ({crew.spread_mm2_min:g} x {at_joint}) + {crew.close_min:g} + "
            f"{len(joint.bolts)} x ({crew.bolt_min:g} + {len(TIGHTENING_PASSES)} x {crew.round_min:g}) / "
            f"{math.ceil(at_joint / 2)}",
            f"{math.ceil(bonding.needed_min)}",
            "min",
            f"{PRACTICE}; rates: figure.toml",
        ),
        row(
            "hold until handling strength",
            CURE_FORMULA,
            _cure_text(joint, glue.handling_min, settings),
            f"{math.ceil(bonding.handling_min)}",
            "min",
            f"{CURE_SOURCE}; sheet: {glue.source}",
        ),
        row(
            "full cure",
            CURE_FORMULA,
            _cure_text(joint, glue.full_cure_min, settings),
            f"{math.ceil(bonding.full_cure_min / 60)}",
            "h",
            f"{CURE_SOURCE}; sheet: {glue.source}",
        ),
        *([] if load is None else _stress_rows(joint, load, settings)),
    ]


def _stress_rows(joint: Joint, load: CarriedLoad, settings: Settings) -> list[WorksheetRow]:
    """Shear and peel at rest under the piece that hangs on the joint, and how much of what is allowed they use."""
    lever_mm, _ = levers_mm(joint, load, settings.up)
    glue = settings.adhesive
    stress, _ = bond_stress(joint, load.mass_kg, glue, lever_mm=lever_mm)
    bears = cured_strength(glue)
    names = ", ".join(load.parts) if len(load.parts) < 5 else f"{len(load.parts)} parts"

    def row(quantity: str, formula: str, inputs: str, result: str, unit: str, source: str) -> WorksheetRow:
        return WorksheetRow(
            about=joint.id, quantity=quantity, formula=formula, inputs=inputs, result=result, unit=unit, source=source
        )

    rows = [
        row(
            "average shear under what hangs on it",
            "mass x g / area",
            f"{load.mass_kg:.2f} kg ({names}) x 9.81 / {joint.bond_area_mm2:.0f}",
            _stress_text(stress.average_mpa),
            "MPa",
            "definition; an average, no capacity: peaks at the edge are several times higher",
        ),
        row(
            "greatest peel under what hangs on it",
            "2 M / (area x r), r = seam / 2 pi",
            f"2 x {stress.moment_nm:.2f} N m / ({joint.bond_area_mm2:.0f} x {joint.seam_mm:.0f} / 2 pi)",
            _stress_text(stress.peel_mpa),
            "MPa",
            "closed thin ring, strength of materials; a pad or an open seam peels sooner",
        ),
    ]
    if stress.utilisation is None:
        return [*rows, row("share of what is allowed", "", "strength_mpa is not stated", "not checked", "", PRACTICE)]
    peel = "peel_mpa as stated" if glue.peel_mpa else f"{PEEL_SHARE:g} x {bears.shear_mpa:g}, none stated"
    used = row(
        "share of what is allowed",
        f"larger of shear and peel x {SAFETY_FACTOR:g} / strength",
        f"shear {bears.shear_mpa:g} MPa; peel {bears.peel_mpa:g} MPa ({peel})",
        f"{math.ceil(100.0 * stress.utilisation - 1e-6)}",
        "%",
        f"{PRACTICE}: safety, share of peel; strength: {glue.source}",
    )
    return [*rows, used]


def _cure_text(joint: Joint, sheet_min: float, settings: Settings) -> str:
    """What the sum is made of: what each hour by day and by night does of the whole."""
    glue, clock = settings.adhesive, cure_clock(joint.made, settings)
    day_c = temperature_of(joint.made, settings.climate)
    night_c = night_temperature(joint.made, settings.climate)
    day, night = (100.0 * rate * 60.0 / sheet_min for rate in (clock.day_share, clock.night_share))
    return (
        f"{sheet_min:g} min at {glue.sheet_c:g} C; an hour of work at {day_c:g} C does {day:.2f} %, an hour of "
        f"night at {night_c:g} C {night:.2f} %; closed at the worst minute of a working day"
    )


def _stress_text(stress_mpa: float) -> str:
    """Two digits; 0 for what is below any strength by a thousand."""
    return f"{stress_mpa:.2g}" if stress_mpa >= NO_STRESS_MPA else "0"
