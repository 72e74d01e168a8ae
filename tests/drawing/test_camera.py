"""The projection against plain vector algebra."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.drawing.camera import Camera, direction, framed, view_axes

ANGLES = st.floats(-180.0, 180.0)
ELEVATIONS = st.floats(-80.0, 80.0)


@given(ANGLES, ELEVATIONS)
def test_axes_are_right_handed_and_up_stays_up(azimuth, elevation):
    axes = view_axes(direction(azimuth, elevation, (0.0, 0.0, 1.0)), (0.0, 0.0, 1.0))
    assert np.allclose(axes @ axes.T, np.eye(3))
    assert np.linalg.det(axes) == pytest.approx(1.0)
    assert axes[1] @ [0.0, 0.0, 1.0] > 0.0
    assert axes[0] @ [0.0, 0.0, 1.0] == pytest.approx(0.0, abs=1e-12)


def test_front_is_seen_from_minus_y_and_azimuth_turns_to_plus_x():
    assert np.allclose(direction(0.0, 0.0, (0.0, 0.0, 1.0)), [0.0, -1.0, 0.0])
    assert np.allclose(direction(90.0, 0.0, (0.0, 0.0, 1.0)), [1.0, 0.0, 0.0])
    assert np.allclose(direction(10.0, 90.0, (0.0, 0.0, 1.0)), [0.0, 0.0, 1.0])


@given(ANGLES, ELEVATIONS, st.integers(0, 10_000))
def test_framed_points_are_inside_the_margins_and_touch_one(azimuth, elevation, seed):
    points = np.random.default_rng(seed).uniform(-500.0, 900.0, (30, 3))
    camera = framed(
        points, direction(azimuth, elevation, (0.0, 0.0, 1.0)), (0.0, 0.0, 1.0), 400, 300, margin=(0.1, 0.2)
    )
    where = camera.project(points)
    assert where[:, 0].min() >= 40.0 - 1e-6
    assert where[:, 0].max() <= 360.0 + 1e-6
    assert where[:, 1].min() >= 60.0 - 1e-6
    assert where[:, 1].max() <= 240.0 + 1e-6
    assert np.ptp(where[:, 0]) == pytest.approx(320.0) or np.ptp(where[:, 1]) == pytest.approx(180.0)


def test_projection_keeps_lengths_square_on():
    camera = Camera(
        eye=(0.0, -1.0, 0.0),
        up=(0.0, 0.0, 1.0),
        centre_mm=(10.0, 0.0, 20.0),
        mm_per_px=0.5,
        width_px=200,
        height_px=100,
    )
    where = camera.project(np.array([[10.0, 0.0, 20.0], [20.0, -7.0, 25.0]]))
    assert np.allclose(where, [[100.0, 50.0, 0.0], [120.0, 40.0, 7.0]])


def test_resized_camera_shows_at_least_as_much():
    camera = framed(np.array([[0.0, 0.0, 0.0], [100.0, 0.0, 50.0]]), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), 400, 300)
    small = camera.resized(100, 50)
    assert small.mm_per_px * 100 >= camera.mm_per_px * 400 - 1e-9
    assert small.mm_per_px * 50 >= camera.mm_per_px * 300 - 1e-9
