"""The whole calculation of one joint, line by line, as an engineer writes it on paper.

Goes in: a joint with what fastening and bonding made of it, and the settings. Comes out: rows with formula, inputs,
result, unit and source, for the appendix of the book and for a command.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby

from assembler.catalogue import tables
from assembler.catalogue.records import Sureness
from assembler.engineering.boltsalone import ASKED_SAFETY as BOLTS_SAFETY
from assembler.engineering.boltsalone import DRY_FRICTION, KEPT_PRELOAD, WET_FRICTION, preload_n
from assembler.engineering.bonding import HANDS_AT_JOINT, LONG_HOLD_MIN, PLACING_MIN, hold_temperature
from assembler.engineering.bondstress import SAFETY_FACTOR as BOND_SAFETY
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.curing import cure_factor, within_range_c
from assembler.engineering.holes import size_from_hole
from assembler.engineering.lengths import INSERT_ENGAGEMENT, PROTRUSION_PITCHES, Pieces
from assembler.engineering.selection import faces_of_bolt
from assembler.engineering.spacing import LEAST_SPACING_HOLES
from assembler.engineering.tightening import PRELOAD_SHARE, BearingFace, Tightening, tighten
from assembler.figure.hardware import Bonding, Stack
from assembler.figure.ids import natural_key
from assembler.figure.joints import Bolt, Joint
from assembler.figure.settings import Settings

PRACTICE = Sureness.COMMON_PRACTICE.label
SURVEY = "survey of the meshes"
TORQUE_SOURCE = "T = K F d (read in a copy of the source: two engineering pages); K: figure.toml"
CURE_SOURCE = "times halve for each 10 C more: two manufacturers' glossaries (read in a copy of the source)"


@dataclass(frozen=True, slots=True, kw_only=True)
class WorksheetRow:
    """One line of a calculation.

    Parameters
    ----------
    about
        Joint, or the bolts that the line is for.
    quantity
        What is computed.
    formula
        In words and signs; empty for a value that is looked up or stated.
    inputs
        The formula with its numbers.
    result
        As printed; words where the result is a choice.
    unit
        Of the result; empty for words and counts.
    source
        Of the formula or the value, with how sure it is.
    """

    about: str
    quantity: str
    formula: str
    inputs: str
    result: str
    unit: str
    source: str


_RowMaker = Callable[[str, str, str, str, str, str], WorksheetRow]


def worksheet(
    joint: Joint, stacks: Sequence[Stack], bonding: Bonding | None, settings: Settings
) -> tuple[WorksheetRow, ...]:
    """All lines for one joint: each kind of bolt once, then the adhesive.

    Parameters
    ----------
    joint
        The joint.
    stacks
        Of all joints or of this one; those of other joints are passed over.
    bonding
        Of this joint; None when it is not bonded.
    settings
        Hardware, adhesive, materials.
    """
    bolts = {bolt.id: bolt for bolt in joint.bolts}
    own = [stack for stack in stacks if stack.bolt in bolts]
    rows: list[WorksheetRow] = []
    for group in _alike(own):
        rows += _bolt_rows(bolts[group[0].bolt], group, joint, settings)
    if own:
        rows += _pattern_rows(joint, own, settings)
    if bonding is not None:
        rows += _bond_rows(joint, bonding, settings)
    return tuple(rows)


def _alike(stacks: Sequence[Stack]) -> Iterator[list[Stack]]:
    """Stacks of one size, length and washer together; the longest grip first, since it rules."""

    def key(stack: Stack) -> tuple[object, ...]:
        return (natural_key(stack.size), stack.length_mm, stack.screw, stack.nut, stack.washer)

    ordered = sorted(stacks, key=lambda stack: (key(stack), -stack.grip_mm, natural_key(stack.bolt)))
    for _, group in groupby(ordered, key=key):
        yield list(group)


def _named(names: Iterable[str]) -> str:
    ordered = sorted(names, key=natural_key)
    return ordered[0] if len(ordered) == 1 else f"{ordered[0]} to {ordered[-1]} ({len(ordered)})"


def _bolt_rows(bolt: Bolt, group: Sequence[Stack], joint: Joint, settings: Settings) -> list[WorksheetRow]:
    stack = group[0]
    about = _named(item.bolt for item in group)

    def row(quantity: str, formula: str, inputs: str, result: str, unit: str, source: str) -> WorksheetRow:
        return WorksheetRow(
            about=about, quantity=quantity, formula=formula, inputs=inputs, result=result, unit=unit, source=source
        )

    hole = next(item for item in tables.clearance_holes() if item.size == stack.size)
    match = size_from_hole(bolt.hole_mm)
    fit = match.fit if match else ""
    rows = [
        row(
            "bolt size", "nearest clearance hole", f"hole {bolt.hole_mm:.2f} mm, {fit} series", stack.size, "", hole.tag
        )
    ]
    bond_mm = stack.grip_mm - bolt.grip_mm
    rows.append(
        row(
            "grip",
            "grip as modelled + bond line the model lacks",
            f"{bolt.grip_mm:.2f} + {bond_mm:.2f}",
            f"{stack.grip_mm:.2f}",
            "mm",
            SURVEY,
        )
    )
    rows += _length_rows(stack, row)
    rows += _torque_rows(bolt, stack, settings, row)
    return rows


def _length_rows(stack: Stack, row: _RowMaker) -> list[WorksheetRow]:
    thread = tables.thread(stack.size)
    past = f"{PROTRUSION_PITCHES:g} x {thread.pitch_mm:g}"
    formula = "grip + washers (greatest) + nut (greatest) + 2 pitches"
    inputs = f"{stack.grip_mm:.2f} + {stack.washers} x {stack.washer_mm:g} + {stack.nut_mm:g} + {past}"
    source = f"{PRACTICE}; pieces: {tables.nut(stack.nut, stack.size).tag}" if stack.nut else PRACTICE
    if not stack.nut:
        formula = "grip + washer (greatest) + engagement of 1 diameter"
        past = f"{INSERT_ENGAGEMENT:g} x {thread.diameter_mm:g}"
        inputs = f"{stack.grip_mm:.2f} + {stack.washers} x {stack.washer_mm:g} + {past}"
    series = tables.lengths(stack.screw, stack.size)
    return [
        row("length needed", formula, inputs, f"{stack.needed_mm:.1f}", "mm", source),
        row(
            "length",
            f"next in the series of {stack.screw} {stack.size} that is in stock",
            f"series {series[0]:g} to {series[-1]:g}",
            f"{stack.length_mm:g}",
            "mm",
            tables.screw(stack.screw, stack.size).tag,
        ),
        row(
            "thread past the nut" if stack.nut else "engagement",
            "length - grip - washers - nut",
            f"{stack.length_mm:g} - {stack.grip_mm:.2f} - {stack.washers * stack.washer_mm:g} - {stack.nut_mm:g}",
            f"{stack.protrusion_mm:.1f}",
            "mm",
            "computed",
        ),
    ]


def _torque_rows(bolt: Bolt, stack: Stack, settings: Settings, row: _RowMaker) -> list[WorksheetRow]:
    choice = settings.hardware
    thread, strength = tables.thread(stack.size), tables.strength(choice.property_class, stack.size)
    faces, tightening = _tightening(bolt, stack, settings)
    rows = [
        row(
            "preload by the bolt",
            "0.75 x proof load",
            f"{PRELOAD_SHARE:g} x {strength.proof_n:g}",
            f"{PRELOAD_SHARE * strength.proof_n:.0f}",
            "N",
            strength.tag,
        )
    ]
    for face in dict.fromkeys(faces):
        rows.append(
            row(
                f"preload by the {face.under} on {face.material}",
                "pressure x pi/4 (outside^2 - hole^2)",
                f"{face.bearing_mpa:g} x pi/4 ({face.outer_mm:g}^2 - {face.hole_mm:.2f}^2)",
                f"{face.force_n:.0f}",
                "N",
                "; ".join(
                    (
                        f"rule: {PRACTICE}",
                        f"size: {_face_tag(face, stack)}",
                        f"pressure: {_material_source(face.material, settings)}",
                    )
                ),
            )
        )
    rows.append(
        row(
            "torque of this bolt",
            "K F d",
            f"{choice.nut_factor:g} x {tightening.force_n:.0f} N x {thread.diameter_mm:g} mm",
            f"{tightening.exact_nm:.2f}",
            "N m",
            TORQUE_SOURCE,
        )
    )
    rows.append(
        row(
            "torque to set",
            "rounded down; the smallest of the joint for this size",
            f"limited by {stack.torque_rule}",
            f"{stack.torque_nm:g}",
            "N m",
            "K scatters by 30 % (read in a copy of the source)",
        )
    )
    return rows


def _face_tag(face: BearingFace, stack: Stack) -> str:
    """Source of the outside diameter of a bearing face."""
    if face.under == "washer":
        return tables.washer(stack.washer, stack.size).tag
    return tables.bearing_face(stack.nut if face.under == "nut" else stack.screw, stack.size).tag


def _material_source(name: str, settings: Settings) -> str:
    return next((item.source for item in settings.materials.values() if item.name == name), "not stated")


def _tightening(bolt: Bolt, stack: Stack, settings: Settings) -> tuple[tuple[BearingFace, ...], Tightening]:
    size, choice = stack.size, settings.hardware
    pieces = Pieces(
        thread=tables.thread(size),
        screw=tables.screw(stack.screw, size),
        nut=tables.nut(stack.nut, size) if stack.nut else None,
        washer=tables.washer(stack.washer, size) if stack.washer else None,
        washers=stack.washers,
    )
    faces = faces_of_bolt(bolt, pieces, {part: settings.material_of(part) for part in bolt.through})
    return faces, tighten(pieces.thread, tables.strength(choice.property_class, size), faces, choice.nut_factor)


def _pattern_rows(joint: Joint, stacks: Sequence[Stack], settings: Settings) -> list[WorksheetRow]:
    """Spacing of the holes, and what the bolts alone hold."""
    rows = []
    apart = [math.dist(one.at_mm, other.at_mm) for one, other in combinations(joint.bolts, 2)]
    if apart:
        hole_mm = max(bolt.hole_mm for bolt in joint.bolts)
        rows.append(
            WorksheetRow(
                about=joint.id,
                quantity="least distance of two holes",
                formula="at least 2.2 x hole",
                inputs=f"at least {LEAST_SPACING_HOLES:g} x {hole_mm:.2f} = {LEAST_SPACING_HOLES * hole_mm:.1f} mm",
                result=f"{min(apart):.1f}",
                unit="mm",
                source="EN 1993-1-8, table 3.3 (read in a copy of the source; a rule for steel)",
            )
        )
    friction = WET_FRICTION if joint.method.is_bonded else DRY_FRICTION
    force_n = min(preload_n(stack, settings.hardware.nut_factor) for stack in stacks)
    held_kg = len(stacks) * KEPT_PRELOAD * force_n * friction / BOLTS_SAFETY / GRAVITY_M_S2
    rows.append(
        WorksheetRow(
            about=joint.id,
            quantity="mass that the bolts alone hold against slip",
            formula="bolts x preload left x friction / safety / g, pulling at the centre of the joint",
            inputs=f"{len(stacks)} x {KEPT_PRELOAD:g} x {force_n:.0f} x {friction:g} / {BOLTS_SAFETY:g} / 9.81",
            result=_two_digits_down(held_kg),
            unit="kg",
            source=f"{PRACTICE}: preload that creep leaves, friction, safety",
        )
    )
    return rows


def _bond_rows(joint: Joint, bonding: Bonding, settings: Settings) -> list[WorksheetRow]:
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
    ]


def _two_digits_down(value: float) -> str:
    """A number rounded down to two digits: more would pretend to a sureness that factors of safety do not have."""
    if value <= 0:
        return "0"
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return f"{math.floor(value / step + 1e-9) * step:.10g}"


def _bond_load_row(joint: Joint, settings: Settings) -> WorksheetRow:
    """Mass that the cured bond carries in plain shear; peel and shock are not in it."""
    glue = settings.adhesive
    formula = f"area x strength / {BOND_SAFETY:g} / g"
    if glue.strength_mpa <= 0:
        inputs, result, unit = "strength_mpa is not stated", "not checked", ""
    else:
        carried_kg = joint.bond_area_mm2 * glue.strength_mpa / BOND_SAFETY / GRAVITY_M_S2
        inputs = f"{joint.bond_area_mm2:.0f} x {glue.strength_mpa:g} / {BOND_SAFETY:g} / 9.81"
        result, unit = _two_digits_down(carried_kg), "kg"
    return WorksheetRow(
        about=joint.id,
        quantity="mass in plain shear on the cured bond",
        formula=formula,
        inputs=inputs,
        result=result,
        unit=unit,
        source=f"{PRACTICE}: factor of safety; strength: {glue.source}",
    )
