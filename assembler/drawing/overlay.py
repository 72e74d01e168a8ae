"""Vector marks over a raster: lines, arrows, references and words as SVG elements in pixel coordinates.

In: points in pixels, sizes on paper in mm. Out: strings of SVG. Text stays text, so it can be searched and copied.
Only plain elements and attributes are written, since the printer of the book knows a small part of SVG.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from assembler.drawing.camera import Point
from assembler.drawing.style import BLACK, FONT, TEXT_MM, px

AXIS_DASHES_MM = (6.0, 1.2, 0.8, 1.2)
"""Narrow long-dash dot line, ISO 128-2: axes."""
PATH_DASHES_MM = (5.0, 1.0, 0.6, 1.0, 0.6, 1.0)
"""Narrow long-dash double-dot line, ISO 128-2: other positions of a moving part."""
HIDDEN_DASHES_MM = (0.9, 0.6)
"""Narrow dashed line, ISO 128-2: hidden edges; short, since what is hidden here is a few mm long on paper."""

# Advance widths of DejaVu Sans in thousandths of the size, by class: enough to keep labels apart.
_NARROW, _WIDE = frozenset("iljItf.,:;'|!()[] -"), frozenset("mwMWQO@%")


def number(value: float) -> str:
    """Coordinate with at most one decimal and no signed zero."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text in ("-0", "") else text


def text_width(words: str, size_px: float, *, bold: bool = False) -> float:
    """Width of a line of text, px; on the safe side."""
    mills = sum(390 if letter in _NARROW else 950 if letter in _WIDE else 660 for letter in words)
    return mills / 1000.0 * size_px * (1.08 if bold else 1.0)


def line(
    start: Point,
    end: Point,
    width_mm: float,
    colour: str = BLACK,
    dashes_mm: Sequence[float] = (),
    *,
    round_cap: bool = False,
) -> str:
    """Straight line."""
    return polyline((start, end), width_mm, colour, dashes_mm, round_cap=round_cap)


def polyline(
    points: Sequence[Point],
    width_mm: float,
    colour: str = BLACK,
    dashes_mm: Sequence[float] = (),
    *,
    round_cap: bool = False,
) -> str:
    """Line through points."""
    where = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    dashes = f' stroke-dasharray="{" ".join(number(px(d)) for d in dashes_mm)}"' if dashes_mm else ""
    cap = ' stroke-linecap="round"' if round_cap else ""
    return (
        f'<polyline points="{where}" fill="none" stroke="{colour}" stroke-width="{number(px(width_mm))}"{dashes}{cap}/>'
    )


def polygon(points: Sequence[Point], fill: str, stroke: str = "none", width_mm: float = 0.0) -> str:
    """Closed area."""
    where = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return f'<polygon points="{where}" fill="{fill}" stroke="{stroke}" stroke-width="{number(px(width_mm))}"/>'


def circle(centre: Point, radius_px: float, fill: str, stroke: str = "none", width_mm: float = 0.0) -> str:
    """Circle."""
    return (
        f'<circle cx="{number(centre[0])}" cy="{number(centre[1])}" r="{number(radius_px)}" fill="{fill}" '
        f'stroke="{stroke}" stroke-width="{number(px(width_mm))}"/>'
    )


def rectangle(
    corner: Point,
    width_px: float,
    height_px: float,
    fill: str,
    stroke: str = "none",
    width_mm: float = 0.0,
    round_px: float = 0.0,
) -> str:
    """Rectangle from its upper left corner."""
    return (
        f'<rect x="{number(corner[0])}" y="{number(corner[1])}" width="{number(width_px)}" '
        f'height="{number(height_px)}" '
        f'rx="{number(round_px)}" fill="{fill}" stroke="{stroke}" stroke-width="{number(px(width_mm))}"/>'
    )


def image(file: str, corner: Point, width_px: float, height_px: float) -> str:
    """A picture file of the same folder."""
    return (
        f'<image href="{file}" x="{number(corner[0])}" y="{number(corner[1])}" width="{number(width_px)}" '
        f'height="{number(height_px)}"/>'
    )


def words(
    at: Point,
    text: str,
    size_mm: float = TEXT_MM,
    anchor: str = "start",
    colour: str = BLACK,
    *,
    bold: bool = False,
    turn_deg: float = 0.0,
) -> str:
    """A line of text; `at` is on its baseline."""
    weight = ' font-weight="bold"' if bold else ""
    turn = f' transform="rotate({number(turn_deg)} {number(at[0])} {number(at[1])})"' if turn_deg else ""
    return (
        f'<text x="{number(at[0])}" y="{number(at[1])}" font-family="{FONT}" font-size="{number(px(size_mm))}" '
        f'text-anchor="{anchor}" fill="{colour}"{weight}{turn}>{escape(text)}</text>'
    )


def wrapped(text: str, size_px: float, width_px: float) -> list[str]:
    """A sentence broken into lines that fit a width; a word that is longer than a line stands alone."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size_px, bold=True) <= width_px:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def caption(at: Point, text: str, width_px: float, size_mm: float = 2.6, *, bold: bool = True) -> str:
    """A line of words on a white band across the picture, so that no drawing runs through it."""
    size = px(size_mm)
    band = rectangle((0.0, at[1] - size * 1.05), width_px, size * 1.45, "#ffffff")
    return band + words(at, text, size_mm, bold=bold)


def shifted(svg: str, by_px: Point) -> str:
    """Marks moved as one."""
    return f'<g transform="translate({number(by_px[0])} {number(by_px[1])})">{svg}</g>'


def arrow_head(tip: Point, direction: Point, length_mm: float, colour: str = BLACK, width_share: float = 0.36) -> str:
    """Filled slender head whose tip is at `tip`; `direction` is a unit vector in the picture."""
    length = px(length_mm)
    half = length * width_share / 2.0
    dx, dy = direction
    foot = (tip[0] - dx * length, tip[1] - dy * length)
    left = (foot[0] - dy * half, foot[1] + dx * half)
    right = (foot[0] + dy * half, foot[1] - dx * half)
    return polygon((tip, left, right), colour)


def arrow(start: Point, end: Point, width_mm: float, head_mm: float, colour: str = BLACK) -> str:
    """Line with a filled head at its end; nothing where both ends are the same."""
    span = ((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5
    if span < 1.0:
        return ""
    way = ((end[0] - start[0]) / span, (end[1] - start[1]) / span)
    back = min(px(head_mm) * 0.9, span)
    shaft = (end[0] - way[0] * back, end[1] - way[1] * back)
    return line(start, shaft, width_mm, colour) + arrow_head(end, way, head_mm, colour)


def bent_arrow(points: Sequence[Point], width_mm: float, head_mm: float, colour: str = BLACK) -> str:
    """Arrow along a line through points, its head at the last."""
    *before, last, end = points
    if not before:
        return arrow(last, end, width_mm, head_mm, colour)
    return polyline((*before, last), width_mm, colour, round_cap=True) + arrow(last, end, width_mm, head_mm, colour)


def hexagon(centre: Point, radius_px: float) -> tuple[Point, ...]:
    """Corners of a hexagon with a corner to the left and one to the right."""
    steps = ((1.0, 0.0), (0.5, 0.8660254), (-0.5, 0.8660254), (-1.0, 0.0), (-0.5, -0.8660254), (0.5, -0.8660254))
    return tuple((centre[0] + radius_px * x, centre[1] + radius_px * y) for x, y in steps)
