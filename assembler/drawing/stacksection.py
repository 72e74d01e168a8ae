"""A section through one bolt, drawn at true scale from the numbers of its stack.

In: an axis with its stack, and how thick the two flanges are. Out: SVG with every piece named and dimensioned. Nothing
is drawn that is not a number of the stack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assembler.drawing import overlay
from assembler.drawing.explode import Axis
from assembler.drawing.hardwaremodels import nominal_mm
from assembler.drawing.overlay import Point
from assembler.drawing.style import BLACK, SECTION_MM, px
from assembler.figure.joints import Seat

SCALES = (5.0, 2.0, 1.0, 0.5, 0.2)
"""ISO 5455 (from memory)."""
PLATE_TINT, STEEL_TINT, BOND_FILL = "#f1efe9", "#dcdce0", "#f2c773"
SPARE_MM = 3.0
"""Of flange drawn beyond the washer, true size, before the break line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Flanges:
    """Thickness on the head side and on the nut side, mm; `is_measured` is False where the grip was only halved."""

    head_mm: float
    nut_mm: float
    is_measured: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece along the axis: from, to (mm from under the head) and half height, with its name.

    `kind` is 'head', 'washer', 'flange', 'bond line' or 'nut'.
    """

    kind: str
    name: str
    start_mm: float
    end_mm: float
    half_mm: float


def pieces_of(axis: Axis, flanges: Flanges, names: tuple[str, str]) -> tuple[Piece, ...]:
    """Pieces in their order along the axis, head first; distances from the seat of the head.

    The bond line is what the grip of the stack has more than the flanges have together.
    """
    stack = axis.stack
    has_nut = bool(stack.nut) and axis.nut_seat is not Seat.INSERT
    wide = stack.washer_outer_mm / 2.0 if stack.washers else stack.head_outer_mm / 2.0
    plate = wide + SPARE_MM
    bond = max(stack.grip_mm - flanges.head_mm - flanges.nut_mm, 0.0)
    washer, round_washer = f"washer {stack.washer}", stack.washer_outer_mm / 2.0
    exact = (flanges.head_mm, flanges.nut_mm) if flanges.is_measured else (None, None)
    row = [
        ("washer", washer, stack.washer_mm if stack.washers else 0.0, round_washer),
        ("flange", _sized(names[0], exact[0]), flanges.head_mm, plate),
        ("bond line", _sized("bond line", bond), bond, plate),
        ("flange", _sized(names[1], exact[1]), flanges.nut_mm, plate),
        ("washer", washer, stack.washer_mm if stack.washers > 1 else 0.0, round_washer),
        ("nut", f"nut {stack.nut}", stack.nut_mm if has_nut else 0.0, stack.nut_across_flats_mm / 2.0),
    ]
    head = f"{stack.screw} {stack.size} \u00d7 {stack.length_mm:g}"
    pieces = [Piece(kind="head", name=head, start_mm=-stack.head_mm, end_mm=0.0, half_mm=stack.head_outer_mm / 2.0)]
    place = 0.0
    for kind, name, thick, half in row:
        if thick > 0.0:
            pieces.append(Piece(kind=kind, name=name, start_mm=place, end_mm=place + thick, half_mm=half))
        place += thick
    return tuple(pieces)


def _sized(name: str, thick_mm: float | None) -> str:
    """A name with its thickness, where it was measured."""
    return name if thick_mm is None else f"{name} {thick_mm:.1f}"


def stack_section(
    axis: Axis, flanges: Flanges, reference: str, names: tuple[str, str] = ("flange, head side", "flange, nut side")
) -> tuple[str, str]:
    """SVG of the section and its scale in words ('2 : 1').

    Parameters
    ----------
    axis
        The bolt and its stack.
    flanges
        Thicknesses.
    reference
        Words under the section: the joints it holds for.
    names
        What the flanges on the head side and on the nut side are called.
    """
    stack = axis.stack
    pieces = pieces_of(axis, flanges, names)
    tip = max(stack.length_mm, pieces[-1].end_mm)
    long_mm, tall_mm = tip + stack.head_mm, 2.0 * max(piece.half_mm for piece in pieces)
    fits = [s for s in SCALES if s * long_mm <= SECTION_MM[0] - 30.0 and s * tall_mm <= SECTION_MM[1] - 56.0]
    scale = fits[0] if fits else SCALES[-1]
    unit_px = px(scale)
    left = px(8.0) + stack.head_mm * unit_px
    level = px(NAME_ROW_MM) * len(pieces) + px(4.0) + tall_mm * unit_px / 2.0
    draw = _Board(left, level, unit_px)
    svg = [_plates(draw, pieces, nominal_mm(stack), axis.bolt.hole_mm), _steel(draw, axis, pieces, tip)]
    svg.append(_names(draw, pieces))
    svg.append(_dimensions(draw, axis, pieces, tip))
    words = f"{scale:g} : 1" if scale >= 1.0 else f"1 : {1.0 / scale:g}"
    foot = f"{reference}: section through one bolt, scale {words} at full size; mm"
    svg.append(overlay.words((px(3.0), px(SECTION_MM[1]) - px(2.5)), foot, 2.7))
    return "".join(svg), words


@dataclass(frozen=True, slots=True)
class _Board:
    left: float
    level: float
    unit: float

    def at(self, along_mm: float, up_mm: float) -> Point:
        """Pixel of a point: distance from the head's seat, height above the axis."""
        return (self.left + along_mm * self.unit, self.level - up_mm * self.unit)

    def box(self, start: float, end: float, low: float, high: float, fill: str, width_mm: float = 0.35) -> str:
        a, b = self.at(start, high), self.at(end, low)
        return overlay.rectangle(a, b[0] - a[0], b[1] - a[1], fill, BLACK, width_mm)


