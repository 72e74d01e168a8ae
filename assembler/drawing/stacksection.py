"""A section through one bolt, drawn at true scale from the numbers of its stack.

In: an axis with its stack, and how thick the two flanges are. Out: SVG with every piece named and dimensioned. Nothing
is drawn that is not a number of the stack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assembler.drawing import overlay
from assembler.drawing.camera import Point
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.explode import Axis
from assembler.drawing.hardwaremodels import nominal_mm
from assembler.drawing.style import BLACK, SECTION_MM, SMALL_MM, px
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


def pieces_of(step: DrawnStep, axis: Axis, flanges: Flanges, names: tuple[str, str]) -> tuple[Piece, ...]:
    """Pieces in their order along the axis, head first; distances from the seat of the head.

    The bond line is what the grip of the stack has more than the flanges have together.
    """
    stack = axis.stack
    has_nut = bool(stack.nut) and axis.nut_seat is not Seat.INSERT
    wide = stack.washer_outer_mm / 2.0 if stack.washers else stack.head_outer_mm / 2.0
    plate = wide + SPARE_MM
    bond = max(stack.grip_mm - flanges.head_mm - flanges.nut_mm, 0.0)
    washer, round_washer = (
        step.said("piece", kind=step.said("washer"), standard=stack.washer),
        stack.washer_outer_mm / 2.0,
    )
    exact = (flanges.head_mm, flanges.nut_mm) if flanges.is_measured else (None, None)
    row = [
        ("washer", washer, stack.washer_mm if stack.washers else 0.0, round_washer),
        ("flange", _sized(names[0], exact[0]), flanges.head_mm, plate),
        ("bond line", _sized(step.said("bond_line"), bond), bond, plate),
        ("flange", _sized(names[1], exact[1]), flanges.nut_mm, plate),
        ("washer", washer, stack.washer_mm if stack.washers > 1 else 0.0, round_washer),
        (
            "nut",
            step.said("piece", kind=step.said("nut"), standard=stack.nut),
            stack.nut_mm if has_nut else 0.0,
            stack.nut_across_flats_mm / 2.0,
        ),
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
    step: DrawnStep, axis: Axis, flanges: Flanges, reference: str, names: tuple[str, str]
) -> tuple[str, str]:
    """SVG of the section and its scale ('2 : 1'); the bolt stands upright, its head above.

    Parameters
    ----------
    step
        Whose words it takes.
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
    pieces = pieces_of(step, axis, flanges, names)
    tip = max(stack.length_mm, pieces[-1].end_mm)
    long_mm, wide_mm = tip + stack.head_mm, 2.0 * max(piece.half_mm for piece in pieces)
    room_mm = SECTION_MM[1] - 2.0 * BEYOND_MM
    fits = [s for s in SCALES if s * long_mm <= room_mm and s * wide_mm <= BODY_MM]
    scale = fits[0] if fits else SCALES[-1]
    unit_px = px(scale)
    top = px(BEYOND_MM) + (px(room_mm) - long_mm * unit_px) / 2.0 + stack.head_mm * unit_px
    draw = _Board(px(DIMENSIONS_MM + BODY_MM / 2.0), top, unit_px)
    svg = [_plates(draw, pieces, nominal_mm(stack), axis.bolt.hole_mm), _steel(draw, axis, pieces, tip)]
    words = f"{scale:g} : 1" if scale >= 1.0 else f"1 : {1.0 / scale:g}"
    foot = [*overlay.wrapped(reference, px(SMALL_MM), px(SECTION_MM[0] - NAMES_MM)), step.said("scale", scale=words)]
    foot_px = px(SECTION_MM[1] - NAME_ROW_MM * len(foot))
    svg.append(_names(draw, pieces, foot_px))
    svg.append(_dimensions(step, draw, axis, pieces, px(SECTION_MM[1])))
    for row, text in enumerate(foot):
        level = foot_px + px(NAME_ROW_MM * (row + 0.75))
        svg.append(overlay.words((px(NAMES_MM), level), text, SMALL_MM, bold=row < len(foot) - 1))
    return "".join(svg), words


@dataclass(frozen=True, slots=True)
class _Board:
    axis: float
    top: float
    unit: float

    def at(self, along_mm: float, aside_mm: float) -> Point:
        """Pixel of a point: distance down from the head's seat, distance to the right of the axis."""
        return (self.axis + aside_mm * self.unit, self.top + along_mm * self.unit)

    def box(self, start: float, end: float, half: float, fill: str, width_mm: float = 0.35) -> str:
        """A piece from `start` to `end` along the axis, as wide as twice `half`."""
        a, b = self.at(start, -half), self.at(end, half)
        return overlay.rectangle(a, b[0] - a[0], b[1] - a[1], fill, BLACK, width_mm)


