"""The calculation of the bolts of one joint, line by line.

Goes in: a joint, its stacks, settings. Comes out: rows, each kind of bolt once, then the pattern as a whole.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations, groupby

from assembler.catalogue import tables
from assembler.catalogue.records import Sureness
from assembler.engineering.boltsalone import ASKED_SAFETY, DRY_FRICTION, KEPT_PRELOAD, WET_FRICTION, preload_n
from assembler.engineering.calculation import PRACTICE, SURVEY, WorksheetRow, sheet_row, two_digits_down
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
from assembler.words import Text, say

TORQUE_SOURCE = say("source.torque", how=Sureness.SECOND_HAND.label)


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


def _named(names: Iterable[str]) -> Text:
    ordered = sorted(names, key=natural_key)
    if len(ordered) == 1:
        return ordered[0]
    return say("sheet.bolts", first=ordered[0], last=ordered[-1], count=len(ordered))


def _bolt_rows(bolt: Bolt, group: Sequence[Stack], settings: Settings) -> list[WorksheetRow]:
    stack = group[0]
    about = _named(item.bolt for item in group)
    hole = next(item for item in tables.clearance_holes() if item.size == stack.size)
    match = size_from_hole(bolt.hole_mm)
    fit = say(f"word.{match.fit}") if match else ""
    grip = {"modelled_mm": bolt.grip_mm, "bond_mm": stack.grip_mm - bolt.grip_mm}
    return [
        sheet_row("bolt_size", about, stack.size, "", hole.tag, hole_mm=bolt.hole_mm, fit=fit),
        sheet_row("grip", about, f"{stack.grip_mm:.2f}", "mm", SURVEY, **grip),
        *_length_rows(about, stack),
        *_torque_rows(about, bolt, stack, settings),
    ]


def _length_rows(about: Text, stack: Stack) -> list[WorksheetRow]:
    thread = tables.thread(stack.size)
    pieces = {"grip_mm": stack.grip_mm, "washers": stack.washers, "washer_mm": stack.washer_mm}
    if stack.nut:
        past = {"nut_mm": stack.nut_mm, "pitches": PROTRUSION_PITCHES, "pitch_mm": thread.pitch_mm}
        source = say("source.pieces", rule=PRACTICE, pieces=tables.nut(stack.nut, stack.size).tag)
    else:
        past, source = {"diameters": INSERT_ENGAGEMENT, "diameter_mm": thread.diameter_mm}, PRACTICE
    series = tables.lengths(stack.screw, stack.size)
    return [
        sheet_row(
            "length_needed" if stack.nut else "length_needed_insert",
            about,
            f"{stack.needed_mm:.1f}",
            "mm",
            source,
            **pieces,
            **past,
        ),
        sheet_row(
            "length",
            about,
            f"{stack.length_mm:g}",
            "mm",
            tables.screw(stack.screw, stack.size).tag,
            standard=stack.screw,
            size=stack.size,
            low_mm=series[0],
            high_mm=series[-1],
        ),
        sheet_row(
            "past_nut" if stack.nut else "engagement",
            about,
            f"{stack.protrusion_mm:.1f}",
            "mm",
            Sureness.COMPUTED.label,
            length_mm=stack.length_mm,
            grip_mm=stack.grip_mm,
            washers_mm=stack.washers * stack.washer_mm,
            nut_mm=stack.nut_mm,
        ),
    ]


def _torque_rows(about: Text, bolt: Bolt, stack: Stack, settings: Settings) -> list[WorksheetRow]:
    choice = settings.hardware
    thread, strength = tables.thread(stack.size), tables.strength(choice.property_class, stack.size)
    faces, tightening = _tightening(bolt, stack, settings)
    share = head_share(stack.screw)
    return [
        sheet_row(
            "preload_bolt" if share >= 1.0 else "preload_head",
            about,
            f"{PRELOAD_SHARE * share * strength.proof_n:.0f}",
            "N",
            strength.tag if share >= 1.0 else say("source.head_share", source=strength.tag),
            preload_share=PRELOAD_SHARE,
            head_share=share,
            proof_n=strength.proof_n,
        ),
        *(_face_row(about, face, stack, settings) for face in dict.fromkeys(faces)),
        sheet_row(
            "torque_bolt",
            about,
            f"{tightening.exact_nm:.2f}",
            "N m",
            TORQUE_SOURCE,
            nut_factor=choice.nut_factor,
            force_n=tightening.force_n,
            diameter_mm=thread.diameter_mm,
        ),
        sheet_row(
            "torque_set",
            about,
            f"{stack.torque_nm:g}",
            "N m",
            say("source.scatter", how=Sureness.SECOND_HAND.label),
            rule=stack.torque_rule,
        ),
    ]


def _face_row(about: Text, face: BearingFace, stack: Stack, settings: Settings) -> WorksheetRow:
    return sheet_row(
        "preload_head_on" if face.under == "head" else f"preload_{face.under}",
        about,
        f"{face.force_n:.0f}",
        "N",
        say(
            "source.face",
            rule=PRACTICE,
            size=_face_tag(face, stack),
            pressure=_material_source(face.material, settings),
        ),
        material=face.material,
        bearing_mpa=face.bearing_mpa,
        outer_mm=face.outer_mm,
        hole_mm=face.hole_mm,
    )


def _face_tag(face: BearingFace, stack: Stack) -> Text:
    """Source of the outside diameter of a bearing face."""
    if face.under == "washer":
        return tables.washer(stack.washer, stack.size).tag
    return tables.bearing_face(stack.nut if face.under == "nut" else stack.screw, stack.size).tag


def _material_source(name: str, settings: Settings) -> Text:
    named = (item.source for item in settings.materials.values() if item.name == name)
    return next(named, None) or say("source.not_stated")


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
            sheet_row(
                "spacing",
                joint.id,
                f"{min(apart):.1f}",
                "mm",
                say("source.spacing", how=Sureness.SECOND_HAND.label),
                share=LEAST_SPACING_HOLES,
                hole_mm=hole_mm,
                least_mm=LEAST_SPACING_HOLES * hole_mm,
            )
        )
    friction = WET_FRICTION if joint.method.is_bonded else DRY_FRICTION
    force_n = min(preload_n(stack, settings.hardware.nut_factor) for stack in stacks)
    held_kg = len(stacks) * KEPT_PRELOAD * force_n * friction / ASKED_SAFETY / GRAVITY_M_S2
    rows.append(
        sheet_row(
            "held_by_bolts",
            joint.id,
            two_digits_down(held_kg),
            "kg",
            say("source.held_by_bolts", rule=PRACTICE),
            count=len(stacks),
            kept=KEPT_PRELOAD,
            force_n=force_n,
            friction=friction,
            safety=ASKED_SAFETY,
        )
    )
    return rows
