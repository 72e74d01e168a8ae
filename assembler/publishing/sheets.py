"""Sizes of the sheet and of what is set on it, as CSS lengths."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.errors import Fault, ProjectFileError


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSize:
    """One size of sheet.

    Parameters
    ----------
    name
        As CSS calls it.
    top_mm, bottom_mm
        Margins above and below.
    text_width_mm, page_height_mm
        Width and height between the margins: what a page that is filled exactly may take.
    detail_mm, section_mm
        Height of a flange beside the orders, and of a section beside the checks.
    frame_height
        Height of the frame of the cover.
    tab_first_mm, tab_last_mm
        Where the first and the last tab of the thumb index stand, from the top margin down.
    """

    name: str
    top_mm: float
    bottom_mm: float
    text_width_mm: float
    page_height_mm: float
    detail_mm: float
    section_mm: float
    frame_height: str
    tab_first_mm: float
    tab_last_mm: float


SHEETS = {
    "A4": SheetSize(
        name="A4",
        top_mm=21.0,
        bottom_mm=17.0,
        text_width_mm=171.0,
        page_height_mm=258.5,
        detail_mm=64.0,
        section_mm=56.0,
        frame_height="275mm",
        tab_first_mm=0.0,
        tab_last_mm=246.0,
    ),
    "Letter": SheetSize(
        name="Letter",
        top_mm=18.0,
        bottom_mm=15.0,
        text_width_mm=176.9,
        page_height_mm=245.9,
        detail_mm=58.0,
        section_mm=48.0,
        frame_height="257.5mm",
        tab_first_mm=0.0,
        tab_last_mm=233.0,
    ),
}
"""ISO 216 A4 is 210 x 297 mm, US Letter 215.9 x 279.4 mm; the page height is what the margins leave."""


def sheet_size(name: str) -> SheetSize:
    """The sheet of a name.

    Raises
    ------
    ProjectFileError
        If the book is not set for it.
    """
    if name not in SHEETS:
        known = ", ".join(sorted(SHEETS))
        raise ProjectFileError(
            Fault(file="figure.toml", place="sheet", wrong=f"unknown sheet {name!r}", right=f"one of: {known}")
        )
    return SHEETS[name]
