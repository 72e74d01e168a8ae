"""The calculation of the bolts of one joint, line by line.

Goes in: a joint, its stacks, settings. Comes out: rows, each kind of bolt once, then the pattern as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import combinations, groupby

from assembler.catalogue import tables
from assembler.catalogue.records import Sureness
from assembler.engineering.boltsalone import ASKED_SAFETY, DRY_FRICTION, KEPT_PRELOAD, WET_FRICTION, preload_n
from assembler.engineering.calculation import PRACTICE, SURVEY, WorksheetRow, two_digits_down
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.holes import size_from_hole
from assembler.engineering.lengths import INSERT_ENGAGEMENT, PROTRUSION_PITCHES, Pieces
from assembler.engineering.selection import faces_of_bolt
from assembler.engineering.spacing import LEAST_SPACING_HOLES
from assembler.engineering.tightening import PRELOAD_SHARE, BearingFace, Tightening, head_share, tighten
from assembler.figure.hardware import Stack
from assembler.figure.ids import natural_key
from assembler.figure.joints import Bolt, Joint
from assembler.figure.settings import Settings

TORQUE_SOURCE = f"T = K F d, torque tables of makers ({Sureness.SECOND_HAND.label}); K: figure.toml"

_RowMaker = Callable[[str, str, str, str, str, str], WorksheetRow]


def bolt_rows(joint: Joint, stacks: Sequence[Stack], settings: Settings) -> list[WorksheetRow]:
    """Rows for the bolts of a joint; none for a joint without stacks.

    Parameters
    ----------
    joint
        The joint.
    stacks
        Of all joints or of this one.
    settings
        Hardware and materials.
    """
    bolts = {bolt.id: bolt for bolt in joint.bolts}
    own = [stack for stack in stacks if stack.bolt in bolts]
    rows: list[WorksheetRow] = []
    for group in _alike(own):
        rows += _bolt_rows(bolts[group[0].bolt], group, settings)
    return rows + (_pattern_rows(joint, own, settings) if own else [])


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


def _bolt_rows(bolt: Bolt, group: Sequence[Stack], settings: Settings) -> list[WorksheetRow]:
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
    share = head_share(stack.screw)
    head = (" x share of the head", f"{share:g} x ", "; share: from memory") if share < 1.0 else ("", "", "")
    rows = [
        row(
            "preload by the bolt",
            f"0.75 x proof load{head[0]}",
            f"{PRELOAD_SHARE:g} x {head[1]}{strength.proof_n:g}",
            f"{PRELOAD_SHARE * share * strength.proof_n:.0f}",
            "N",
            f"{strength.tag}{head[2]}",
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
            f"limited by {stack.torque_rule!s}",
            f"{stack.torque_nm:g}",
            "N m",
            f"K scatters by 30 % ({Sureness.SECOND_HAND.label})",
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
    strength = tables.strength(choice.property_class, size)
    return faces, tighten(pieces.thread, strength, faces, choice.nut_factor, head_share(stack.screw))


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
                source=f"EN 1993-1-8, table 3.3 ({Sureness.SECOND_HAND.label}; a rule for steel)",
            )
        )
    friction = WET_FRICTION if joint.method.is_bonded else DRY_FRICTION
    force_n = min(preload_n(stack, settings.hardware.nut_factor) for stack in stacks)
    held_kg = len(stacks) * KEPT_PRELOAD * force_n * friction / ASKED_SAFETY / GRAVITY_M_S2
    rows.append(
        WorksheetRow(
            about=joint.id,
            quantity="mass that the bolts alone hold against slip",
            formula="bolts x preload left x friction / safety / g, pulling at the centre of the joint",
            inputs=f"{len(stacks)} x {KEPT_PRELOAD:g} x {force_n:.0f} x {friction:g} / {ASKED_SAFETY:g} / 9.81",
            result=two_digits_down(held_kg),
            unit="kg",
            source=f"{PRACTICE}: preload that creep leaves, friction, safety",
        )
    )
    return rows
