"""The bolts into the base, by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.engineering.basejoint import BaseJoint, base_joint, base_joint_findings
from assembler.engineering.fastening import stacks_for_joints
from assembler.figure.exposure import ExposureRow
from assembler.figure.findings import Level
from assembler.figure.joints import Method
from assembler.figure.settings import Base, Material
from tests.engineering.specimens import PARTS, PLASTIC, bolt, joint, settings
from tests.engineering.test_handling import _part

BASE, FIGURE = PARTS
TIMBER = Material(name="timber", density_kg_m3=500.0, bearing_mpa=3.0)
PERSON = ExposureRow(wind_m_s=0.0, force_n=500.0, moment_nm=750.0, tip_safety=1.0, slide_safety=1.0)
STILL = replace(PERSON, force_n=5.0, moment_nm=7.5)
CORNERS = [(x, y, 100.0) for x in (-200.0, 200.0) for y in (-200.0, 200.0)]
FOOT = joint(
    [bolt(f"J01.{at}", at_mm=at_mm, hole_mm=11.0) for at, at_mm in enumerate(CORNERS, 1)], method=Method.BOLTED
)
FOOT_BODY = _part(BASE, 40.0, (0.0, 0.0, 50.0))
BODIES = (
    replace(FOOT_BODY, fingerprint=replace(FOOT_BODY.fingerprint, low_mm=(-300.0, -300.0, 0.0))),
    _part(FIGURE, 25.0, (0.0, 0.0, 800.0)),
)


def asked(push: ExposureRow, base: Material = TIMBER) -> BaseJoint:
    shop = settings(base=Base(part=BASE), materials={"plastic": PLASTIC, "timber": TIMBER})
    materials = {BASE: base, FIGURE: PLASTIC}
    stacks, _ = stacks_for_joints([FOOT], shop, materials)
    found = base_joint([FOOT], stacks, BODIES, [push], shop, materials)
    assert found is not None
    return found


def test_a_person_at_shoulder_height_against_four_bolts_by_hand() -> None:
    # 500 N at 1.5 m are 700 N m about the bolts, 0.1 m up. Across a corner the arms are 0.283, 0, 0 and -0.283 m: 700 x
    # 0.283 / 0.16 = 1237 N, less a quarter of 25 kg, 61 N: 1176 N. On a ring of 20 and 11 mm, 219 mm2, that is 5.4 MPa;
    # 3 x 2.5 x 0.9 / 1.3 = 5.2 MPa are allowed.
    found = asked(PERSON)
    assert found.tension_n == pytest.approx(1237.4 - 61.3, abs=0.5)
    assert found.pressure_mpa == pytest.approx(5.37, abs=0.01)
    assert found.allowed_mpa == pytest.approx(5.19, abs=0.01)
    (finding,) = base_joint_findings(found)
    assert finding.level is Level.WARN
    assert finding.about == (FOOT.id,)
    assert all(word in finding.remedy for word in ("ISO 7094", "plates", "T-nuts", "lock"))


def test_on_another_material_its_own_bearing_counts() -> None:
    assert asked(PERSON, PLASTIC).allowed_mpa == PLASTIC.bearing_mpa


def test_a_figure_that_nobody_can_move_asks_for_nothing() -> None:
    found = asked(STILL)
    assert found.tension_n == 0.0
    assert base_joint_findings(found) == ()
    assert base_joint_findings(None) == ()


def test_no_base_or_no_push_gives_nothing() -> None:
    assert base_joint([FOOT], [], BODIES, [PERSON], settings(), {}) is None
