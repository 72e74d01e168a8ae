"""A part: one printed (or bought, or carpentered) body of the figure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, computed_field

from assembler.figure.ids import PartId
from assembler.figure.records import NOT_NEGATIVE, SIX_FIGURES, UNWRITTEN, digits, key

Millimetres = Annotated[float, Field(ge=-1e6, le=1e6)]
"""A coordinate or a length with its sign: a figure of more than a kilometre is a slip of the unit."""
Vector = tuple[Millimetres, Millimetres, Millimetres]
_Moment = Annotated[float, Field(ge=-1e36, le=1e36)]
"""Of a kilometre to the sixth power, in mm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """Numbers that stay within tolerance when a part is only re-exported.

    All are integrals over the solid or its surface, so neither triangulation, nor vertex order, nor file format
    moves them by more than rounding.

    Parameters
    ----------
    volume_mm3, area_mm2
        Volume enclosed and surface.
    centre_mm
        Centre of volume in the frame of the figure.
    inertia_mm5
        Principal second moments of volume about the centre, ascending.
    skew_mm6
        Third-order moment about the principal axes whose sign tells mirrored twins apart.
    low_mm, high_mm
        Lowest and highest coordinates.
    """

    volume_mm3: Annotated[float, Field(ge=-1e18, le=1e18), digits(1)]
    area_mm2: Annotated[float, NOT_NEGATIVE, digits(1)]
    centre_mm: Annotated[Vector, digits(3)]
    inertia_mm5: Annotated[tuple[_Moment, _Moment, _Moment], SIX_FIGURES]
    skew_mm6: Annotated[_Moment, SIX_FIGURES]
    low_mm: Annotated[Vector, digits(3)]
    high_mm: Annotated[Vector, digits(3)]

    @property
    def box_mm(self) -> tuple[Vector, Vector]:
        """Lowest and highest corner."""
        return self.low_mm, self.high_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One body of the figure, with what follows from its mesh.

    Parameters
    ----------
    id
        What is printed on label and page; never used for something else.
    file
        File name in parts/, shown beside the id. A file with several bodies adds '#2', '#3', ...
    material
        Name of a material in figure.toml.
    is_printed
        False for a carpentered or bought part such as a timber base: it need not fit the printer.
    mass_kg, volume_mm3, area_mm2, centre_mm
        From the mesh and the density; `centre_mm` is the centre of mass in the frame of the figure.
    triangles
        Triangles read from the file; 0 for a part of an issued book.
    is_watertight
        False when the mesh has open edges that could not be healed; volume and mass are then estimates.
    fingerprint
        What a re-cut is recognised by.
    """

    id: PartId
    file: str
    material: str
    is_printed: Annotated[bool, key("printed")]
    mass_kg: Annotated[float, NOT_NEGATIVE, digits(3)]
    volume_mm3: Annotated[float, digits(1)]
    area_mm2: Annotated[float, NOT_NEGATIVE, digits(1)]
    centre_mm: Annotated[Vector, digits(2)]
    triangles: Annotated[int, UNWRITTEN] = 0
    is_watertight: Annotated[bool, key("watertight")]
    fingerprint: Fingerprint

    @property
    def low_mm(self) -> Vector:
        """Lowest corner of the axis-aligned box in the frame of the figure."""
        return self.fingerprint.low_mm

    @property
    def high_mm(self) -> Vector:
        """Highest corner of that box."""
        return self.fingerprint.high_mm

    @computed_field  # type: ignore[prop-decorator]
    @property
    def size_mm(self) -> Annotated[Vector, digits(2)]:
        """Edges of the axis-aligned box, mm."""
        low, high = self.low_mm, self.high_mm
        return (high[0] - low[0], high[1] - low[1], high[2] - low[2])
