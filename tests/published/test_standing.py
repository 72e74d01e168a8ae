"""Tipping, wind and transport."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from assembler.catalogue import tables
from assembler.engineering.bonding import volume_ml
from assembler.engineering.bondstress import bond_stress
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.standing import Push, tip_angle_deg, tip_safety, wind_push
from assembler.figure.joints import Method
from tests.engineering.specimens import glue, joint


def test_tip_angle() -> None:
    # C, any statics text: 0.3 m to the edge at 1.0 m height tips at atan(0.3) = 16.70 degrees.
    feet = np.array([[-400.0, -300.0, 0.0], [400.0, -300.0, 0.0], [400.0, 300.0, 0.0], [-400.0, 300.0, 0.0]])
    assert tip_angle_deg(feet, (0.0, 0.0, 1000.0), (0.0, 0.0, 1.0)) == pytest.approx(16.70, abs=0.005)


def test_wind_pressure() -> None:
    # C: 0.5 x 1.225 x 50^2 = 1531.25 Pa; ASCE 7 (from memory) prints 0.613 V^2 = 1532.5 Pa, 0.1 % more.
    push = wind_push(1e6, 1000.0, 50.0, drag=1.0)
    assert push.force_n == pytest.approx(1531.25)
    assert push.force_n == pytest.approx(1532.5, rel=0.001)


def test_pushed_crate() -> None:
    # V2 inputs: web copy of Hibbeler, Statics, example 8.1; C: 20 kg crate, 0.8 m wide, pushed with 80 N at 0.2 m
    # height, 30 degrees downwards, friction 0.3. Printed (from memory): N = 236 N, F = 69.3 N, x = -9.08 mm; it stays
    # at rest.
    across_n, down_n, weight_n = 80.0 * math.cos(math.pi / 6), 80.0 * math.sin(math.pi / 6), 20.0 * 9.81
    normal_n = weight_n + down_n
    assert normal_n == pytest.approx(236.2, abs=0.05)
    assert across_n == pytest.approx(69.28, abs=0.005)
    # All that presses down, at its own centre, in the units of the function: the push bears on the near side.
    centre_mm = -400.0 * down_n / normal_n
    feet = np.array([[-400.0, -400.0], [400.0, -400.0], [400.0, 400.0], [-400.0, 400.0]])
    push = Push(force_n=across_n, height_mm=200.0)
    safety = tip_safety(normal_n / GRAVITY_M_S2, (centre_mm, 0.0), feet, push, (1.0, 0.0))
    # The ground presses back where the moments meet: x from the middle, the edge being 400 mm away.
    pressed_mm = 400.0 - (400.0 - centre_mm) * (1.0 - 1.0 / safety)
    assert pressed_mm == pytest.approx(-9.08, abs=0.01)
    assert safety > 1.0
    assert 0.3 * normal_n / across_n == pytest.approx(70.86 / 69.28, abs=1e-3)


def test_road_accelerations_of_en_12195_1() -> None:
    # V2: an insurers' transport guide and a packing-code training page.
    printed = {"forward": 0.8, "rear": 0.5, "side": 0.5, "side where it may tip": 0.6, "down": 1.0}
    assert {row.direction: row.acceleration_g for row in tables.transport_accelerations()} == printed


def test_adhesive_volume_of_a_flange_ring() -> None:
    # C: ring 200/170 mm, 8718 mm2, 0.3 mm, 25 % waste: 3.27 ml.
    area = math.pi / 4 * (200.0**2 - 170.0**2)
    assert area == pytest.approx(8718, abs=0.5)
    assert volume_ml(area, 0.3, 0.25) == pytest.approx(3.27, abs=0.005)


def test_average_shear_of_a_lap() -> None:
    # C, from a lap made for the purpose: 1000 N over 25 x 12.5 mm is 3.2 MPa on average. The same source gives peaks of
    # 24 MPa at the ends of a stiff lap: the average is no strength check of an edge, hence the factor that is asked.
    bond = joint(method=Method.BONDED)
    area_mm2 = 25.0 * 12.5
    stress, _ = bond_stress(replace(bond, bond_area_mm2=area_mm2, seam_mm=0.0), 1000.0 / GRAVITY_M_S2, glue())
    assert stress.average_mpa == pytest.approx(3.2)


@pytest.mark.parametrize(
    ("measure", "small_mm", "large_mm"),
    # V: NUREG-0700 Rev. 3, table 11.4, in cm.
    [
        ("shoulder height", 1230, 1553),
        ("elbow height", 975, 1160),
        ("functional reach", 677, 886),
        ("extended functional reach", 735, 942),
    ],
)
def test_body_measures(measure: str, small_mm: float, large_mm: float) -> None:
    row = tables.body_measure(measure)
    assert (row.small_mm, row.large_mm) == (small_mm, large_mm)
