"""Names that are printed, spoken and written on parts, so they must not be mixed up."""

from __future__ import annotations

import re
from typing import Annotated, NewType

from pydantic import Field

ID = r"[A-Z]{1,3}\d{1,4}[a-z]?"
"""What the id of a part or joint looks like, wherever it comes from: it goes into the names of files."""
BOLT_ID = ID + r"(?:\.\d{1,4}[a-z]?)?"
STEP_NUMBER = r"\d{1,5}[a-z]{0,3}"

# A record that is read from a file refuses what does not look like one.
PartId = NewType("PartId", Annotated[str, Field(pattern=f"^{ID}$")])
JointId = NewType("JointId", Annotated[str, Field(pattern=f"^{ID}$")])
BoltId = NewType("BoltId", Annotated[str, Field(pattern=f"^{BOLT_ID}$")])
StepNumber = NewType("StepNumber", Annotated[str, Field(pattern=f"^{STEP_NUMBER}$")])
BenchId = NewType("BenchId", str)
SectionId = NewType("SectionId", str)

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
