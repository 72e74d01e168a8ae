"""How far things are taken apart in a picture, and where each piece of hardware hangs on its axis.

In: a step, its joints and stacks, boxes of the parts. Out: shifts in mm in the frame of the figure. New parts go back
along their real path; hardware goes outwards along its bolt's axis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.drawing.camera import as_vector, cross, unit
from assembler.drawing.drawnstep import DrawnStep
from assembler.drawing.scenes import Item, Role
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId, PartId
from assembler.figure.joints import Bolt, Seat
from assembler.figure.parts import Vector
from assembler.figure.plan import Access, Move

Floats = NDArray[np.float64]

LEAST_MM = 60.0
"""Room for a hand's width between flanges: below it hardware and hatching cannot be told apart."""
SHARE = 0.45
"""Of the new part's length along its path."""
CORNER_SHARE = 1.5
"""A last leg shorter than this share of the new part is shown whole, with the corner before it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """One bolt of a step with what the picture needs.

    Parameters
    ----------
    bolt, stack
        The axis and its pieces.
    head : (3,) float64
        Unit vector outwards on the head side.
    head_part, nut_part
        What the ends sit on.
    nut_seat
        Open, captive or insert.
    head_at_mm, nut_at_mm
        Where the axis meets the faces that carry its ends.
    """

    bolt: Bolt
    stack: Stack
    head: Vector
    head_part: PartId
    nut_part: PartId
    nut_seat: Seat
    head_at_mm: Vector
    nut_at_mm: Vector


def explode_mm(step: DrawnStep, boxes: Mapping[PartId, Floats]) -> float:
    """First guess of the distance that the new parts are moved back along their path, before a view is known.

    Parameters
    ----------
    step
        With a path, or the distance is 0.
    boxes
        Corners of each part's box, (8, 3), mm.

    Returns
    -------
    float
        Never more than the path itself, so that the picture shows a place the part really passes.
    """
    if not step.path or not step.moves or not step.onto:
        return 0.0
    return limited(step, SHARE * length_along(step, boxes), boxes)


def length_along(step: DrawnStep, boxes: Mapping[PartId, Floats]) -> float:
    """Length of the new parts along the last leg of their path, mm."""
    along = np.vstack([boxes[part] for part in step.moves if part in boxes]) @ unit(step.path[-1].direction)
    return float(np.ptp(along))


def limited(step: DrawnStep, distance_mm: float, boxes: Mapping[PartId, Floats]) -> float:
    """A distance that leaves room for a hand, turns the corner of a path of two legs, and stays on the path."""
    *before, last = step.path
    least = LEAST_MM
    if before and last.travel_mm <= CORNER_SHARE * length_along(step, boxes):
        least = last.travel_mm + LEAST_MM
    return min(max(distance_mm, least), sum(leg.travel_mm for leg in step.path))


def way_back(path: Sequence[Move], distance_mm: float) -> tuple[Vector, ...]:
    """Shifts of the new parts at the corners of their way in: from where the picture shows them to their place.

    Parameters
    ----------
    path
        Legs in the order in which they are carried out.
    distance_mm
        Way left to go, along the legs.

    Returns
    -------
    tuple of Vector
        The first is where they are shown, the last is (0, 0, 0).
    """
    shifts = [np.zeros(3)]
    left = distance_mm
    for leg in reversed(path):
        if left <= 0.0:
            break
        shifts.append(shifts[-1] - min(left, leg.travel_mm) * unit(leg.direction))
        left -= leg.travel_mm
    return tuple(as_vector(shift) for shift in reversed(shifts))


def shift_of_new(step: DrawnStep, distance_mm: float) -> Vector:
    """Shift of the new parts from their place, mm."""
    return way_back(step.path, distance_mm)[0]


def axes_of(step: DrawnStep) -> tuple[Axis, ...]:
    """Every bolt of the step once, in the order of the step's stacks."""
    bolts = {bolt.id: bolt for joint in step.records for bolt in joint.bolts}
    access: dict[BoltId, Access] = {entry.bolt: entry for entry in step.access}
    axes = []
    for stack in step.stacks:
        bolt = bolts.get(stack.bolt)
        if bolt is None:
            continue
        end = access[bolt.id].head_end if bolt.id in access else 0
        axes.append(
            Axis(
                bolt=bolt,
                stack=stack,
                head=as_vector(unit(bolt.axis) * (1.0 if end else -1.0)),
                head_part=bolt.through[-1 if end else 0],
                nut_part=bolt.through[0 if end else -1],
                nut_seat=bolt.seats[0 if end else 1],
                head_at_mm=bolt.seat_mm(1 if end else 0),
                nut_at_mm=bolt.seat_mm(0 if end else 1),
            )
        )
    return tuple(axes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """A piece of hardware in the picture.

    Parameters
    ----------
    item
        Body with its place.
    kind
        'screw', 'washer' or 'nut'.
    axis
        Its bolt.
    middle_mm
        Middle of the piece.
    """

    item: Item
    kind: str
    axis: Axis
    middle_mm: Vector


def hang(axis: Axis, shifts: Mapping[PartId, Vector], spread: float = 1.0) -> tuple[Hung, ...]:
    """Pieces of one bolt pulled out along its axis, each side with the part it belongs to.

    Parameters
    ----------
    axis
        The bolt.
    shifts
        Where the parts are in the picture; a part that is not named is in its place.
    spread
        1: pulled out so that every piece stands free; 0: in place.
    """
    stack = axis.stack
    out = unit(axis.head)
    free = 0.4 * stack.head_outer_mm + 3.0
    head_seat = np.asarray(axis.head_at_mm) + np.asarray(shifts.get(axis.head_part, (0.0, 0.0, 0.0)))
    nut_seat = np.asarray(axis.nut_at_mm) + np.asarray(shifts.get(axis.nut_part, (0.0, 0.0, 0.0)))
    washer = stack.washer_mm if stack.washers else 0.0
    under_nut = stack.washer_mm if stack.washers > 1 else 0.0
    pieces = []
    if washer:
        pieces.append(("washer", head_seat + out * spread * free, out, washer))
    head_at = head_seat + out * (washer + spread * (stack.length_mm + 2.0 * free))
    pieces.append(("screw", head_at, out, stack.head_mm))
    if under_nut:
        pieces.append(("washer", nut_seat - out * spread * free, -out, under_nut))
    if stack.nut and axis.nut_seat is not Seat.INSERT:
        pieces.append(("nut", nut_seat - out * (under_nut + spread * 2.2 * free), -out, stack.nut_mm))
    return tuple(_hung(axis, kind, place, way, height) for kind, place, way, height in pieces)


def shape_key(kind: str, stack: Stack) -> str:
    """Key of the mesh of a piece; equal pieces share one."""
    if kind == "screw":
        return f"screw {stack.screw} {stack.size} {stack.length_mm:g}"
    return f"{kind} {stack.nut if kind == 'nut' else stack.washer} {stack.size}"


def _hung(axis: Axis, kind: str, place: Floats, way: Floats, height: float) -> Hung:
    turn = _turn_to(way)
    rows = (as_vector(turn[0]), as_vector(turn[1]), as_vector(turn[2]))
    item = Item(
        name=f"{axis.bolt.id} {kind}",
        shape=shape_key(kind, axis.stack),
        role=Role.HARDWARE,
        shift_mm=as_vector(place),
        turn=rows,
    )
    return Hung(item=item, kind=kind, axis=axis, middle_mm=as_vector(place + way * height / 2.0))


def _turn_to(way: Floats) -> Floats:
    """Rotation that takes +z to `way`."""
    helper = np.array([1.0, 0.0, 0.0]) if abs(way[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    first = unit(cross(helper, way))
    return np.column_stack([first, cross(way, first), way])
