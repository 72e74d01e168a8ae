"""Joints past their hold, and what stands on them before they are cured."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.bondstress import bond_stress, cured_strength, handling_strength
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.handling import handling_findings
from assembler.figure.findings import Level
from assembler.figure.ids import BenchId, JointId, PartId, SectionId, StepNumber
from assembler.figure.joints import Joint, Method, Place
from assembler.figure.parts import Fingerprint, Part
from assembler.figure.plan import Step, StepKind
from tests.engineering.specimens import glue, joint, settings

BASE, ARM, HAND = PartId("P01"), PartId("P02"), PartId("P03")


def _part(name: PartId, mass_kg: float, centre_mm: tuple[float, float, float]) -> Part:
    x, y, z = centre_mm
    return Part(
        id=name,
        file=f"{name}.stl",
        material="plastic",
        triangles=12,
        is_watertight=True,
        is_printed=True,
        mass_kg=mass_kg,
        volume_mm3=1e6,
        area_mm2=1e5,
        centre_mm=centre_mm,
        fingerprint=Fingerprint(
            volume_mm3=1e6,
            area_mm2=1e5,
            centre_mm=(0.0, 0.0, 0.0),
            inertia_mm5=(1.0, 1.0, 1.0),
            skew_mm6=0.0,
            low_mm=(x - 50.0, y - 50.0, z - 50.0),
            high_mm=(x + 50.0, y + 50.0, z + 50.0),
        ),
    )


def _bonded(name: str, pair: tuple[PartId, PartId], at_mm: tuple[float, float, float]) -> Joint:
    # A closed ring of 100 cm2 about a girth of 600 mm, upright: the arm sticks out along x.
    return joint(
        id=JointId(name),
        parts=pair,
        method=Method.BONDED,
        bond_area_mm2=10000.0,
        seam_mm=600.0,
        normal=(1.0, 0.0, 0.0),
        centre_mm=at_mm,
    )


PARTS = (
    _part(BASE, 30.0, (0.0, 0.0, 50.0)),
    _part(ARM, 2.0, (200.0, 0.0, 500.0)),
    _part(HAND, 6.0, (400.0, 0.0, 500.0)),
)
JOINTS = (_bonded("J01", (BASE, ARM), (100.0, 0.0, 500.0)), _bonded("J02", (ARM, HAND), (300.0, 0.0, 500.0)))


def _step(number: str, moves: PartId, onto: tuple[PartId, ...], name: str, start_min: float) -> Step:
    return Step(
        number=StepNumber(number),
        title="",
        kind=StepKind.JOIN,
        place=Place.SHOP,
        bench=BenchId("B1"),
        section=SectionId("S1"),
        moves=(moves,),
        onto=onto,
        joints=(JointId(name),),
        minutes=10.0,
        start_min=start_min,
        end_min=start_min + 10.0,
    )


def _findings(second_start_min: float, **changes: object) -> tuple[object, ...]:
    shop = settings(adhesive=glue(**changes))
    bondings, _ = bonding_for_joints(JOINTS, shop)
    steps = (_step("1", ARM, (BASE,), "J01", 0.0), _step("2", HAND, (BASE, ARM), "J02", second_start_min))
    return handling_findings(steps, JOINTS, PARTS, bondings, shop)


def test_a_joint_just_past_its_hold_is_held_against_handling_strength() -> None:
    # Step 2 hangs 6 kg more on J01: 8 kg, their centre at (2 x 200 + 6 x 400) / 8 = 350 mm, 250 mm from the joint.
    # M = 8 x 9.80665 x 0.25 = 19.6 N m; peel 2 M / (A r), r = 600 / 2 pi = 95.5 mm: 0.0411 MPa. Handling strength
    # 0.2 MPa, a quarter of it against peel: 0.05 MPa, 1.2 times; 4 is asked.
    (finding,) = _findings(800.0, strength_mpa=4.0, handling_mpa=0.2)
    assert (finding.code, finding.level, finding.about) == ("loaded-before-cure", Level.WARN, ("J01",))
    assert finding.message.startswith("step 2: 8.0 kg at 1 g put 0.041 MPa of peel on the bond after its hold")
    assert "0.05 MPa is 1.2 times that, 4 is asked" in finding.message


def test_a_stronger_joint_or_a_cured_one_is_not_found() -> None:
    assert _findings(800.0, handling_mpa=1.0) == ()
    # Two days of 9 h at 20 C and 15 h at 16 C do 851 of 7200 min each: 8.46 days and a little more.
    assert _findings(12100.0) != ()
    assert _findings(12400.0) == ()


def test_the_fresh_joint_itself_is_not_judged_by_the_step_that_closes_it() -> None:
    shop = settings()
    bondings, _ = bonding_for_joints(JOINTS, shop)
    assert handling_findings((_step("1", ARM, (BASE,), "J01", 0.0),), JOINTS, PARTS, bondings, shop) == ()


def test_a_trial_fitting_closes_nothing() -> None:
    shop = settings()
    bondings, _ = bonding_for_joints(JOINTS, shop)
    trial = replace(_step("1", ARM, (BASE,), "J01", 0.0), kind=StepKind.DRY_FIT)
    later = _step("2", HAND, (BASE, ARM), "J02", 800.0)
    assert handling_findings((trial, later), JOINTS, PARTS, bondings, shop) == ()


def test_peel_is_held_against_peel_strength() -> None:
    assert cured_strength(glue(strength_mpa=4.0)).peel_mpa == pytest.approx(1.0)
    assert cured_strength(glue(strength_mpa=4.0, peel_mpa=0.6)).peel_mpa == 0.6
    soft = handling_strength(glue(strength_mpa=4.0, peel_mpa=0.6, handling_mpa=0.4))
    assert (soft.shear_mpa, soft.peel_mpa) == (0.4, pytest.approx(0.06))
    assert handling_strength(glue(strength_mpa=0.0)).peel_mpa == pytest.approx(0.05)


def test_peel_decides_where_it_uses_more() -> None:
    # 20 kg 500 mm out: M = 98 N m, peel 2 x 98 / (0.01 m2 x 0.0955 m) = 0.205 MPa against 1.25 MPa: 6.1 times.
    # Shear 196 N / 10 000 mm2 = 0.0196 MPa against 5 MPa: 255 times.
    stress, findings = bond_stress(JOINTS[0], 20.0, glue(strength_mpa=5.0), lever_mm=500.0)
    assert stress.average_mpa == pytest.approx(20.0 * GRAVITY_M_S2 / 10000.0)
    assert stress.peel_mpa == pytest.approx(0.2054, abs=0.0002)
    assert stress.safety == pytest.approx(1.25 / 0.2054, rel=1e-3)
    assert stress.utilisation == pytest.approx(4.0 * 0.2054 / 1.25, rel=1e-3)
    assert findings == ()
    weaker, (finding,) = bond_stress(JOINTS[0], 20.0, glue(strength_mpa=5.0, peel_mpa=0.5), lever_mm=500.0)
    assert weaker.safety == pytest.approx(0.5 / 0.2054, rel=1e-3)
    assert "MPa of peel on the bond cured" in finding.message
