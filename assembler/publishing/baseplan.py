"""The base from above with every anchor from two edges, and the same 1:1 on sheets to drill through."""

from __future__ import annotations

import math
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector
from assembler.publishing.installmarks import INK
from assembler.publishing.pages import Diagram
from assembler.publishing.source import Source
from assembler.words import Words

PLAN_MM = 105.0
"""Height of the plan on its page at most."""

TILE_MM = (150.0, 220.0)
"""Of the base on one sheet."""

CHECK_MM = 100.0
"""Edge of the square that tells whether a printer scales."""

BLUE, RULE = "#0072B2", "#c9c7c0"


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor:
    """An anchor by its distance from the left and from the front edge, mm, seen by who stands before the figure."""

    name: str
    left_mm: float
    front_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What stands on the ground: its size in plan, and the anchors.

    Parameters
    ----------
    size_mm
        Left to right, and front to back.
    anchors
        In the order of figure.toml.
    """

    size_mm: tuple[float, float]
    anchors: tuple[Anchor, ...]


def ground_of(source: Source) -> Ground:
    """The base, or where it has no size the box round the figure, with the anchors of figure.toml."""
    plan, base = source.plan, source.settings.base
    frame = _frame(plan.up, source.settings.front)
    chosen = [part for part in plan.parts if part.id == base.part] or list(plan.parts)
    corners = np.array(
        [
            [(part.low_mm, part.high_mm)[i][0], (part.low_mm, part.high_mm)[j][1], (part.low_mm, part.high_mm)[k][2]]
            for part in chosen
            for i in (0, 1)
            for j in (0, 1)
            for k in (0, 1)
        ]
    )
    low, high = (corners @ frame.T).min(axis=0), (corners @ frame.T).max(axis=0)
    if not base.part and all(base.size_mm[:2]):
        middle, half = (low + high) / 2.0, np.array([base.size_mm[0] / 2.0, base.size_mm[1] / 2.0])
        low, high = middle[:2] - half, middle[:2] + half
    anchors = []
    for number, place in enumerate(base.anchors_at_mm, 1):
        x, y = (frame @ np.asarray(place))[:2]
        anchors.append(Anchor(name=f"A{number}", left_mm=float(x - low[0]), front_mm=float(y - low[1])))
    return Ground(size_mm=(float(high[0] - low[0]), float(high[1] - low[1])), anchors=tuple(anchors))


def _frame(up: Vector, front: Vector) -> NDArray[np.float64]:
    """Rows: to the right of who stands before the figure and looks at it, away from them, up."""
    rise = np.asarray(up, dtype=np.float64)
    away = -np.asarray(front, dtype=np.float64)
    away = away - (away @ rise) * rise
    away /= np.linalg.norm(away)
    return np.array([np.cross(away, rise), away, rise])


def plan_view(ground: Ground, words: Words) -> Diagram:
    """The base from above, its front below, each anchor with its two dimensions."""
    wide, deep = ground.size_mm
    scale = min(150.0 / wide, (PLAN_MM - 16.0) / deep)
    left, top = 14.0, 4.0
    drawn = [
        f'<rect x="{left}" y="{top}" width="{wide * scale:.2f}" height="{deep * scale:.2f}" fill="#f1efea" '
        f'stroke="{INK}" stroke-width="0.4"/>'
    ]
    for anchor in ground.anchors:
        x, y = left + anchor.left_mm * scale, top + (deep - anchor.front_mm) * scale
        drawn.append(
            f'<path d="M{left} {y:.2f} H{x:.2f} M{x:.2f} {top + deep * scale:.2f} V{y:.2f}" stroke="{BLUE}" '
            f'stroke-width="0.2" fill="none"/>'
        )
        drawn.append(_cross(x, y, 1.4))
        drawn.append(_label(x + 2.2, y - 1.4, anchor.name, bold=True))
    for place in sorted({round(anchor.front_mm) for anchor in ground.anchors}):
        drawn.append(_label(left - 1.2, top + (deep - place) * scale + 1.0, f"{place}", end=True))
    for place in sorted({round(anchor.left_mm) for anchor in ground.anchors}):
        drawn.append(_label(left + place * scale - 3.0, top + deep * scale + 4.0, f"{place}"))
    drawn.append(_label(left + wide * scale / 2.0 - 6.0, top + deep * scale + 9.0, words("install.base_front")))
    return Diagram(
        width_mm=left + wide * scale + 6.0,
        height_mm=top + deep * scale + 12.0,
        body_svg="".join(drawn),
        alt=words("install.plan_alt", count=len(ground.anchors)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One sheet of the drilling template: its name, row and column among the others, and the drawing, 1:1."""

    name: str
    drawing: Diagram


