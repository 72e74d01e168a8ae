"""What is a crate made of, and what does it weigh? Inner size and load in, pieces of timber out.

A closed crate of plywood on battens, with skids for a fork. Joinery of its kind (common practice, no source); heavy or
costly sections want a crate maker.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from assembler.figure.consignment import Timber
from assembler.figure.parts import Vector

CLEAR_MM = 50.0
"""Left free round a section (common practice, no source)."""

SHEET_MM, BATTEN_MM, FLOOR_MM, SKID_MM = 12.0, 45.0, 22.0, 95.0
"""Thickness of sheets, battens and floor, height of skids, as timber is sold (common practice, no source)."""

BED_MM = 30.0
"""Of soft foam on the cradles: faces that lie within it bear (common practice, no source)."""

BEARS_MPA = 0.01
"""Pressure of soft foam on a coated skin (common practice, no source): 1 kg on 10 cm2."""

STEADY_DEG = 10.0
"""Least lean that tips a section in its bed before it is blocked (common practice, no source)."""

SOFTWOOD_KG_M3, PLYWOOD_KG_M3 = 500.0, 600.0
"""Typical densities, from memory."""

SHEET_SIZE_MM = (2500.0, 1250.0)
"""A usual sheet of plywood (common practice, no source)."""

WASTE = 0.15
"""Added to boards and sheets (common practice, no source)."""

SKID_SPACING_MM = 600.0
"""Between two skids at most (common practice, no source)."""


def inner_mm(size_mm: Vector) -> Vector:
    """Inside of the crate of a section, the cradles' foam below it."""
    length, width, height = size_mm
    return (length + 2.0 * CLEAR_MM, width + 2.0 * CLEAR_MM, height + CLEAR_MM + BED_MM)


def outer_mm(inside_mm: Vector) -> Vector:
    """Outside of a crate, skids included."""
    wall_mm = SHEET_MM + BATTEN_MM
    length, width, height = inside_mm
    return (length + 2.0 * wall_mm, width + 2.0 * wall_mm, height + wall_mm + FLOOR_MM + SKID_MM)


def timber_list(inside_mm: Vector) -> tuple[Timber, ...]:
    """Pieces of a crate."""
    length, width, height = inside_mm
    outside = outer_mm(inside_mm)
    skids = max(2, math.ceil(outside[1] / SKID_SPACING_MM) + 1)
    floor = math.ceil(outside[0] / 100.0)
    section = f"{BATTEN_MM:g} x {BATTEN_MM:g}"
    return (
        Timber(name="skid", section=f"{SKID_MM:g} x {SKID_MM:g}", count=skids, length_mm=outside[0]),
        Timber(name="floor", section=f"{FLOOR_MM:g} x 100", count=floor, length_mm=outside[1]),
        Timber(name="batten", section=section, count=4, length_mm=height),
        Timber(name="batten", section=section, count=4, length_mm=length + 2.0 * BATTEN_MM),
        Timber(name="batten", section=section, count=4, length_mm=width + 2.0 * BATTEN_MM),
        Timber(name="cradle", section="45 x 145", count=4, length_mm=width),
        Timber(name="side", section=f"{SHEET_MM:g}", count=2, length_mm=outside[0], width_mm=height),
        Timber(name="end", section=f"{SHEET_MM:g}", count=2, length_mm=outside[1], width_mm=height),
        Timber(name="lid", section=f"{SHEET_MM:g}", count=1, length_mm=outside[0], width_mm=outside[1]),
    )


def boards_m(timber: Sequence[Timber]) -> float:
    """Length of boards and battens to buy, waste included."""
    return (1.0 + WASTE) * sum(row.count * row.length_mm for row in timber if not row.width_mm) / 1000.0


def sheets_to_buy(timber: Sequence[Timber]) -> int:
    """Sheets to buy, waste included."""
    area = (1.0 + WASTE) * sum(row.count * row.length_mm * row.width_mm for row in timber)
    return math.ceil(area / math.prod(SHEET_SIZE_MM))


def timber_kg(timber: Sequence[Timber]) -> float:
    """Mass of the pieces."""
    total = 0.0
    for row in timber:
        if row.width_mm:
            total += row.count * row.length_mm * row.width_mm * SHEET_MM * PLYWOOD_KG_M3
        else:
            thick, wide = (float(edge) for edge in row.section.split(" x "))
            total += row.count * row.length_mm * thick * wide * SOFTWOOD_KG_M3
    return total / 1e9