def _plates(draw: _Board, pieces: Sequence[Piece], thread_mm: float, hole_mm: float) -> str:
    """Flanges and bond line, cut: hatched to opposite sides, open at the far ends."""
    svg = []
    lean = 1.0
    bore = max(hole_mm, thread_mm) / 2.0
    for piece in pieces:
        for low, high in ((bore, piece.half_mm), (-piece.half_mm, -bore)):
            if piece.kind == "flange":
                svg.append(_filled(draw, piece, low, high, lean))
            elif piece.kind == "bond line":
                a, b = draw.at(piece.start_mm, high), draw.at(piece.end_mm, low)
                svg.append(overlay.rectangle(a, b[0] - a[0], b[1] - a[1], BOND_FILL))
        lean = -lean if piece.kind == "flange" else lean
    return "".join(svg)


def _filled(draw: _Board, piece: Piece, low: float, high: float, lean: float) -> str:
    """A cut flange: hatched, its seat and its bore drawn wide, its bond face narrow, a break at the far end.

    `lean` is 1 for the flange on the head side, whose seat is on the left, and -1 for the other.
    """
    a, b = draw.at(piece.start_mm, high), draw.at(piece.end_mm, low)
    svg = [overlay.rectangle(a, b[0] - a[0], b[1] - a[1], PLATE_TINT)]
    svg += [overlay.line(p, q, 0.18) for p, q in _hatching(a, b, px(1.6), lean)]
    far, near = (a[1], b[1]) if high > 0.0 else (b[1], a[1])
    seat, bond = (a[0], b[0]) if lean > 0.0 else (b[0], a[0])
    svg.append(overlay.line((bond, near), (bond, far), 0.18))
    svg.append(overlay.polyline([(seat, far), (seat, near), (bond, near)], 0.5))
    svg.append(overlay.polyline(_break(a[0], b[0], far), 0.18))
    return "".join(svg)


