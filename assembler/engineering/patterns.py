"""In which order the bolts of a joint are tightened, and the joints of one step.

Goes in: a joint with its bolt axes. Comes out: the bolts in order. Rings go by opposite pairs, rows from the centre
outwards; the crew goes through the order twice, first at half the torque (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import BoltId, natural_key
from assembler.figure.joints import Bolt, Joint
from assembler.figure.parts import Vector

TIGHTENING_PASSES = (0.5, 1.0)
"""Shares of the torque, pass by pass (common practice, no source)."""

ALIKE = 0.2
"""Cosines to the movement that differ by less than this draw alike: 37 degrees beside it still draw with 0.8."""

ROW_RATIO = 0.25
"""A pattern whose spread across is less than this share of its spread along is a row."""


def tightening_order(joint: Joint) -> tuple[BoltId, ...]:
    """Bolts of a joint in the order in which they are tightened.

    A row (spread across under a quarter of its length) goes from the centre outwards, sides alternating. Anything else
    is a ring: sorted by angle about its centre, each bolt followed by the one most nearly opposite. One or two bolts
    keep the order of their ids. Ties go to the smaller id, so the same joint gives the same order.

    Parameters
    ----------
    joint
        With its bolts; none gives an empty order.
    """
    bolts = sorted(joint.bolts, key=lambda bolt: natural_key(bolt.id))
    if len(bolts) < 3:
        return tuple(bolt.id for bolt in bolts)
    flat = _flattened(bolts, np.asarray(joint.normal, dtype=np.float64))
    spread = flat.max(axis=0) - flat.min(axis=0)
    order = _row_order(flat[:, 0]) if spread[1] < ROW_RATIO * spread[0] else _ring_order(flat)
    return tuple(bolts[index].id for index in order)


def joints_in_turn(joints: Sequence[Joint], direction: Vector) -> tuple[tuple[Joint, ...], ...]:
    """Joints that one movement closes, in the order in which they are tightened; those of one group in turn.

    Bolts along the movement draw the parts together; bolts across it hold them where they are by then, so that they
    would lock the parts before they are home (common practice, no source).

    Parameters
    ----------
    joints
        At least one.
    direction
        Of the closing movement; unit vector.
    """
    along = {joint.id: abs(sum(a * b for a, b in zip(joint.normal, direction, strict=True))) for joint in joints}
    ordered = sorted(joints, key=lambda joint: natural_key(joint.id))
    best = max(along.values())
    drawing = tuple(joint for joint in ordered if along[joint.id] > best - ALIKE)
    locking = tuple(joint for joint in ordered if joint not in drawing)
    return (drawing, locking) if locking else (drawing,)


def _flattened(bolts: list[Bolt], normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Axis points in the bond plane, (n, 2), the longest spread first, about their centre."""
    points = np.array([bolt.at_mm for bolt in bolts], dtype=np.float64)
    points -= points.mean(axis=0)
    points -= np.outer(points @ normal, normal)
    _, _, axes = np.linalg.svd(points, full_matrices=False)
    flat: NDArray[np.float64] = points @ axes[:2].T
    return flat


def _row_order(along: NDArray[np.float64]) -> list[int]:
    """Nearest the centre first; of two equally near the one on the side not served last."""
    left = sorted(range(len(along)), key=lambda index: (round(abs(float(along[index])), 1), index))
    order = [left.pop(0)]
    while left:
        near = round(abs(float(along[left[0]])), 1)
        equal = [index for index in left if round(abs(float(along[index])), 1) - near <= 1.0]
        last = float(along[order[-1]])
        across = [index for index in equal if float(along[index]) * last < 0] or equal
        order.append(across[0])
        left.remove(across[0])
    return order


def _ring_order(flat: NDArray[np.float64]) -> list[int]:
    """By pairs: the next bolt is as far as can be from those served lately, its partner is the most opposite one."""
    angle = [float(turn) for turn in np.arctan2(flat[:, 1], flat[:, 0])]
    left = list(range(len(flat)))
    order = [left.pop(0)]
    while left:
        if len(order) % 2 == 1:
            pick = min(left, key=lambda index: (-round(_apart(angle[index], angle[order[-1]]), 3), index))
        else:
            served = order[-2:]
            pick = min(
                left,
                key=lambda index: (-round(min(_apart(angle[index], angle[done]) for done in served), 3), index),
            )
        order.append(pick)
        left.remove(pick)
    return order


def _apart(first_rad: float, second_rad: float) -> float:
    """Angle between two directions, 0 to pi."""
    turn = abs(first_rad - second_rad) % (2.0 * math.pi)
    return min(turn, 2.0 * math.pi - turn)
