"""Transport, wind and pushes."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.exposure import (
    FRICTION,
    PERSON_PUSH_N,
    Standing,
    exposure_findings,
    exposure_rows,
    on_base,
)
from assembler.engineering.standing import tip_angle_deg
from assembler.engineering.transport import stands_in_transport, tips_at_g, transport_forces
from assembler.figure.exposure import Silhouette
from assembler.figure.findings import Level
from assembler.figure.settings import Base


def test_forces_scale_with_the_mass() -> None:
    light, heavy = transport_forces(10.0), transport_forces(20.0)
    for one, two in zip(light, heavy, strict=True):
        assert two.force_n == pytest.approx(2 * one.force_n)
        assert one.force_n == pytest.approx(10.0 * one.acceleration_g * GRAVITY_M_S2)


@pytest.mark.parametrize(
    ("length_mm", "width_mm", "is_stable"),
    # Centre of mass 1000 mm up. Nobody knows which way it is loaded: both edges have to stand braking (0.8).
    [(1601.0, 1601.0, True), (1599.0, 1601.0, False), (1601.0, 1599.0, False)],
)
def test_boxes_that_tip(length_mm: float, width_mm: float, is_stable: bool) -> None:
    half = np.array([length_mm, width_mm]) / 2.0
    feet = half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    assert stands_in_transport(tip_angle_deg(feet, (0.0, 0.0, 1000.0), (0.0, 0.0, 1.0))) is is_stable


def test_what_falls_already_tips_at_nothing() -> None:
    assert tips_at_g(-20.0) == 0.0
    assert tips_at_g(0.0) == 0.0
    assert tips_at_g(90.0) > 50.0


SQUARE = np.array([[-350.0, -350.0], [350.0, -350.0], [350.0, 350.0], [-350.0, 350.0]])
ANCHORS = np.array([[-300.0, -300.0], [300.0, -300.0], [300.0, 300.0], [-300.0, 300.0]])


def _sides(area_mm2: float, height_mm: float, count: int = 8) -> tuple[Silhouette, ...]:
    angles = [math.pi * k / count for k in range(count)]
    return tuple(
        Silhouette(toward=(math.cos(a), math.sin(a)), area_mm2=area_mm2, centre_height_mm=height_mm) for a in angles
    )


def _figure(**changes: Any) -> Standing:
    values: dict[str, Any] = {
        "mass_kg": 80.0,
        "centre_mm": (0.0, 0.0),
        "feet_mm": SQUARE,
        "height_mm": 2100.0,
        "sides": _sides(0.9e6, 1000.0),
    }
    return Standing(**(values | changes))


def test_exposure_of_a_figure() -> None:
    rows = exposure_rows(_figure())
    winds = rows[:-1]
    assert [row.tip_safety for row in winds] == sorted((row.tip_safety for row in winds), reverse=True)
    # 0.5 x 1.225 x 20^2 x 1.2 x 0.9 m2 = 264.6 N at 1 m; 80 kg x 0.35 m hold 274.6 N m.
    twenty = winds[1]
    assert twenty.wind_m_s == 20.0
    assert twenty.force_n == pytest.approx(264.6)
    assert twenty.tip_safety == pytest.approx(80 * GRAVITY_M_S2 * 0.35 / 264.6)
    assert twenty.slide_safety == pytest.approx(FRICTION * 80 * GRAVITY_M_S2 / 264.6)
    assert twenty.safety == twenty.slide_safety
    # A person pushes at the shoulder height of a tall man, 1553 mm.
    assert rows[-1].wind_m_s == 0.0
    assert rows[-1].moment_nm == pytest.approx(PERSON_PUSH_N * 1.553)
    assert rows[-1].anchor_tension_n is None


def test_a_low_figure_is_pushed_at_its_top() -> None:
    rows = exposure_rows(_figure(height_mm=600.0, sides=_sides(0.0, 300.0)))
    assert rows[-1].moment_nm == pytest.approx(PERSON_PUSH_N * 0.6)
    assert rows[0].safety == math.inf


def test_a_centre_beside_the_middle_tips_to_its_own_side() -> None:
    # 150 mm off the middle leave 200 mm to that edge: whichever way the axis lies, that side counts.
    for centre in ((150.0, 0.0), (-150.0, 0.0), (0.0, 150.0), (0.0, -150.0)):
        rows = exposure_rows(_figure(centre_mm=centre))
        assert rows[1].tip_safety == pytest.approx(80 * GRAVITY_M_S2 * 0.2 / 264.6)


def test_what_anchors_hold() -> None:
    row = exposure_rows(_figure(mass_kg=0.001, sides=_sides(0.9e6, 1000.0, count=2)), ANCHORS)[1]
    # Along an axis 264.6 N m pull two anchors 0.6 m from the other two: 264.6 / (2 x 0.6).
    assert row.anchor_tension_n == pytest.approx(264.6 / 1.2, rel=1e-3)
    assert row.anchor_shear_n == pytest.approx(264.6 / 4)
    skew = exposure_rows(_figure(mass_kg=0.001), ANCHORS)[1]
    # Across the diagonal one anchor alone stands farthest out: sqrt(2) times as much.
    assert skew.anchor_tension_n == pytest.approx(264.6 / 1.2 * math.sqrt(2.0), rel=1e-3)


def test_a_base_without_a_mesh_widens_and_weighs() -> None:
    base = Base(size_mm=(1200.0, 1000.0, 200.0), mass_kg=120.0)
    whole = on_base(_figure(), base)
    assert whole.mass_kg == 200.0
    assert whole.height_mm == 2300.0
    assert np.ptp(whole.feet_mm, axis=0) == pytest.approx([1200.0, 1000.0])
    # Blown along x: 0.9 m2 at 1200 mm and 1000 x 200 mm of base at 100 mm.
    assert whole.sides[0].area_mm2 == pytest.approx(0.9e6 + 0.2e6)
    assert whole.sides[0].centre_height_mm == pytest.approx((0.9 * 1200.0 + 0.2 * 100.0) / 1.1)
    figure = _figure()
    assert on_base(figure, Base()) is figure
    assert exposure_rows(whole)[0].tip_safety > exposure_rows(_figure())[0].tip_safety


def test_only_a_figure_that_nothing_holds_is_warned_of() -> None:
    rows = exposure_rows(_figure())
    (finding,) = exposure_findings(rows, Base())
    assert finding.level is Level.WARN
    assert "one person" in str(finding.message)
    assert exposure_findings(rows, Base(anchors=4)) == ()
    assert exposure_findings(exposure_rows(_figure(mass_kg=4000.0)), Base()) == ()


@given(st.floats(1.0, 500.0), st.floats(1e4, 1e7))
def test_more_mass_is_safer_and_more_area_is_not(mass: float, area: float) -> None:
    low = exposure_rows(_figure(mass_kg=mass, sides=_sides(area, 900.0, count=3)))
    heavy = exposure_rows(_figure(mass_kg=2 * mass, sides=_sides(area, 900.0, count=3)))
    wide = exposure_rows(_figure(mass_kg=mass, sides=_sides(2 * area, 900.0, count=3)))
    for one, two, three in zip(low, heavy, wide, strict=True):
        assert two.tip_safety == pytest.approx(2 * one.tip_safety)
        assert three.tip_safety == pytest.approx(one.tip_safety / (2 if one.wind_m_s else 1))


def test_one_person_on_paper() -> None:
    # 75.5 kg on 700 x 700 mm, 2000 mm tall: 500 N at a tall man's shoulder, 1553 mm: 776.5 N m against
    # 75.5 x 9.80665 x 0.35 = 259.1 N m: 0.334; sliding 0.3 x 740.4 / 500 = 0.444. Public places ask 2.
    figure = Standing(mass_kg=75.5, centre_mm=(0.0, 0.0), feet_mm=SQUARE, height_mm=2000.0, sides=_sides(1e6, 1000.0))
    person = exposure_rows(figure)[-1]
    assert (person.wind_m_s, person.force_n) == (0.0, 500.0)
    assert person.moment_nm == pytest.approx(776.5)
    assert person.slide_safety == pytest.approx(0.4443, abs=0.0005)
    assert [row.wind_m_s for row in exposure_rows(figure)] == [15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 0.0]
    # A safety of 1.5 is not enough for a place where the public goes.
    heavy = replace(figure, mass_kg=75.5 * 4.6)
    (finding,) = exposure_findings(exposure_rows(heavy), Base())
    assert finding.code == "stands-loose"
