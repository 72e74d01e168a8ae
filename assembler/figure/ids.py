"""Names that are printed, spoken and written on parts, so they must not be mixed up."""

from __future__ import annotations

import re
from typing import NewType

PartId = NewType("PartId", str)
JointId = NewType("JointId", str)
BoltId = NewType("BoltId", str)
StepNumber = NewType("StepNumber", str)
BenchId = NewType("BenchId", str)
SectionId = NewType("SectionId", str)

ID = r"[A-Z]{1,3}\d{1,4}[a-z]?"
"""What the id of a part or joint looks like, wherever it comes from: it goes into the names of files."""
BOLT_ID = ID + r"(?:\.\d{1,4}[a-z]?)?"
STEP_NUMBER = r"\d{1,5}[a-z]{0,3}"

_PIECES = re.compile(r"(\d+)")


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Sorting key that puts P2 before P10 and 12 before 12a; ties are impossible for distinct names.

    Parameters
    ----------
    name
        Any id or file name.

    Returns
    -------
    tuple
        One entry for each run of digits or of other characters, then the name itself.
    """
    pieces = tuple((0, int(piece), "") if piece.isdigit() else (1, 0, piece) for piece in _PIECES.split(name) if piece)
    # The end sorts before anything that might follow: 12 before 12a.
    return (*pieces, (-1, 0, name))