def _hatching(a: Point, b: Point, spacing: float, lean: float) -> list[tuple[Point, Point]]:
    """Lines at 45 degrees clipped to the rectangle with corners a (upper left) and b."""
    lines = []
    left, top, right, bottom = a[0], a[1], b[0], b[1]
    # y = lean * x + c: every c that meets the rectangle, on a fixed grid so that neighbours line up.
    values = [y - lean * x for x in (left, right) for y in (top, bottom)]
    step = spacing * 2.0**0.5
    first = int(min(values) // step)
    for index in range(first, int(max(values) // step) + 1):
        c = index * step
        points = [(x, lean * x + c) for x in (left, right) if top <= lean * x + c <= bottom]
        points += [((y - c) / lean, y) for y in (top, bottom) if left < (y - c) / lean < right]
        if len(points) >= 2:
            lines.append((points[0], points[-1]))
    return lines


def _break(left: float, right: float, y: float) -> list[Point]:
    """Freehand-like break line, always the same."""
    steps = 9
    heights = (0.0, 0.5, 0.2, -0.4, -0.1, 0.5, 0.1, -0.5, 0.0)
    return [(left + (right - left) * i / (steps - 1), y + px(0.8) * heights[i]) for i in range(steps)]


def _steel(draw: _Board, axis: Axis, pieces: Sequence[Piece], tip: float) -> str:
    """Screw, washers and nut: not hatched, as standard parts on the axis are not cut."""
    stack = axis.stack
    half = nominal_mm(stack) / 2.0
    svg = []
    for piece in pieces:
        if piece.kind == "washer":
            svg.append(draw.box(piece.start_mm, piece.end_mm, -piece.half_mm, piece.half_mm, STEEL_TINT))
        elif piece.kind == "nut":
            svg.append(draw.box(piece.start_mm, piece.end_mm, -piece.half_mm, piece.half_mm, STEEL_TINT, 0.5))
            svg += [
                overlay.line(draw.at(piece.start_mm, y), draw.at(piece.end_mm, y), 0.25)
                for y in (-piece.half_mm * 0.5, piece.half_mm * 0.5)
            ]
    svg.append(draw.box(0.0, stack.length_mm, -half, half, STEEL_TINT, 0.5))
    core = half * 0.85
    svg += [overlay.line(draw.at(stack.head_mm * 0.8, y), draw.at(stack.length_mm, y), 0.18) for y in (-core, core)]
    head = pieces[0]
    svg.append(draw.box(head.start_mm, head.end_mm, -head.half_mm, head.half_mm, STEEL_TINT, 0.5))
    if stack.across_flats_mm > 0.0:
        side = head.half_mm * 0.5
        svg += [overlay.line(draw.at(head.start_mm, y), draw.at(head.end_mm, y), 0.25) for y in (-side, side)]
    ends = draw.at(-stack.head_mm - 4.0, 0.0), draw.at(tip + 4.0, 0.0)
    svg.append(overlay.line(*ends, 0.18, dashes_mm=overlay.AXIS_DASHES_MM))
    return "".join(svg)


NAME_MM = 2.6
NAME_ROW_MM = 3.9


def _names(draw: _Board, pieces: Sequence[Piece]) -> str:
    """Names above the section, each on a leader that rises straight from its piece.

    All names run to the right and the leftmost is highest, so no leader meets a name or another leader.
    """
    svg = []
    for row, piece in enumerate(pieces):
        foot = draw.at((piece.start_mm + piece.end_mm) / 2.0, piece.half_mm * 0.8)
        level = px(4.0) + row * px(NAME_ROW_MM)
        text = foot[0] + px(1.2)
        svg.append(overlay.polyline([foot, (foot[0], level - px(0.9)), (text, level - px(0.9))], 0.18))
        svg.append(overlay.circle(foot, px(0.4), BLACK))
        svg.append(overlay.words((text + px(0.4), level), piece.name, NAME_MM))
    return "".join(svg)


def _dimensions(draw: _Board, axis: Axis, pieces: Sequence[Piece], tip: float) -> str:
    """Dimension lines below: each layer, the grip, the length, the protrusion."""
    stack = axis.stack
    low = max(piece.half_mm for piece in pieces)
    base = draw.at(0.0, -low)[1]
    svg = []
    grip_start = next(p.start_mm for p in pieces if p.kind == "flange")
    grip = (grip_start, grip_start + stack.grip_mm, f"grip {stack.grip_mm:.1f}")
    rows: list[tuple[float, float, str]] = [grip]
    if stack.protrusion_mm > 0.0:
        start = stack.length_mm - stack.protrusion_mm
        rows.append((start, stack.length_mm, f"protrusion {stack.protrusion_mm:.1f}"))
    rows.append((0.0, stack.length_mm, f"length {stack.length_mm:g}"))
    for row, (start, end, words) in enumerate(rows):
        y = base + px(5.0) + row * px(5.6)
        svg.append(_dimension(draw.at(start, 0.0)[0], draw.at(end, 0.0)[0], base, y, words))
    return "".join(svg)


def _dimension(x1: float, x2: float, top: float, y: float, words: str) -> str:
    """One dimension with extension lines; arrows outside where there is no room between."""
    size = 2.6
    svg = [overlay.line((x, top + px(0.8)), (x, y + px(1.2)), 0.18) for x in (x1, x2)]
    wide = overlay.text_width(words, px(size)) + px(2.0)
    if x2 - x1 > wide + px(3.0):
        svg.append(overlay.line((x1, y), (x2, y), 0.18))
        svg += [overlay.arrow_head((x1, y), (-1.0, 0.0), 2.2), overlay.arrow_head((x2, y), (1.0, 0.0), 2.2)]
        svg.append(overlay.words(((x1 + x2) / 2.0, y - px(0.8)), words, size, "middle"))
    else:
        svg.append(overlay.line((x1 - px(5.0), y), (x2 + px(5.0), y), 0.18))
        svg += [overlay.arrow_head((x1, y), (1.0, 0.0), 2.2), overlay.arrow_head((x2, y), (-1.0, 0.0), 2.2)]
        if x1 - px(5.6) > wide:
            svg.append(overlay.words((x1 - px(5.6), y + px(0.9)), words, size, "end"))
        else:
            svg.append(overlay.words((x2 + px(5.6), y + px(0.9)), words, size))
    return "".join(svg)
