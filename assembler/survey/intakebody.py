"""One body that the shop sent, in mm and mended."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.joints import Origin
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IntakeBody:
    """One body, in mm and mended.

    Parameters
    ----------
    file
        'arm.stl', or 'arm.stl#2' for the second body of a file with several.
    mesh
        In mm, in the frame of the figure.
    triangles
        Triangles read.
    is_watertight
        Whether it is closed after mending.
    notes
        What was mended.
    fingerprint
        What it is recognised by.
    unit_mm, unit_origin
        Length of one unit of the file, and whether the file or figure.toml stated it or it was assumed.
    welded
        Corners that were made one with others because triangles did not share them.
    """

    file: str
    mesh: Mesh
    triangles: int
    is_watertight: bool
    notes: tuple[str, ...]
    fingerprint: Fingerprint
    unit_mm: float
    unit_origin: Origin
    welded: int = 0
