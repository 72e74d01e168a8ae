"""Which axes of different joints are one bolt, and what bolt is it? Axes of all joints in, bolts out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembler.figure.ids import BoltId, JointId
from assembler.figure.joints import Bolt, Seat
from assembler.geometry.holes import Kind
from assembler.geometry.solids import as_vector
from assembler.survey.bolting import Axis, Bolting, seat_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """Axes of one bolt through two or more parts, in order along the axis."""

    joints: tuple[int, ...]
    axes: tuple[Axis, ...]


def find_chains(found: Sequence[Bolting]) -> list[Chain]:
    """Axes that run on through a shared part become one bolt."""
    entries = [(number, axis) for number, entry in enumerate(found) for axis in entry.axes]
    links: dict[int, list[int]] = {index: [] for index in range(len(entries))}
    for one, two in _neighbours(entries):
        if _runs_on(entries[one][1], entries[two][1]):
            links[one].append(two)
            links[two].append(one)
    chains, seen = [], set()
    for first in range(len(entries)):
        if first in seen:
            continue
        group, rest = [], [first]
        while rest:
            here = rest.pop()
            if here not in seen:
                seen.add(here)
                group.append(here)
                rest.extend(links[here])
        chains.append(_in_order([entries[index] for index in sorted(group)]))
    return chains


def _neighbours(entries: Sequence[tuple[int, Axis]]) -> list[tuple[int, int]]:
    """Pairs of axes of different joints that lie on one line, near enough to look at."""
    if not entries:
        return []
    points = np.array([axis.at_mm for _, axis in entries])
    axes = np.array([axis.axis for _, axis in entries])
    joint = np.array([number for number, _ in entries])
    found = []
    for one in range(len(entries)):
        arm = points[one + 1 :] - points[one]
        across = np.linalg.norm(np.cross(arm, axes[one]), axis=1)
        near = (across < 10.0) & (np.abs(axes[one + 1 :] @ axes[one]) > 0.99) & (joint[one + 1 :] != joint[one])
        found += [(one, one + 1 + int(two)) for two in np.flatnonzero(near)]
    return found


def _runs_on(one: Axis, two: Axis) -> bool:
    """Whether two axes are one bolt: on one line, and the seat in the shared part is the other's bond plane."""
    if not set(one.parts) & set(two.parts) or abs(one.axis @ two.axis) < np.cos(np.radians(2.0)):
        return False
    between = two.at_mm - one.at_mm
    along = float(between @ one.axis)
    if np.linalg.norm(between - along * one.axis) > max(0.5, 0.12 * one.hole_mm):
        return False
    for part in sorted(set(one.parts) & set(two.parts)):
        side = one.parts.index(part)
        bore = one.bores[side]
        depth = (bore.depth_mm + one.gap_mm / 2) * (1 if side else -1)
        if bore.kind is Kind.THROUGH and abs(along - depth) < 1.5 + abs(two.gap_mm):
            return True
    return False


def _in_order(entries: list[tuple[int, Axis]]) -> Chain:
    axis = entries[0][1].axis
    ordered = sorted(entries, key=lambda entry: (round(float(entry[1].at_mm @ axis), 4), entry[0]))
    turned = [_turned(found) if found.axis @ axis < 0 else found for _, found in ordered]
    return Chain(joints=tuple(number for number, _ in ordered), axes=tuple(turned))


def _turned(axis: Axis) -> Axis:
    return Axis(
        parts=axis.parts[::-1],
        at_mm=axis.at_mm,
        axis=-axis.axis,
        hole_mm=axis.hole_mm,
        gap_mm=axis.gap_mm,
        bores=axis.bores[::-1],
    )


def bolt_of(chain: Chain, names: Sequence[JointId]) -> Bolt:
    """The bolt on a chain of axes, head side first as far as the seats tell; its id is given later.

    Parameters
    ----------
    chain
        Axes in order.
    names
        Ids of all joints, by number.
    """
    axes = chain.axes
    if _is_head_last(axes):
        axes = tuple(_turned(axis) for axis in reversed(axes))
    start, end = axes[0].ends_mm()[0], axes[-1].ends_mm()[1]
    first, last = axes[0].bores[0], axes[-1].bores[1]
    through = (axes[0].parts[0], *(axis.parts[1] for axis in axes))
    listed = min(range(len(chain.joints)), key=lambda index: chain.joints[index])
    at = chain.axes[listed].at_mm
    return Bolt(
        id=BoltId(""),
        at_mm=as_vector(at),
        axis=as_vector(axes[0].axis),
        hole_mm=min(axis.hole_mm for axis in axes),
        grip_mm=float((end - start) @ axes[0].axis),
        through=through,
        seats=(seat_of(first), seat_of(last)),
        also=tuple(names[number] for number in sorted(set(chain.joints))[1:]),
        seat_room_mm=(first.room_mm, last.room_mm),
    )


def _is_head_last(axes: Sequence[Axis]) -> bool:
    """Whether the head goes in at the far end: the near one holds a nut or insert, or the far one is counterbored."""
    first, last = axes[0].bores[0], axes[-1].bores[1]
    rank = {Seat.INSERT: 2, Seat.CAPTIVE: 1, Seat.OPEN: 0}
    here, there = rank[seat_of(first)], rank[seat_of(last)]
    if here != there:
        return here > there
    return last.is_counterbored and not first.is_counterbored
