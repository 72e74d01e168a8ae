"""Marks for crates, drawn by ourselves, called by their names in ISO 780."""

from __future__ import annotations

from collections.abc import Callable

from assembler.publishing.pages import Diagram
from assembler.words import Words

SIZE_MM = 24.0
INK = "#1b1b1b"

MARKS = ("up", "centre", "sling", "dry", "stack")
"""This way up, centre of gravity, sling here, keep away from rain, do not stack."""


def mark(name: str, words: Words) -> Diagram:
    """One mark.

    Parameters
    ----------
    name
        One of `MARKS`.
    words
        For what it is called.
    """
    return Diagram(width_mm=SIZE_MM, height_mm=SIZE_MM, body_svg=_DRAWN[name](), alt=words(f"install.mark.{name}"))


def _line(way: str, width: float = 1.1) -> str:
    return f'<path d="{way}" fill="none" stroke="{INK}" stroke-width="{width}" stroke-linecap="square"/>'


def _solid(way: str) -> str:
    return f'<path d="{way}" fill="{INK}"/>'


def _up() -> str:
    arrows = "".join(
        _solid(f"M{x} 3 L{x + 3.4} 8.4 H{x + 1.2} V18.4 H{x - 1.2} V8.4 H{x - 3.4} Z") for x in (7.4, 16.6)
    )
    return arrows + _solid("M3 20 H21 V21.8 H3 Z")


def centre_svg(x: float, y: float, radius: float) -> str:
    """The sign of a centre of mass: a circle with two black quarters and a cross that stands out of it."""
    quarters = "".join(
        _solid(
            f"M{x:.2f} {y:.2f} L{x + radius * a:.2f} {y:.2f} A{radius:.2f} {radius:.2f} 0 0 1 "
            f"{x:.2f} {y + radius * a:.2f} Z"
        )
        for a in (1, -1)
    )
    long, thin = radius * 1.6, radius * 0.14
    return (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{radius:.2f}" fill="#ffffff" stroke="{INK}" stroke-width="{thin:.2f}"/>'
        f"{quarters}"
        f"{_line(f'M{x - long:.2f} {y:.2f} H{x + long:.2f} M{x:.2f} {y - long:.2f} V{y + long:.2f}', thin)}"
    )


def _centre() -> str:
    return centre_svg(12.0, 12.0, 6.2)


def _sling() -> str:
    links = "".join(
        f'<rect x="9.8" y="{y}" width="4.4" height="7" rx="2.2" fill="none" stroke="{INK}" stroke-width="1.3"/>'
        for y in (2.2, 7.6, 13.0)
    )
    return links + _solid("M5 21.8 H19 V20.4 H5 Z")


def _dry() -> str:
    roof = _solid("M2.6 12.4 A9.4 9.4 0 0 1 21.4 12.4 Z")
    stick = _line("M12 12.4 V18.4 A1.8 1.8 0 0 1 8.4 18.4", 1.2)
    drops = _line("M5 2.4 L4.2 4.6 M10 0.9 L9.4 2.4 M15 0.9 L14.6 2.4 M20 2.4 L19.4 4.6", 0.9)
    return roof + stick + drops


def _stack() -> str:
    boxes = "".join(
        f'<rect x="7" y="{y}" width="10" height="8" fill="none" stroke="{INK}" stroke-width="1.2"/>'
        for y in (3.2, 12.6)
    )
    return boxes + _line("M3.4 2.4 L20.6 21.6 M20.6 2.4 L3.4 21.6", 1.3)


_DRAWN: dict[str, Callable[[], str]] = {"up": _up, "centre": _centre, "sling": _sling, "dry": _dry, "stack": _stack}