def _plates(draw: _Board, pieces: Sequence[Piece], thread_mm: float, hole_mm: float) -> str:
    """Flanges and bond line, cut: hatched to opposite sides, open at the far ends."""
    svg = []
    lean = 1.0
    bore = max(hole_mm, thread_mm) / 2.0
    for piece in pieces:
        for side in (1.0, -1.0):
            if piece.kind == "flange":
                svg.append(_filled(draw, piece, bore, side, lean))
            elif piece.kind == "bond line":
                a, b = draw.at(piece.start_mm, side * bore), draw.at(piece.end_mm, side * piece.half_mm)
                svg.append(overlay.rectangle((min(a[0], b[0]), a[1]), abs(b[0] - a[0]), b[1] - a[1], BOND_FILL))
        lean = -lean if piece.kind == "flange" else lean
    return "".join(svg)


def _filled(draw: _Board, piece: Piece, bore: float, side: float, lean: float) -> str:
    """A cut flange: hatched, its seat and its bore drawn wide, its bond face narrow, a break at the far end.

    `side` is 1 right of the axis and -1 left of it; `lean` is 1 for the flange on the head side, whose seat is above,
    and -1 for the other.
    """
    near, upper = draw.at(piece.start_mm, side * bore)
    far, lower = draw.at(piece.end_mm, side * piece.half_mm)
    left, right = min(near, far), max(near, far)
    svg = [overlay.rectangle((left, upper), right - left, lower - upper, PLATE_TINT)]
    svg += [overlay.line(p, q, 0.18) for p, q in _hatching((left, upper), (right, lower), px(1.6), lean)]
    seat, bond = (upper, lower) if lean > 0.0 else (lower, upper)
    svg.append(overlay.line((near, bond), (far, bond), 0.18))
    svg.append(overlay.polyline([(far, seat), (near, seat), (near, bond)], 0.5))
    svg.append(overlay.polyline(_break(upper, lower, far), 0.18))
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


def _break(upper: float, lower: float, x: float) -> list[Point]:
    """Freehand-like break line, always the same."""
    steps = 9
    depths = (0.0, 0.5, 0.2, -0.4, -0.1, 0.5, 0.1, -0.5, 0.0)
    return [(x + px(0.8) * depths[i], upper + (lower - upper) * i / (steps - 1)) for i in range(steps)]


def _steel(draw: _Board, axis: Axis, pieces: Sequence[Piece], tip: float) -> str:
    """Screw, washers and nut: not hatched, as standard parts on the axis are not cut."""
    stack = axis.stack
    half = nominal_mm(stack) / 2.0
    svg = []
    for piece in pieces:
        if piece.kind == "washer":
            svg.append(draw.box(piece.start_mm, piece.end_mm, piece.half_mm, STEEL_TINT))
        elif piece.kind == "nut":
            svg.append(draw.box(piece.start_mm, piece.end_mm, piece.half_mm, STEEL_TINT, 0.5))
            svg += [
                overlay.line(draw.at(piece.start_mm, x), draw.at(piece.end_mm, x), 0.25)
                for x in (-piece.half_mm * 0.5, piece.half_mm * 0.5)
            ]
    svg.append(draw.box(0.0, stack.length_mm, half, STEEL_TINT, 0.5))
    core = half * 0.85
    svg += [overlay.line(draw.at(stack.head_mm * 0.8, x), draw.at(stack.length_mm, x), 0.18) for x in (-core, core)]
    head = pieces[0]
    svg.append(draw.box(head.start_mm, head.end_mm, head.half_mm, STEEL_TINT, 0.5))
    if stack.across_flats_mm > 0.0:
        side = head.half_mm * 0.5
        svg += [overlay.line(draw.at(head.start_mm, x), draw.at(head.end_mm, x), 0.25) for x in (-side, side)]
    ends = draw.at(-stack.head_mm, 0.0), draw.at(tip, 0.0)
    beyond = px(BEYOND_MM - 0.6)
    svg.append(
        overlay.line((ends[0][0], ends[0][1] - beyond), (ends[1][0], ends[1][1] + beyond), 0.18, dashes_mm=AXIS_MM)
    )
    return "".join(svg)


