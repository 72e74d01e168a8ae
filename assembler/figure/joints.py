"""Joints and bolts: what joins what, and how sure each value is."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

from assembler.figure.ids import BoltId, JointId, PartId
from assembler.figure.parts import Vector
from assembler.figure.records import BY_NAME, NOT_NEGATIVE, POSITIVE, SPOKEN, digits, key

_Width = Annotated[float, NOT_NEGATIVE]
_Place = Annotated[Vector, digits(3)]


class Method(StrEnum):
    """How a joint is held together."""

    BOLTED_AND_BONDED = "bolted and bonded"
    BOLTED = "bolted"
    BONDED = "bonded"
    DRY = "dry"

    @property
    def is_bonded(self) -> bool:
        """Whether adhesive goes between the faces."""
        return self in (Method.BOLTED_AND_BONDED, Method.BONDED)


class Place(StrEnum):
    """Where a joint is closed for good."""

    SHOP = "shop"
    SITE = "site"


class Origin(StrEnum):
    """Where a value comes from."""

    SURVEYED = "surveyed"
    ASSUMED = "assumed"
    STATED = "stated"


class Seat(StrEnum):
    """What carries one end of a bolt."""

    OPEN = "open"
    CAPTIVE = "captive"
    """A pocket that keeps the nut from turning: no spanner needed on that side while tightening."""
    INSERT = "insert"
    """A threaded insert or blind hole: the screw goes in from the other side."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """One bolt axis.

    Parameters
    ----------
    id
        'J03.1'.
    at_mm
        A point on the axis, in the bond plane of its joint.
    axis
        Unit vector, pointing from `through[0]` to `through[-1]`.
    hole_mm
        Diameter of the clearance hole, true circle (bias of the tessellation removed).
    grip_mm
        Between the outer seats as modelled.
    through
        Parts pierced, in order along `axis`.
    seats
        Seat in `through[0]` and in `through[-1]`.
    also
        Other joints that this bolt closes too (a bolt through three parts is listed once).
    seat_room_mm
        Diameter of the flat round each outer seat that a washer can use, for the two ends; 0 when not measured.
    origin
        Where the axis comes from.
    seats_mm
        Where the axis meets the faces that head and nut (washers included) sit on, in `through[0]` and in
        `through[-1]`; None before it was measured. Drawing, access and lengths all ask `seat_mm`.
    head_end
        Where the plan puts the head: 0 in `through[0]`, 1 in `through[-1]`; None before it was planned.
    """

    id: BoltId
    at_mm: Annotated[Vector, digits(3), key("at")]
    axis: Annotated[Vector, digits(8)]
    hole_mm: Annotated[float, POSITIVE, digits(3)]
    grip_mm: Annotated[float, POSITIVE, digits(3)]
    through: tuple[PartId, ...]
    also: tuple[JointId, ...] = ()
    seats: tuple[Seat, Seat] = (Seat.OPEN, Seat.OPEN)
    seat_room_mm: Annotated[tuple[_Width, _Width], digits(1)] = (0.0, 0.0)
    origin: Origin = Origin.SURVEYED
    seats_mm: Annotated[tuple[_Place, _Place] | None, SPOKEN] = field(default=None, compare=False)
    head_end: Annotated[int | None, SPOKEN] = field(default=None, compare=False)

    def seat_mm(self, end: int) -> Vector:
        """Where the axis meets the face that carries an end (0: in `through[0]`, 1: in `through[-1]`).

        Half the grip from the bond plane where no seat was measured.
        """
        if self.seats_mm is not None:
            return self.seats_mm[end]
        half = self.grip_mm / 2.0 if end else -self.grip_mm / 2.0
        x, y, z = (at + half * along for at, along in zip(self.at_mm, self.axis, strict=True))
        return (x, y, z)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """One pair of parts that are joined.

    Parameters
    ----------
    id
        'J03'.
    parts
        The pair; the preferred head side first.
    method
        How it is held together.
    made
        Where it is closed for good.
    bond_area_mm2
        Facing area net of holes.
    seam_mm
        Length of the visible seam on the outer skin.
    normal
        Area-weighted mean unit normal of the mating faces, pointing out of `parts[0]` into `parts[1]`.
    centre_mm
        Area-weighted centre of the mating faces.
    bolts
        Bolt axes, in the order of their ids.
    gap_mm
        Mean distance between the facing faces as modelled; negative for an overlap.
    origins
        Where each value comes from, by key ('method', 'bond_area_mm2', 'made', ...).
    """

    id: JointId
    parts: tuple[PartId, PartId]
    method: Method
    made: Place
    bond_area_mm2: Annotated[float, NOT_NEGATIVE, digits(1)]
    seam_mm: Annotated[float, NOT_NEGATIVE, digits(1)]
    normal: Annotated[Vector, digits(8)]
    centre_mm: Annotated[Vector, digits(2)]
    gap_mm: Annotated[float, digits(3)] = 0.0
    origins: Annotated[dict[str, Origin], BY_NAME] = field(default_factory=dict, compare=False)
    bolts: Annotated[tuple[Bolt, ...], key("bolt")] = ()
