"""One joint as a record of keys and plain values: the same in joints.toml, plan.json and surveyed.json."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Any

from pydantic import Field

from assembler.figure.ids import BOLT_ID, ID, BoltId, JointId, PartId
from assembler.figure.joints import Bolt, Joint, Method, Origin, Place, Seat
from assembler.figure.parts import Vector
from assembler.projectfiles.toml import Millimetres, Table

_Vector = tuple[Millimetres, Millimetres, Millimetres]
_Length = Annotated[float, Field(gt=0, le=1e6)]
_NotNegative = Annotated[float, Field(ge=0, le=1e12)]
_Id = Annotated[str, Field(pattern=f"^{ID}$")]


class BoltTable(Table):
    """Keys of one bolt."""

    id: Annotated[str, Field(pattern=f"^{BOLT_ID}$")]
    at: _Vector
    axis: _Vector
    hole_mm: _Length
    grip_mm: _Length
    through: tuple[_Id, ...] = ()
    also: tuple[_Id, ...] = ()
    seats: tuple[Seat, Seat] = (Seat.OPEN, Seat.OPEN)
    seat_room_mm: tuple[_NotNegative, _NotNegative] = (0.0, 0.0)
    origin: Origin = Origin.STATED


class JointTable(Table):
    """Keys of one joint."""

    id: _Id
    parts: tuple[_Id, _Id]
    method: Method
    made: Place = Place.SHOP
    bond_area_mm2: _NotNegative = 0.0
    seam_mm: _NotNegative = 0.0
    normal: _Vector | None = None
    centre_mm: _Vector | None = None
    gap_mm: Millimetres = 0.0
    assumed: tuple[str, ...] = ()
    origins: dict[str, Origin] = {}
    bolt: tuple[BoltTable, ...] = ()


def joint_from_table(entry: JointTable) -> Joint:
    """The joint that a checked table describes; missing directions and centres follow from the bolts.

    Notes
    -----
    The axes must not be zero; `jointsfile` refuses such tables earlier.
    """
    bolts = tuple(_bolt(bolt, entry) for bolt in entry.bolt)
    return Joint(
        id=JointId(entry.id),
        parts=(PartId(entry.parts[0]), PartId(entry.parts[1])),
        method=entry.method,
        made=entry.made,
        bond_area_mm2=entry.bond_area_mm2,
        seam_mm=entry.seam_mm,
        normal=unit_vector(entry.normal or (bolts[0].axis if bolts else (0.0, 0.0, 1.0))),
        centre_mm=entry.centre_mm or _mean([bolt.at_mm for bolt in bolts]),
        bolts=bolts,
        gap_mm=entry.gap_mm,
        origins=dict(entry.origins),
    )


def _bolt(entry: BoltTable, joint: JointTable) -> Bolt:
    return Bolt(
        id=BoltId(entry.id),
        at_mm=entry.at,
        axis=unit_vector(entry.axis),
        hole_mm=entry.hole_mm,
        grip_mm=entry.grip_mm,
        through=tuple(PartId(part) for part in entry.through or joint.parts),
        seats=entry.seats,
        also=tuple(JointId(other) for other in entry.also),
        seat_room_mm=entry.seat_room_mm,
        origin=entry.origin,
    )


def unit_vector(vector: Vector) -> Vector:
    """The vector with length 1.

    Raises
    ------
    ZeroDivisionError
        For a zero vector.
    """
    length = math.hypot(*vector)
    return (vector[0] / length, vector[1] / length, vector[2] / length)


def _mean(points: Sequence[Vector]) -> Vector:
    count = max(len(points), 1)
    return (
        math.fsum(point[0] for point in points) / count,
        math.fsum(point[1] for point in points) / count,
        math.fsum(point[2] for point in points) / count,
    )


def rounded_joint(joint: Joint) -> Joint:
    """The joint with the digits that a file carries, so that what is written reads back the same."""
    return replace(
        joint,
        bond_area_mm2=round(joint.bond_area_mm2, 1),
        seam_mm=round(joint.seam_mm, 1),
        normal=_rounded(joint.normal, 8),
        centre_mm=_rounded(joint.centre_mm, 2),
        gap_mm=round(joint.gap_mm, 3) + 0.0,
        bolts=tuple(_rounded_bolt(bolt) for bolt in joint.bolts),
    )


def _rounded_bolt(bolt: Bolt) -> Bolt:
    return replace(
        bolt,
        at_mm=_rounded(bolt.at_mm, 3),
        axis=_rounded(bolt.axis, 8),
        hole_mm=round(bolt.hole_mm, 3),
        grip_mm=round(bolt.grip_mm, 3),
        seat_room_mm=(round(bolt.seat_room_mm[0], 1), round(bolt.seat_room_mm[1], 1)),
    )


def _rounded(vector: Vector, digits: int) -> Vector:
    # Adding zero turns -0.0 into 0.0, so that a file does not change with the sign of a rounding error.
    return (round(vector[0], digits) + 0.0, round(vector[1], digits) + 0.0, round(vector[2], digits) + 0.0)


def joint_record(joint: Joint) -> dict[str, Any]:
    """Keys and plain values of a joint, rounded; 'origins' and the bolts' 'origin' included."""
    joint = rounded_joint(joint)
    return {
        "id": str(joint.id),
        "parts": [str(part) for part in joint.parts],
        "method": joint.method.value,
        "made": joint.made.value,
        "bond_area_mm2": joint.bond_area_mm2,
        "seam_mm": joint.seam_mm,
        "normal": list(joint.normal),
        "centre_mm": list(joint.centre_mm),
        "gap_mm": joint.gap_mm,
        "origins": {key: origin.value for key, origin in sorted(joint.origins.items())},
        "bolt": [bolt_record(bolt) for bolt in joint.bolts],
    }


def bolt_record(bolt: Bolt) -> dict[str, Any]:
    """Keys and plain values of a bolt as it stands."""
    return {
        "id": str(bolt.id),
        "at": list(bolt.at_mm),
        "axis": list(bolt.axis),
        "hole_mm": bolt.hole_mm,
        "grip_mm": bolt.grip_mm,
        "through": [str(part) for part in bolt.through],
        "also": [str(other) for other in bolt.also],
        "seats": [seat.value for seat in bolt.seats],
        "seat_room_mm": list(bolt.seat_room_mm),
        "origin": bolt.origin.value,
    }
