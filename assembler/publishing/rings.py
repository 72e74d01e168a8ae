"""The clock of a joint: a ring with an arc as long as its hold, and the number of the joint in it.

One device stands wherever a joint is waited for: gate, clock, chart, log, label, cover.
Goes in: joint and hold. Comes out: a drawing in millimetres.
"""

from __future__ import annotations

import math
from xml.sax.saxutils import escape

from assembler.publishing import quantities
from assembler.publishing.pages import Diagram
from assembler.publishing.words import Words

DAY_MIN = 24.0 * 60.0
"""Once round is a day."""
GLUE, INK, TRACK = "#E69F00", "#1b1b1b", "#c9c7c0"
NAME_SHARE = 0.36
"""Height of a name of three letters as a share of the ring."""


def clock_ring(name: str, hold_min: float, size_mm: float, words: Words) -> Diagram:
    """The clock of a joint.

    Parameters
    ----------
    name
        Of the joint.
    hold_min
        From closing to handling strength; 0: the joint is not waited for, the ring has no arc.
    size_mm
        Width and height.
    words
        For the words of those who cannot see it.
    """
    alt = (
        words("ring.alt", joint=name, time=quantities.duration(hold_min))
        if hold_min
        else words("ring.none", joint=name)
    )
    return Diagram(width_mm=size_mm, height_mm=size_mm, body_svg=ring_svg(name, hold_min, size_mm), alt=alt)


def ring_svg(name: str, hold_min: float, size_mm: float) -> str:
    """The ring as SVG elements with its left upper corner at the origin."""
    middle, width = size_mm / 2.0, size_mm * 0.11
    radius = middle - width
    letters = size_mm * NAME_SHARE * min(1.0, 3.0 / max(len(name), 1))
    return (
        f'<circle cx="{middle:.2f}" cy="{middle:.2f}" r="{radius:.2f}" fill="#ffffff" stroke="{TRACK}" '
        f'stroke-width="{width / 3:.2f}"/>{_arc(hold_min / DAY_MIN, middle, radius, width)}'
        f'<text x="{middle:.2f}" y="{middle + letters * 0.36:.2f}" font-size="{letters:.2f}" font-weight="bold" '
        f'text-anchor="middle" fill="{INK}">{escape(name)}</text>'
    )


def _arc(share: float, middle: float, radius: float, width: float) -> str:
    """The hold, clockwise from the top, with a stroke at its end: there the time is read."""
    if share <= 0:
        return ""
    if share >= 1:
        return (
            f'<circle cx="{middle:.2f}" cy="{middle:.2f}" r="{radius:.2f}" fill="none" stroke="{GLUE}" '
            f'stroke-width="{width:.2f}"/>'
        )
    angle = 2.0 * math.pi * share
    x, y = math.sin(angle), -math.cos(angle)
    way = (
        f"M{middle:.2f} {middle - radius:.2f} A{radius:.2f} {radius:.2f} 0 {int(share > 0.5)} 1 "
        f"{middle + radius * x:.2f} {middle + radius * y:.2f}"
    )
    low, high = radius - width * 0.9, radius + width * 0.9
    return (
        f'<path d="{way}" fill="none" stroke="{GLUE}" stroke-width="{width:.2f}"/>'
        f'<path d="M{middle + low * x:.2f} {middle + low * y:.2f} L{middle + high * x:.2f} {middle + high * y:.2f}" '
        f'stroke="{INK}" stroke-width="{width / 2.5:.2f}"/>'
    )
