"""Sizes of the sheet and of what is set on it, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.errors import Fault, ProjectFileError

LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 20.0, 16.0, 16.0, 14.0
"""Margins. The left one takes the punch, on every page: pages are printed on one side, or turned over its long edge."""
FOOT_SLACK_MM = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSize:
    """One size of sheet.

    Parameters
    ----------
    name
        As CSS calls it.
    width_mm, height_mm
        Of the paper.
    close_up_mm
        Height of the close-ups below a picture, and beside the orders of a short step.
    """

    name: str
    width_mm: float
    height_mm: float
    close_up_mm: float

    @property
    def text_width_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - LEFT_MM - RIGHT_MM

    @property
    def page_height_mm(self) -> float:
        """Height between the margins: what a page that is filled exactly may take."""
        return self.height_mm - TOP_MM - BOTTOM_MM - FOOT_SLACK_MM


SHEETS = {
    "A4": SheetSize(name="A4", width_mm=210.0, height_mm=297.0, close_up_mm=69.0),
    "Letter": SheetSize(name="Letter", width_mm=215.9, height_mm=279.4, close_up_mm=66.0),
}
"""ISO 216 A4 and US Letter."""


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
