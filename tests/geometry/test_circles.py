"""The frame across an axis."""

from __future__ import annotations

import numpy as np
import pytest

from assembler.geometry.circles import axis_frame


@pytest.mark.parametrize("seed", range(20))
def test_frame_is_orthonormal_right_handed_and_ends_with_the_axis(seed: int) -> None:
    axis = np.random.default_rng(seed).normal(size=3)
    axis /= np.linalg.norm(axis)
    frame = axis_frame(axis)
    assert np.array_equal(frame[2], axis)
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-14)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert abs(frame[0][np.argmin(np.abs(axis))]) < 1e-15


def test_coordinate_axes_have_frames_too() -> None:
    for axis in (*np.eye(3), *-np.eye(3)):
        assert np.linalg.det(axis_frame(axis)) == pytest.approx(1.0)
