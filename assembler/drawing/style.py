"""How the drawings look: print sizes, line weights, tints. Looked up by every drawing module, decided only here.

Line weights follow the steps of ISO 128-2:2020 (narrow to wide 1 : 2, from memory, see DEVELOPERS.md); tints are paled
colours of the Okabe and Ito palette. What stands, what is new and hardware are three steps of grey that do not meet,
even where one is in the light and the other in the shade; mating faces carry a hatching. The check against published
matrices of colour vision is tests/published/test_colour_vision.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from assembler.drawing.scenes import Item, Role

DPI = 300.0
PX_PER_MM = DPI / 25.4

MAIN_MM = (170.0, 127.5)
DETAIL_MM = (64.0, 64.0)
SECTION_MM = (82.0, 56.0)
CUT_MM = (82.0, 56.0)
"""Details are drawn as large as a page shows them, so that their letters and scales are true."""
SECTION_VIEW_MM = (80.0, 92.0)
COVER_MM = (170.0, 215.0)
OVERVIEW_MM = (180.0, 232.0)
THUMBNAIL_MM = (34.0, 34.0)

WIDE_MM = 0.6
MIDDLE_MM = 0.35
NARROW_MM = 0.2

INK = (0.10, 0.10, 0.12)
SOFT_INK = (0.42, 0.42, 0.44)
BLUE = "#0072B2"
VERMILLION = "#D55E00"
BLACK = "#1a1a1e"
GREY = "#6b6b70"

FONT = "Clear Sans"
TEXT_MM = 3.0
REFERENCE_MM = 4.4
SMALL_MM = 3.3
"""Letters of details: 9 pt, and 8 pt on a sheet that shows them nine tenths as large."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How one body is drawn.

    Parameters
    ----------
    fill
        Colour in full light, 0 to 1 each.
    shade
        Share of light lost on the side away from the lamp.
    outline_mm, edge_mm
        Width of its outline and of its inner edges, on paper.
    ink
        Colour of its lines.
    """

    fill: tuple[float, float, float]
    shade: float
    outline_mm: float
    edge_mm: float
    ink: tuple[float, float, float] = INK


LOOKS = {
    Role.NEW: Look(fill=(0.50, 0.73, 0.90), shade=0.22, outline_mm=WIDE_MM, edge_mm=0.25),
    Role.STANDING: Look(fill=(0.965, 0.96, 0.95), shade=0.13, outline_mm=MIDDLE_MM, edge_mm=NARROW_MM, ink=SOFT_INK),
    Role.NEIGHBOUR: Look(fill=(0.965, 0.96, 0.95), shade=0.13, outline_mm=MIDDLE_MM, edge_mm=NARROW_MM),
    Role.HARDWARE: Look(fill=(0.45, 0.45, 0.48), shade=0.10, outline_mm=0.25, edge_mm=0.18),
    Role.CUT: Look(fill=(0.93, 0.91, 0.87), shade=0.15, outline_mm=0.5, edge_mm=NARROW_MM),
    Role.GROUND: Look(
        fill=(0.985, 0.98, 0.97), shade=0.10, outline_mm=NARROW_MM, edge_mm=NARROW_MM, ink=(0.62, 0.62, 0.62)
    ),
}
COVER_LOOK = Look(fill=(0.93, 0.885, 0.81), shade=0.52, outline_mm=0.5, edge_mm=0.18, ink=(0.25, 0.22, 0.20))
TIMBER = (0.95, 0.905, 0.81)
COVER_TIMBER = (0.80, 0.69, 0.53)
BOND_TINT = (0.95, 0.78, 0.45)
BEAD_TINT = (0.80, 0.40, 0.0)
CUT_TINT = (0.97, 0.95, 0.90)
DRY_TINT = (0.93, 0.93, 0.93)


def look_of(item: Item) -> Look:
    """How an item is drawn in working pictures."""
    look = LOOKS[item.role]
    if item.is_printed or item.role not in (Role.STANDING, Role.NEIGHBOUR):
        return look
    return replace(look, fill=TIMBER)


def cover_look_of(item: Item) -> Look:
    """How an item is drawn on the cover."""
    return COVER_LOOK if item.is_printed else replace(COVER_LOOK, fill=COVER_TIMBER)


def pixels(size_mm: tuple[float, float]) -> tuple[int, int]:
    """Size on paper as whole pixels at print resolution."""
    return (round(size_mm[0] * PX_PER_MM), round(size_mm[1] * PX_PER_MM))


def px(length_mm: float) -> float:
    """Length on paper in pixels at print resolution."""
    return length_mm * PX_PER_MM
