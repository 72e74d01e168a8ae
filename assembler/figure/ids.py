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
