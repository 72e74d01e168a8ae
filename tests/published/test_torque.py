"""Torque and preload."""

from __future__ import annotations

import math

import pytest

from assembler.catalogue import tables
from assembler.engineering.tightening import BearingFace, tighten

STRONG = BearingFace(material="steel", bearing_mpa=1000.0, outer_mm=40.0, hole_mm=9.0, under="washer")


@pytest.mark.parametrize(
    ("size", "force_n", "torque_nm"), [("M6", 8700.0, 10.44), ("M8", 15900.0, 25.44), ("M10", 25275.0, 50.55)]
)
def test_torque_formula(size: str, force_n: float, torque_nm: float) -> None:
    # C from V2: 0.75 x proof load of ISO 898-1, K = 0.2 (open code citing Machinery's Handbook).
    found = tighten(tables.thread(size), tables.strength("8.8", size), [STRONG], 0.2)
    assert found.force_n == pytest.approx(force_n, rel=1e-9)
    assert found.exact_nm == pytest.approx(torque_nm, rel=1e-9)
    assert found.rule == "proof load 8.8"


def test_bearing_areas_under_washers() -> None:
    # C from V2 dimensions: 80.9 mm2 under ISO 7089 M6 and 222.3 mm2 under ISO 7093-1 M6.
    for standard, area in (("ISO 7089", 80.9), ("ISO 7093-1", 222.3)):
        washer = tables.washer(standard, "M6")
        face = BearingFace(
            material="", bearing_mpa=1.0, outer_mm=washer.outer_mm, hole_mm=washer.inner_mm, under="washer"
        )
        assert face.area_mm2 == pytest.approx(area, abs=0.05)


def test_handbook_torque_example_from_memory() -> None:
    # M: Shigley ch. 8, 3/4 in bolt, 25 000 lbf, K 0.2: 3750 lbf in, which is 423.7 N m. Weaker than a published check.
    pound_force_n, inch_m = 4.4482216, 0.0254
    assert 0.2 * 25000 * pound_force_n * 0.75 * inch_m == pytest.approx(423.7, abs=0.05)
    assert math.isclose(0.2 * 25000 * 0.75, 3750.0)


@pytest.mark.parametrize(("size", "force_n", "torque_nm"), [("M10", 25000.0, 50.0), ("M12", 34226.0, 82.0)])
def test_worked_examples_of_two_engineering_pages(size: str, force_n: float, torque_nm: float) -> None:
    # V2: M10 8.8, K 0.2, 25 kN: 50 N m; M12 8.8, K 0.2, 70 % of 580 MPa x 84.3 mm2: 'about 82 N m, about 34 kN'.
    face = BearingFace(
        material="limit", bearing_mpa=1.0, outer_mm=math.sqrt(force_n * 4 / math.pi), hole_mm=0.0, under="washer"
    )
    found = tighten(tables.thread(size), tables.strength("8.8", size), [face], 0.2)
    assert found.force_n == pytest.approx(force_n)
    assert found.exact_nm == pytest.approx(torque_nm, abs=0.2)
    assert found.rule == "washer pressure on limit"
