"""The crate of a section: sizes, timber, masses, forces, who lifts it."""

from __future__ import annotations

from collections.abc import Sequence

from assembler.engineering.crating import (
    BATTEN_MM,
    BED_MM,
    CLEAR_MM,
    FLOOR_MM,
    SHEET_MM,
    SKID_MM,
    boards_m,
    inner_mm,
    outer_mm,
    sheets_to_buy,
    timber_kg,
    timber_list,
)
from assembler.engineering.lifting import lift_for
from assembler.engineering.transport import transport_forces
from assembler.figure.consignment import Bed, Crate
from assembler.figure.parts import Vector
from assembler.figure.plan import Section
from assembler.figure.settings import Crew


def crate_of(number: int, section: Section, bed: Bed, crew: Crew, loose: Sequence[Section] = ()) -> Crate:
    """A crate made to measure round a section that lies as it does.

    Parameters
    ----------
    number
        Of the crate, from 1.
    section, bed
        What goes in, and how.
    crew
        Who lifts it.
    loose
        Light sections that travel in the same crate; they are taken to lie about its middle.
    """
    inside = inner_mm(bed.size_mm)
    outside = outer_mm(inside)
    timber = timber_list(inside)
    own_kg = timber_kg(timber)
    loose_kg = sum(one.mass_kg for one in loose)
    gross_kg = section.mass_kg + loose_kg + own_kg
    centre = _centre_mm(bed, section.mass_kg, own_kg + loose_kg, outside)
    forces = {row.direction: row.force_n for row in transport_forces(gross_kg)}
    lift = lift_for(gross_kg, centre, outside, crew)
    return Crate(
        id=f"C{number}",
        section=section.id,
        parts=section.parts,
        loose=tuple(part for one in loose for part in one.parts),
        bed=bed,
        inner_mm=inside,
        outer_mm=outside,
        net_kg=section.mass_kg + loose_kg,
        gross_kg=gross_kg,
        centre_mm=centre,
        timber=timber,
        boards_m=boards_m(timber),
        sheets=sheets_to_buy(timber),
        forces_n=(forces["forward"], forces["rear"], forces["side where it may tip"]),
        lift=lift.rule,
        people=lift.people,
    )


def _centre_mm(bed: Bed, net_kg: float, own_kg: float, outside: Vector) -> Vector:
    """Centre of mass of crate and section; the crate's own is taken at the middle of its box."""
    wall_mm = SHEET_MM + BATTEN_MM + CLEAR_MM
    lifted_mm = SKID_MM + FLOOR_MM + BED_MM
    section = (bed.centre_mm[0] + wall_mm, bed.centre_mm[1] + wall_mm, bed.centre_mm[2] + lifted_mm)
    whole = net_kg + own_kg
    x, y, z = ((net_kg * one + own_kg * edge / 2.0) / whole for one, edge in zip(section, outside, strict=True))
    return (x, y, z)
