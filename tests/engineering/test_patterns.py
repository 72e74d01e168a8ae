"""Tightening orders."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.patterns import joints_in_turn, tightening_order
from assembler.figure.ids import JointId
from assembler.figure.joints import Joint
from assembler.figure.parts import Vector
from tests.engineering.specimens import bolt, joint, ring


@given(st.integers(0, 24))
def test_every_bolt_stands_once(count: int) -> None:
    one = joint(ring(count)) if count else joint()
    order = tightening_order(one)
    assert sorted(order) == sorted(bolt.id for bolt in one.bolts)


@pytest.mark.parametrize("count", [4, 6, 8, 10, 12, 16, 20])
def test_rings_go_by_opposite_pairs(count: int) -> None:
    one = joint(ring(count))
    place = {bolt.id: np.array(bolt.at_mm) for bolt in one.bolts}
    order = tightening_order(one)
    for first, second in zip(order[::2], order[1::2], strict=True):
        np.testing.assert_allclose(place[first], -place[second], atol=1e-9)


def test_rows_go_from_the_centre_outwards() -> None:
    row = [bolt(f"J01.{n}", at_mm=(40.0 * n, 0.0, 0.0)) for n in range(1, 8)]
    assert tightening_order(joint(row)) == ("J01.4", "J01.3", "J01.5", "J01.2", "J01.6", "J01.1", "J01.7")


def test_distances_from_the_centre_of_a_row_never_shrink() -> None:
    row = [bolt(f"J01.{n}", at_mm=(x, 0.0, 0.0)) for n, x in enumerate((0.0, 35.0, 90.0, 130.0, 200.0, 260.0))]
    middle = sum(one.at_mm[0] for one in row) / len(row)
    where = {one.id: abs(one.at_mm[0] - middle) for one in row}
    order = [where[name] for name in tightening_order(joint(row))]
    assert order == sorted(order)


@given(st.floats(-3.0, 3.0), st.floats(-200.0, 200.0), st.integers(3, 12))
def test_turning_and_moving_the_joint_changes_nothing_but_ties(turn: float, shift: float, count: int) -> None:
    spin = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    moved = [bolt(one.id, at_mm=tuple(spin @ np.array(one.at_mm) + shift)) for one in ring(count)]
    assert tightening_order(joint(moved)) == tightening_order(joint(ring(count)))


def test_the_order_of_the_input_does_not_matter() -> None:
    bolts = ring(9)
    assert tightening_order(joint(bolts)) == tightening_order(joint(bolts[::-1]))


def test_two_flat_rows_are_still_a_row_and_a_fifth_as_high_again_is_a_ring() -> None:
    # 300 mm long: below a quarter of that, 75 mm, from the middle outwards; above it across and across.
    def order(high_mm: float) -> list[str]:
        places = [(x, y, 0.0) for y in (0.0, high_mm) for x in (0.0, 100.0, 200.0, 300.0)]
        return [
            str(name)
            for name in tightening_order(joint([bolt(f"J01.{n}", at_mm=at) for n, at in enumerate(places, 1)]))
        ]

    middle = {"J01.2", "J01.3", "J01.6", "J01.7"}
    assert set(order(70.0)[:4]) == middle
    assert set(order(80.0)[:4]) != middle


def test_the_joint_that_draws_is_tightened_before_the_one_that_locks() -> None:
    def facing(name: str, normal: Vector) -> Joint:
        return replace(joint(), id=JointId(name), normal=normal)

    across, along = facing("J02", (1.0, 0.0, 0.0)), facing("J07", (0.0, 0.0, -1.0))
    leaning = facing("J09", (0.3, 0.0, 0.95))
    down = (0.0, 0.0, -1.0)
    assert joints_in_turn((across, along, leaning), down) == ((along, leaning), (across,))
    assert joints_in_turn((leaning, along), down) == ((along, leaning),)
    assert joints_in_turn((across,), down) == ((across,),)
