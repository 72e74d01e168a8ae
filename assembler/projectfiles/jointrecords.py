"""One joint as a record of keys and plain values: the same in joints.toml, plan.json and surveyed.json."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import Field

from assembler.figure.ids import BoltId, JointId, PartId
from assembler.figure.joints import Bolt, Joint, Method, Origin, Place, Seat
from assembler.figure.parts import Millimetres, Vector
from assembler.figure.records import read_as, record_of
from assembler.projectfiles.toml import Table

_Length = Annotated[float, Field(ge=0.001, le=1e6)]
_NotNegative = Annotated[float, Field(ge=0, le=1e12)]


class BoltTable(Table):
    """Keys of one bolt."""

    id: BoltId
    at: Vector
    axis: Vector
    hole_mm: _Length
    grip_mm: _Length
    through: tuple[PartId, ...] = ()
    also: tuple[JointId, ...] = ()
    seats: tuple[Seat, Seat] = (Seat.OPEN, Seat.OPEN)
    seat_room_mm: tuple[_NotNegative, _NotNegative] = (0.0, 0.0)
    origin: Origin = Origin.STATED


class JointTable(Table):
    """Keys of one joint."""

    id: JointId
    parts: tuple[PartId, PartId]
    method: Method
    made: Place = Place.SHOP
    bond_area_mm2: _NotNegative = 0.0
    seam_mm: _NotNegative = 0.0
    normal: Vector | None = None
    centre_mm: Vector | None = None
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
    return read_as(Joint, record_of(joint))


def joint_record(joint: Joint) -> dict[str, Any]:
    """Keys and plain values of a joint, rounded; 'origins' and the bolts' 'origin' included."""
    return record_of(joint)
