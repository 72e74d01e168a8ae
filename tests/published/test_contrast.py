"""Text and signal colours of the book can be read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from assembler.drawing import style
from tests.published.reading import source

CSS = Path(__file__).resolve().parents[2] / "templates" / "book.css"
TEXT, GRAPHICS = 4.5, 3.0
"""WCAG 2.x, 1.4.3 and 1.4.11 (from memory)."""

# C: wcag-contrast-ratio 0.9, against white; the palette is Okabe and Ito's as carried by matplotlib (V).
ON_WHITE = {
    "#000000": 21,
    "#E69F00": 2.252,
    "#56B4E9": 2.307,
    "#009E73": 3.421,
    "#F0E442": 1.322,
    "#0072B2": 5.185,
    "#D55E00": 3.867,
    "#CC79A7": 3.061,
    "#767676": 4.542,
    "#777777": 4.478,
    "#595959": 7.005,
}


def _luminance(colour: str) -> float:
    channels = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _rules() -> list[tuple[str, str | None, str | None]]:
    """Selector, text colour and background of every rule of the style sheet."""
    found = []
    for selector, body in re.findall(
        r"([^{}]+)\{([^{}]*)\}", re.sub(r"/\*.*?\*/", "", CSS.read_text(encoding="utf-8"), flags=re.S)
    ):
        text = re.search(r"(?<![-\w])color:\s*(#[0-9a-fA-F]{6})", body)
        ground = re.search(r"background:\s*(#[0-9a-fA-F]{6})", body)
        found.append((selector.strip(), text and text[1], ground and ground[1]))
    return found


INK = "#1b1b1b"
PAPER = ("#ffffff", "#f1efea")


@source("wcag")
def test_the_style_sheet_is_read() -> None:
    coloured = [rule for rule in _rules() if rule[1] or rule[2]]
    assert len(coloured) > 10
    assert any(text == INK for _, text, _ in coloured)


@source("wcag")
def test_text_stands_out_from_its_ground() -> None:
    # The formula itself, on ratios that a published library gives.
    for colour, ratio in ON_WHITE.items():
        assert _contrast(colour, "#FFFFFF") == pytest.approx(ratio, abs=0.0006)
    for selector, text, ground in _rules():
        if text is None and ground is None:
            continue
        is_dark_mark = ground == INK and text is None
        if is_dark_mark:
            continue
        for paper in (ground,) if ground else PAPER:
            ratio = _contrast(text or INK, paper)
            assert ratio >= TEXT, f"{selector}: {text or INK} on {paper} is {ratio:.2f}"


@source("wcag")
def test_lines_and_marks_of_drawings_stand_out_from_paper() -> None:
    for colour in (style.BLUE, style.VERMILLION, style.BLACK, style.GREY):
        assert _contrast(colour, "#ffffff") >= GRAPHICS
    for colour in (style.BLUE, style.BLACK, style.GREY):
        assert _contrast(colour, "#ffffff") >= TEXT