def tiles(ground: Ground, words: Words) -> tuple[Tile, ...]:
    """Sheets of the drilling template that hold an anchor, with lines every 100 mm of the base, by which they meet.

    Numbered by column from the left, and row from the front.
    """
    wide, deep = TILE_MM
    found = []
    for row in range(math.ceil(ground.size_mm[1] / deep)):
        for column in range(math.ceil(ground.size_mm[0] / wide)):
            x, y = column * wide, row * deep
            here = [one for one in ground.anchors if x <= one.left_mm < x + wide and y <= one.front_mm < y + deep]
            if here:
                name = f"T{column + 1}-{row + 1}"
                found.append(Tile(name=name, drawing=_tile(ground, (x, y), here, words, name)))
    return tuple(found)


def _tile(ground: Ground, at_mm: tuple[float, float], anchors: list[Anchor], words: Words, name: str) -> Diagram:
    wide, deep = TILE_MM
    x0, y0 = at_mm
    drawn = [f'<rect x="0" y="0" width="{wide}" height="{deep}" fill="none" stroke="{RULE}" stroke-width="0.2"/>']

    def across(x: float) -> float:
        return x - x0

    def down(y: float) -> float:
        return deep - (y - y0)

    for axis, (origin, span) in enumerate(((x0, wide), (y0, deep))):
        edge_mm = ground.size_mm[axis]
        lines = [(float(line), RULE, 0.15) for line in range(0, int(edge_mm) + 1, 100)]
        for at, ink, stroke in (*lines, (0.0, INK, 0.6), (edge_mm, INK, 0.6)):
            if origin <= at <= origin + span:
                way = f"M{across(at):.2f} 0 V{deep}" if axis == 0 else f"M0 {down(at):.2f} H{wide}"
                drawn.append(f'<path d="{way}" stroke="{ink}" stroke-width="{stroke}"/>')
                x, y = (across(at) + 0.6, deep - 0.8) if axis == 0 else (0.6, down(at) - 0.6)
                drawn += [_label(x, y, f"{at:.0f}")] if ink == RULE else []
    for anchor in anchors:
        x, y = across(anchor.left_mm), down(anchor.front_mm)
        drawn.append(_cross(x, y, 8.0))
        drawn.append(f'<circle cx="{x:.3f}" cy="{y:.3f}" r="6" fill="none" stroke="{INK}" stroke-width="0.25"/>')
        drawn.append(_label(x + 7.0, y - 3.0, anchor.name, bold=True))
        drawn.append(_label(x + 7.0, y + 5.0, f"{anchor.left_mm:.0f} / {anchor.front_mm:.0f}"))
    left, top = _free_corner([(across(one.left_mm), down(one.front_mm)) for one in anchors])
    drawn.append(
        f'<rect x="{left}" y="{top}" width="{CHECK_MM}" height="{CHECK_MM}" fill="none" stroke="{BLUE}" '
        f'stroke-width="0.35"/>'
    )
    drawn.append(_label(left + 3.0, top + 6.0, words("install.check_square", size=f"{CHECK_MM:g}")))
    return Diagram(width_mm=wide, height_mm=deep, body_svg="".join(drawn), alt=words("install.tile_alt", tile=name))


def _free_corner(places: list[tuple[float, float]]) -> tuple[float, float]:
    """Where the square of the check lies farthest from the anchors of a sheet."""
    wide, deep = TILE_MM
    corners = [(x, y) for y in (8.0, deep - CHECK_MM - 8.0) for x in (6.0, wide - CHECK_MM - 6.0)]

    def nearest(corner: tuple[float, float]) -> float:
        half = CHECK_MM / 2.0
        middle = (corner[0] + half, corner[1] + half)
        return min(max(abs(x - middle[0]), abs(y - middle[1])) for x, y in places)

    return max(corners, key=nearest)


def _cross(x: float, y: float, arm: float) -> str:
    return (
        f'<path d="M{x - arm:.3f} {y:.3f} H{x + arm:.3f} M{x:.3f} {y - arm:.3f} V{y + arm:.3f}" stroke="{INK}" '
        f'stroke-width="0.3" fill="none"/>'
    )


def _label(x: float, y: float, text: str, *, bold: bool = False, end: bool = False) -> str:
    anchor = "end" if end else "start"
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="3" text-anchor="{anchor}" fill="{INK}"{weight}>{escape(text)}</text>'
    )