NAME_ROW_MM = 4.3
DIMENSIONS_MM, BODY_MM, BEYOND_MM = 16.0, 25.0, 2.2
"""Width for dimensions, width for the section, room above and below it."""
NAMES_MM = DIMENSIONS_MM + BODY_MM + 3.5
"""Where the names begin."""
AXIS_MM = overlay.AXIS_DASHES_MM


def _names(draw: _Board, pieces: Sequence[Piece], bottom_px: float) -> str:
    """Names in a column on the right, each on a leader from its piece; both in the same order, so no leaders cross."""
    feet = [draw.at((piece.start_mm + piece.end_mm) / 2.0, piece.half_mm * 0.8) for piece in pieces]
    rows = _apart([y for _, y in feet], px(NAME_ROW_MM), px(NAME_ROW_MM * 0.75), bottom_px - px(0.8))
    text = px(NAMES_MM)
    svg = []
    for piece, foot, row in zip(pieces, feet, rows, strict=True):
        svg.append(overlay.line(foot, (text - px(0.8), row - px(1.1)), 0.18))
        svg.append(overlay.circle(foot, px(0.4), BLACK))
        svg.append(overlay.words((text, row), piece.name, SMALL_MM))
    return "".join(svg)


def _apart(wanted: Sequence[float], spacing: float, low: float, high: float) -> list[float]:
    """Ascending places near the wanted ones, `spacing` apart and inside [low, high]."""
    places: list[float] = []
    for place in wanted:
        places.append(max(place, low, places[-1] + spacing if places else low))
    limit = high
    for index in range(len(places) - 1, -1, -1):
        places[index] = min(places[index], limit)
        limit = places[index] - spacing
    return places


def _dimensions(step: DrawnStep, draw: _Board, axis: Axis, pieces: Sequence[Piece], bottom_px: float) -> str:
    """Dimension lines on the left: the grip, the protrusion, the length."""
    stack = axis.stack
    wide = max(piece.half_mm for piece in pieces)
    base = draw.at(0.0, -wide)[0]
    grip_start = next(p.start_mm for p in pieces if p.kind == "flange")
    grip = step.said("grip", grip_mm=stack.grip_mm)
    rows: list[tuple[float, float, str]] = [(grip_start, grip_start + stack.grip_mm, grip)]
    if stack.protrusion_mm > 0.0:
        start = stack.length_mm - stack.protrusion_mm
        rows.append((start, stack.length_mm, step.said("protrusion", past_mm=stack.protrusion_mm)))
    rows.append((0.0, stack.length_mm, step.said("length", length_mm=stack.length_mm)))
    svg = []
    for row, (start, end, words) in enumerate(rows):
        x = px(DIMENSIONS_MM - 1.4 - 4.9 * row)
        svg.append(_dimension(draw.at(start, 0.0)[1], draw.at(end, 0.0)[1], base, x, words, bottom_px))
    return "".join(svg)


def _dimension(y1: float, y2: float, base: float, x: float, words: str, bottom_px: float) -> str:
    """One upright dimension with extension lines; arrows and words outside where there is no room between."""
    svg = [overlay.line((base - px(0.8), y), (x - px(1.2), y), 0.18) for y in (y1, y2)]
    long = overlay.text_width(words, px(SMALL_MM)) + px(1.0)
    if y2 - y1 > px(6.0):
        svg.append(overlay.line((x, y1), (x, y2), 0.18))
        svg += [overlay.arrow_head((x, y1), (0.0, -1.0), 2.2), overlay.arrow_head((x, y2), (0.0, 1.0), 2.2)]
        clear = px(0.4)
    else:
        svg.append(overlay.line((x, y1 - px(4.0)), (x, min(y2 + px(4.0), bottom_px)), 0.18))
        svg += [overlay.arrow_head((x, y1), (0.0, 1.0), 2.2), overlay.arrow_head((x, y2), (0.0, -1.0), 2.2)]
        clear = px(4.4)
    if y2 - y1 > long:
        middle = (y1 + y2) / 2.0
    elif y1 - clear - long > 0.0:
        middle = y1 - clear - long / 2.0
    else:
        middle = min(max((y1 + y2) / 2.0, long / 2.0), bottom_px - long / 2.0)
    svg.append(overlay.words((x - px(0.8), middle), words, SMALL_MM, "middle", turn_deg=-90.0))
    return "".join(svg)
