"""Sides of the figure as it sees itself."""

from __future__ import annotations

import math

import pytest

from assembler.figure.parts import Vector
from assembler.figure.sides import side_of, usual_front

UP: Vector = (0.0, 0.0, 1.0)


@pytest.mark.parametrize(
    ("direction", "side"),
    [
        ((0.0, -1.0, 0.0), "front"),
        ((0.0, 1.0, 0.0), "back"),
        # Who faces -y with z up has +x at the left hand.
        ((1.0, 0.0, 0.0), "left"),
        ((-1.0, 0.0, 0.0), "right"),
        ((0.7, 0.7, 0.1), "back_left"),
        ((-0.7, -0.7, 0.0), "front_right"),
        ((0.0, 0.0, 1.0), ""),
        ((0.1, 0.0, -1.0), ""),
    ],
)
def test_a_direction_has_the_side_that_the_figure_calls_so(direction: Vector, side: str) -> None:
    assert side_of(direction, UP, usual_front(UP)) == side


def test_turning_figure_and_direction_alike_keeps_the_side() -> None:
    for turn in range(0, 360, 15):
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        front, aside = (c, s, 0.0), (-s, c, 0.0)
        assert (side_of(front, UP, front), side_of(aside, UP, front)) == ("front", "left")


def test_where_y_is_up_the_usual_front_is_z() -> None:
    assert side_of((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), usual_front((0.0, 1.0, 0.0))) == "left"
