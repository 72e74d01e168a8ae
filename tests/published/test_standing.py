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
from assembler.engineering.transport import transport_forces
from assembler.figure.joints import Method
from tests.engineering.specimens import glue, joint
from tests.published.reading import source


@source("statics")
def test_tip_angle() -> None:
    # C, any statics text: 0.3 m to the edge at 1.0 m height tips at atan(0.3) = 16.70 degrees.
    feet = np.array([[-400.0, -300.0, 0.0], [400.0, -300.0, 0.0], [400.0, 300.0, 0.0], [-400.0, 300.0, 0.0]])
    assert tip_angle_deg(feet, (0.0, 0.0, 1000.0), (0.0, 0.0, 1.0)) == pytest.approx(16.70, abs=0.005)


@source("air", "asce-7")
def test_wind_pressure() -> None:
    # C: 0.5 x 1.225 x 50^2 = 1531.25 Pa; ASCE 7 (from memory) prints 0.613 V^2 = 1532.5 Pa, 0.1 % more.
    push = wind_push(1e6, 1000.0, 50.0, drag=1.0)
    assert push.force_n == pytest.approx(1531.25)
    assert push.force_n == pytest.approx(1532.5, rel=0.001)


@source("hibbeler")
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


@source("en-12195-1", "ctu-friction")
def test_road_accelerations_of_en_12195_1() -> None:
    # V2: an insurers' transport guide and a packing-code training page.
    printed = {"forward": 0.8, "rear": 0.5, "side": 0.5, "side where it may tip": 0.6, "down": 1.0}
    assert {row.direction: row.acceleration_g for row in tables.transport_accelerations()} == printed


@source("solids")
def test_adhesive_volume_of_a_flange_ring() -> None:
    # C: ring 200/170 mm, 8718 mm2, 0.3 mm, 25 % waste: 3.27 ml.
    area = math.pi / 4 * (200.0**2 - 170.0**2)
    assert area == pytest.approx(8718, abs=0.5)
    assert volume_ml(area, 0.3, 0.25) == pytest.approx(3.27, abs=0.005)


@source("strength")
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
@source("reach")
def test_body_measures(measure: str, small_mm: float, large_mm: float) -> None:
    row = tables.body_measure(measure)
    assert (row.small_mm, row.large_mm) == (small_mm, large_mm)


@source("statics")
def test_the_edge_that_gives_way_first_rules() -> None:
    # C, on paper: 100 kg on feet -300..500 by -400..400 mm, centre of mass in 0, 0. A push of 200 N at 1 m along -x
    # turns over the edge at 300 mm: 980.665 x 0.3 / 200 = 1.471; along +x over 500 mm: 2.452. Along the diagonal
    # (-1, -1) both edges face the push with cos 45: 1.471 / 0.7071 = 2.080 and 980.665 x 0.4 / 141.4 = 2.774.
    feet = np.array([[-300.0, -400.0], [500.0, -400.0], [500.0, 400.0], [-300.0, 400.0]])
    push = Push(force_n=200.0, height_mm=1000.0)
    half = math.sqrt(0.5)
    expected = {(-1.0, 0.0): 1.4710, (1.0, 0.0): 2.4517, (-half, -half): 2.0803}
    for toward, safety in expected.items():
        assert tip_safety(100.0, (0.0, 0.0), feet, push, toward) == pytest.approx(safety, abs=0.0002)


@source("en-12195-1")
def test_forces_on_the_road_in_newtons() -> None:
    # C from V2: 75.5 kg braking at 0.8 g: 75.5 x 0.8 x 9.80665 = 592.3 N; 0.6 g sideways 444.2 N; 0.5 g to the rear.
    forces = {row.direction: row.force_n for row in transport_forces(75.5)}
    assert forces["forward"] == pytest.approx(592.3, abs=0.05)
    assert forces["side where it may tip"] == pytest.approx(444.2, abs=0.05)
    assert forces["rear"] == pytest.approx(370.2, abs=0.05)


@source("solids")
def test_waste_goes_on_top_of_the_dose() -> None:
    # Definition: 40 000 mm2 x 0.3 mm = 12 ml, and 30 % more is 15.6 ml.
    assert volume_ml(40000.0, 0.3, 0.3) == pytest.approx(15.6)
