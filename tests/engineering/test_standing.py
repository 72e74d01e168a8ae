"""Tipping, pushes, bolt groups, anchors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.standing import (
    Push,
    anchor_demand,
    elastic_bolt_group,
    support_polygon,
    tip_angle_deg,
    tip_safety,
    wind_push,
)

UP = (0.0, 0.0, 1.0)
SQUARE = np.array([[-300.0, -300.0], [300.0, -300.0], [300.0, 300.0], [-300.0, 300.0]])


def test_a_square_tips_over_its_nearest_edge() -> None:
    assert tip_angle_deg(SQUARE, (0.0, 0.0, 1000.0), UP) == pytest.approx(math.degrees(math.atan(0.3)))
    assert tip_angle_deg(SQUARE, (200.0, 0.0, 1000.0), UP) == pytest.approx(math.degrees(math.atan(0.1)))
    assert tip_angle_deg(SQUARE, (400.0, 0.0, 1000.0), UP) == pytest.approx(-math.degrees(math.atan(0.1)))


def test_points_inside_change_nothing() -> None:
    more = np.vstack((SQUARE, [[0.0, 0.0], [300.0, 0.0], [10.0, -20.0]]))
    assert tip_angle_deg(more, (0.0, 0.0, 1000.0), UP) == tip_angle_deg(SQUARE, (0.0, 0.0, 1000.0), UP)
    assert len(support_polygon(more)) == 4


@given(st.floats(-math.pi, math.pi), st.floats(-math.pi, math.pi))
def test_turning_everything_changes_nothing(first: float, second: float) -> None:
    spin = np.array([[math.cos(first), -math.sin(first), 0], [math.sin(first), math.cos(first), 0], [0, 0, 1.0]])
    tilt = np.array([[1.0, 0, 0], [0, math.cos(second), -math.sin(second)], [0, math.sin(second), math.cos(second)]])
    turn = tilt @ spin
    points = np.column_stack((SQUARE, np.zeros(4))) @ turn.T
    centre = tuple(turn @ np.array((120.0, -40.0, 800.0)))
    expected = tip_angle_deg(SQUARE, (120.0, -40.0, 800.0), UP)
    assert tip_angle_deg(points, centre, tuple(turn @ np.array(UP))) == pytest.approx(expected, abs=1e-6)


@given(
    arrays(np.float64, (7, 2), elements=st.floats(-500.0, 500.0)), st.floats(-600.0, 600.0), st.floats(-600.0, 600.0)
)
def test_inside_and_outside_agree_with_a_brute_force(points: np.ndarray, x: float, y: float) -> None:
    # Oracle: a point is outside a set of points when some direction has them all on one side of it.
    angles = np.linspace(0.0, 2.0 * math.pi, 3600, endpoint=False)
    directions = np.column_stack((np.cos(angles), np.sin(angles)))
    inside_mm = float(((points @ directions.T).max(axis=0) - directions @ np.array((x, y))).min())
    angle = tip_angle_deg(points, (x, y, 100.0), UP)
    # The directions are 0.1 degrees apart, so the oracle is good to 1000 mm x 0.0009.
    if inside_mm > 1.0:
        assert angle > 0
        assert 100.0 * math.tan(math.radians(angle)) == pytest.approx(inside_mm, abs=1.0)
    elif inside_mm < -1.0:
        assert angle < 0
        assert 100.0 * math.tan(math.radians(angle)) == pytest.approx(inside_mm, abs=1.0)


def test_degenerate_supports() -> None:
    line = np.array([[0.0, 0.0], [100.0, 0.0], [50.0, 0.0]])
    assert tip_angle_deg(line, (50.0, 0.0, 100.0), UP) == pytest.approx(0.0)
    assert tip_angle_deg(line, (50.0, 100.0, 100.0), UP) == pytest.approx(-45.0)
    point = np.array([[10.0, 10.0]])
    assert tip_angle_deg(point, (10.0, 10.0, 100.0), UP) == pytest.approx(0.0)
    assert tip_angle_deg(SQUARE, (0.0, 0.0, -5.0), UP) == 90.0
    assert tip_angle_deg(SQUARE, (900.0, 0.0, 0.0), UP) == -90.0
    with pytest.raises(ValueError, match="without support"):
        tip_angle_deg(np.empty((0, 2)), (0.0, 0.0, 1.0), UP)


@given(
    arrays(np.float64, (5, 2), elements=st.floats(-300.0, 300.0).map(lambda x: round(x, 1)), unique=True),
    st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
    st.tuples(st.floats(-500.0, 500.0), st.floats(-500.0, 500.0)),
)
def test_bolt_groups_are_in_equilibrium(bolts: np.ndarray, load: tuple[float, float], at: tuple[float, float]) -> None:
    forces = elastic_bolt_group(bolts, load, at)
    np.testing.assert_allclose(forces.sum(axis=0), load, atol=1e-6)
    moment = (bolts[:, 0] * forces[:, 1] - bolts[:, 1] * forces[:, 0]).sum()
    assert moment == pytest.approx(at[0] * load[1] - at[1] * load[0], rel=1e-6, abs=1e-2)


def test_one_bolt_carries_no_moment() -> None:
    np.testing.assert_allclose(elastic_bolt_group(np.zeros((1, 2)), (5.0, 0.0), (9.0, 0.0)), [[5.0, 0.0]])
    with pytest.raises(ValueError, match="no moment"):
        elastic_bolt_group(np.zeros((1, 2)), (0.0, 5.0), (9.0, 0.0))
    with pytest.raises(ValueError, match="without bolts"):
        elastic_bolt_group(np.empty((0, 2)), (0.0, 5.0), (9.0, 0.0))


@given(st.floats(1.0, 60.0), st.floats(1e3, 1e7))
def test_wind_goes_with_the_square_of_the_speed_and_the_area(speed: float, area: float) -> None:
    push = wind_push(area, 1000.0, speed)
    assert wind_push(area, 1000.0, 2 * speed).force_n == pytest.approx(4 * push.force_n)
    assert wind_push(2 * area, 1000.0, speed).force_n == pytest.approx(2 * push.force_n)
    assert push.moment_nm == pytest.approx(push.force_n)


def test_tip_safety() -> None:
    # 100 kg, 0.3 m to the edge: 294.2 N m against 200 N at 1 m.
    push = Push(force_n=200.0, height_mm=1000.0)
    feet = np.array([[-300.0, -500.0], [300.0, -500.0], [300.0, 500.0], [-300.0, 500.0]])
    middle = (0.0, 0.0)
    assert tip_safety(100.0, middle, feet, push, (1.0, 0.0)) == pytest.approx(100 * GRAVITY_M_S2 * 0.3 / 200.0)
    # Over a corner the short side still gives way first: its edge takes the part of the push across it.
    skew = (math.sqrt(0.5), math.sqrt(0.5))
    assert tip_safety(100.0, middle, feet, push, skew) == pytest.approx(
        100 * GRAVITY_M_S2 * 0.3 / (200.0 * math.sqrt(0.5))
    )
    assert tip_safety(100.0, middle, feet, Push(force_n=0.0, height_mm=0.0), (1.0, 0.0)) == math.inf
    assert tip_safety(100.0, (400.0, 0.0), feet, push, (1.0, 0.0)) < 0.0
    assert tip_safety(100.0, middle, feet[:2], push, (1.0, 0.0)) == 0.0


def test_anchors() -> None:
    anchors = np.array([[-200.0, -200.0], [200.0, -200.0], [200.0, 200.0], [-200.0, 200.0]])
    push = Push(force_n=1000.0, height_mm=1000.0)
    light = anchor_demand(anchors, 0.0, (0.0, 0.0), push, (1.0, 0.0))
    # 1000 N m over two pairs 0.4 m apart: 1000 / (2 x 0.4) = 1250 N each.
    assert light.tension_n == pytest.approx(1250.0)
    assert light.shear_n == pytest.approx(250.0)
    heavy = anchor_demand(anchors, 100.0, (0.0, 0.0), push, (1.0, 0.0))
    assert heavy.tension_n == pytest.approx(1250.0 - 100.0 * GRAVITY_M_S2 / 4)
    assert anchor_demand(anchors, 5000.0, (0.0, 0.0), push, (1.0, 0.0)).tension_n == 0.0
    with pytest.raises(ValueError, match="no anchors"):
        anchor_demand(np.empty((0, 2)), 1.0, (0.0, 0.0), push, (1.0, 0.0))
