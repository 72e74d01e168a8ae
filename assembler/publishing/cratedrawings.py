"""A crate from two sides, and the floor of the vehicle from above: records of the consignment in, drawings out."""

from __future__ import annotations

from collections.abc import Mapping
from xml.sax.saxutils import escape

from assembler.engineering.crating import BATTEN_MM, BED_MM, CLEAR_MM, FLOOR_MM, SHEET_MM, SKID_MM
from assembler.figure.consignment import Crate, Trip
from assembler.figure.settings import Vehicle
from assembler.publishing.installmarks import INK, centre_svg
from assembler.publishing.pages import Diagram
from assembler.words import Words

WIDTH_MM, HIGHEST_MM = 172.0, 62.0
FILL, THIN, RULE = "#f1efea", 0.25, "#8c8a84"
LETTERS = 3.1


def crate_views(crate: Crate, words: Words) -> Diagram:
    """A crate from its long side and from its end: the section in its bed, cradles, centre of mass, sizes."""
    length, width, height = crate.outer_mm
    scale = min((WIDTH_MM - 24.0) / (length + width), (HIGHEST_MM - 14.0) / height)
    wall = SHEET_MM + BATTEN_MM
    long, wide, _ = crate.bed.size_mm
    x, y, z = crate.centre_mm
    views = []
    for left, across, inside, centre, cradles in (
        (9.0, length, long, x, crate.bed.cradles_mm),
        (9.0 + length * scale + 12.0, width, wide, y, ()),
    ):
        views.append(_view(crate, left, across, inside, scale))
        for place in cradles:
            middle = left + (wall + place) * scale
            base = 4.0 + (height - SKID_MM - FLOOR_MM) * scale
            views.append(f'<rect x="{middle - 1.6:.2f}" y="{base - 3.2:.2f}" width="3.2" height="3.2" fill="{INK}"/>')
        views.append(centre_svg(left + centre * scale, 4.0 + (height - z) * scale, 2.2))
        views.append(_text(left + across * scale / 2.0, 4.0 + height * scale + 5.0, f"{across:.0f}"))
    views.append(_text(6.6, 4.0 + height * scale / 2.0, f"{height:.0f}", turned=True))
    return Diagram(
        width_mm=WIDTH_MM,
        height_mm=height * scale + 12.0,
        body_svg="".join(views),
        alt=words("install.crate_alt", crate=crate.id),
    )


def _view(crate: Crate, left: float, across: float, inside: float, scale: float) -> str:
    height = crate.outer_mm[2]
    wall, lifted = SHEET_MM + BATTEN_MM, SKID_MM + FLOOR_MM + BED_MM
    body_top = height - SKID_MM
    skids = "".join(
        _box(left + at * scale, 4.0 + body_top * scale, SKID_MM * scale, SKID_MM * scale, INK)
        for at in (0.0, (across - SKID_MM) / 2.0, across - SKID_MM)
    )
    section_height = crate.bed.size_mm[2]
    return (
        skids
        + _box(left, 4.0, across * scale, body_top * scale, FILL)
        + _box(
            left + (wall + CLEAR_MM) * scale,
            4.0 + (height - lifted - section_height) * scale,
            inside * scale,
            section_height * scale,
            "#ffffff",
            dashed=True,
        )
    )


def _box(x: float, y: float, width: float, height: float, fill: str, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="1.4 0.9"' if dashed else ""
    return (
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}" fill="{fill}" stroke="{INK}" '
        f'stroke-width="{THIN}"{dash}/>'
    )


def _text(x: float, y: float, text: str, *, turned: bool = False, bold: bool = False) -> str:
    turn = f' transform="rotate(-90 {x:.2f} {y:.2f})"' if turned else ""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{LETTERS}" text-anchor="middle" fill="{INK}"{weight}{turn}>'
        f"{escape(text)}</text>"
    )


def floor_plan(trip: Trip, vehicle: Vehicle, crates: Mapping[str, Crate], words: Words) -> Diagram:
    """The floor of the vehicle from above, its front to the left, with crates and the centre of their mass."""
    scale = min((WIDTH_MM - 8.0) / vehicle.length_mm, 70.0 / vehicle.width_mm)
    drawn = [_box(7.0, 4.0, vehicle.length_mm * scale, vehicle.width_mm * scale, "#ffffff")]
    drawn.append(_text(4.6, 4.0 + vehicle.width_mm * scale / 2.0, words("install.front"), turned=True))
    for one in trip.stowed:
        length, width, _ = crates[one.crate].outer_mm
        if one.is_turned:
            length, width = width, length
        # Left of the vehicle is below when its front points to the left of the page.
        x = 7.0 + one.at_mm[0] * scale
        y = 4.0 + (vehicle.width_mm - one.at_mm[1] - width) * scale
        drawn.append(_box(x, y, length * scale, width * scale, FILL))
        drawn.append(_text(x + length * scale / 2.0, y + width * scale / 2.0 - 3.0, one.crate, bold=True))
    middle_x, middle_y = trip.centre_mm
    drawn.append(centre_svg(7.0 + middle_x * scale, 4.0 + (vehicle.width_mm - middle_y) * scale, 2.0))
    return Diagram(
        width_mm=WIDTH_MM,
        height_mm=vehicle.width_mm * scale + 8.0,
        body_svg="".join(drawn),
        alt=words("install.floor_alt", count=len(trip.stowed)),
    )
