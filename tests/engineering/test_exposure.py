"""Transport, wind and pushes."""

from __future__ import annotations

import math

import pytest

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.exposure import PERSON_PUSH_N, exposure_rows
from assembler.engineering.transport import is_stable_in_transport, transport_forces


def test_forces_scale_with_the_mass() -> None:
    light, heavy = transport_forces(10.0), transport_forces(20.0)
    for one, two in zip(light, heavy, strict=True):
        assert two.force_n == pytest.approx(2 * one.force_n)
        assert one.force_n == pytest.approx(10.0 * one.acceleration_g * GRAVITY_M_S2)


@pytest.mark.parametrize(
    ("length_mm", "width_mm", "is_stable"),
    # Centre of mass 1000 mm up: 1600 mm long stands forward (0.8), 1200 mm wide stands sideways (0.6).
    [(1601.0, 1201.0, True), (1599.0, 1201.0, False), (1601.0, 1199.0, False)],
)
def test_crates_that_tip(length_mm: float, width_mm: float, is_stable: bool) -> None:
    assert is_stable_in_transport(length_mm, width_mm, 1000.0) is is_stable


def test_exposure_of_a_figure() -> None:
    rows = exposure_rows(mass_kg=80.0, edge_mm=350.0, area_mm2=0.9e6, centre_height_mm=1000.0, height_mm=2100.0)
    winds = rows[:-1]
    assert [row.safety for row in winds] == sorted((row.safety for row in winds), reverse=True)
    # 0.5 x 1.225 x 20^2 x 1.2 x 0.9 m2 = 264.6 N at 1 m; 80 kg x 0.35 m hold 274.6 N m.
    twenty = winds[1]
    assert twenty.cause == "wind of 20 m/s"
    assert twenty.force_n == pytest.approx(264.6)
    assert twenty.safety == pytest.approx(80 * GRAVITY_M_S2 * 0.35 / 264.6)
    assert twenty.needs_anchors
    # A person pushes at the shoulder height of a tall man, 1553 mm.
    assert rows[-1].moment_nm == pytest.approx(PERSON_PUSH_N * 1.553)


def test_a_low_figure_is_pushed_at_its_top() -> None:
    rows = exposure_rows(mass_kg=80.0, edge_mm=350.0, area_mm2=0.0, centre_height_mm=300.0, height_mm=600.0)
    assert rows[-1].moment_nm == pytest.approx(PERSON_PUSH_N * 0.6)
    assert rows[0].safety == math.inf
    assert not rows[0].needs_anchors
