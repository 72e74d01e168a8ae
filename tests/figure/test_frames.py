"""Frames that go with an up axis."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.figure.frames import plan_frame, upright_box, upright_point
from assembler.figure.parts import Vector


@pytest.mark.parametrize(
    ("up", "size"),
    [
        ((0.0, 0.0, 1.0), (10.0, 20.0, 30.0)),
        ((0.0, 1.0, 0.0), (30.0, 10.0, 20.0)),
        ((0.0, -1.0, 0.0), (30.0, 10.0, 20.0)),
        ((1.0, 0.0, 0.0), (20.0, 30.0, 10.0)),
    ],
)
def test_a_box_stands_with_its_edge_along_up_as_its_height(up: Vector, size: Vector) -> None:
    low, high = upright_box((1.0, 2.0, 3.0), (11.0, 22.0, 33.0), up)
    assert np.subtract(high, low) == pytest.approx(size)


@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda up: np.linalg.norm(up) > 0.1))
def test_height_is_the_distance_along_up_whatever_the_axis(up: Vector) -> None:
    unit = np.asarray(up) / np.linalg.norm(up)
    frame = plan_frame((float(unit[0]), float(unit[1]), float(unit[2])))
    assert np.allclose(frame @ frame.T, np.eye(3))
    assert upright_point((3.0, -4.0, 5.0), up)[2] == pytest.approx(float(unit @ (3.0, -4.0, 5.0)))
