"""What hangs on a joint."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.bondsheet import bond_rows
from assembler.engineering.checks import figure_findings
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.loads import carried_loads, levers_mm, load_findings, moved_acceleration_g, moved_loads
from assembler.figure.ids import JointId, PartId
from assembler.figure.joints import Joint, Method, Place
from assembler.figure.parts import Fingerprint, Part
from assembler.figure.settings import Base
from tests.engineering.specimens import PLASTIC, glue, joint, ring, settings

PRINT = Fingerprint(
    volume_mm3=1.0,
    area_mm2=1.0,
    centre_mm=(0.0, 0.0, 0.0),
    inertia_mm5=(1.0, 1.0, 1.0),
    skew_mm6=0.0,
    low_mm=(0.0, 0.0, 0.0),
    high_mm=(1.0, 1.0, 1.0),
)


def _part(name: str, mass_kg: float, centre_mm: tuple[float, float, float]) -> Part:
    return Part(
        id=PartId(name),
        file=f"{name}.stl",
        material="plastic",
        is_printed=True,
        mass_kg=mass_kg,
        volume_mm3=1.0,
        area_mm2=1.0,
        centre_mm=centre_mm,
        triangles=12,
        is_watertight=True,
        fingerprint=PRINT,
    )


def _joint(name: str, one: str, other: str, **changes: Any) -> Joint:
    return joint(id=JointId(name), parts=(PartId(one), PartId(other)), method=Method.BONDED, **changes)


# A trunk ring of three parts, an arm of two parts on one of them.
PARTS = [
    _part("P01", 10.0, (0.0, 0.0, 100.0)),
    _part("P02", 8.0, (0.0, 0.0, 300.0)),
    _part("P03", 7.0, (0.0, 100.0, 200.0)),
    _part("P04", 2.0, (300.0, 0.0, 300.0)),
    _part("P05", 1.0, (600.0, 0.0, 300.0)),
]
ARM = _joint("J04", "P02", "P04", centre_mm=(200.0, 0.0, 300.0))
JOINTS = [
    _joint("J01", "P01", "P02"),
    _joint("J02", "P02", "P03"),
    _joint("J03", "P03", "P01"),
    ARM,
    _joint("J05", "P04", "P05", centre_mm=(450.0, 0.0, 300.0)),
]


def test_only_joints_that_separate_carry_alone() -> None:
    loads = carried_loads(JOINTS, PARTS, PartId("P01"))
    assert [(load.joint, load.parts, load.mass_kg) for load in loads] == [
        ("J04", ("P04", "P05"), 3.0),
        ("J05", ("P05",), 1.0),
    ]
    assert loads[0].centre_mm == pytest.approx((400.0, 0.0, 300.0))


def test_without_a_base_the_lighter_side_hangs() -> None:
    assert carried_loads(JOINTS, PARTS) == carried_loads(JOINTS, PARTS, PartId("P01"))


def test_with_the_base_at_the_other_end_the_heavy_side_hangs() -> None:
    loads = {load.joint: load for load in carried_loads(JOINTS, PARTS, PartId("P05"))}
    assert loads[JointId("J05")].mass_kg == 27.0


def test_levers() -> None:
    (load, _) = carried_loads(JOINTS, PARTS, PartId("P01"))
    assert levers_mm(ARM, load, (0.0, 0.0, 1.0)) == pytest.approx((200.0, 200.0))
    assert levers_mm(ARM, load, (1.0, 0.0, 0.0)) == pytest.approx((0.0, 200.0))


def test_a_weak_bond_under_an_arm_is_found() -> None:
    shop = settings(adhesive=glue(strength_mpa=0.001), base=Base(part=PartId("P01")))
    findings = load_findings(JOINTS, PARTS, (), shop)
    assert {finding.about for finding in findings} == {("J04",), ("J05",)}
    assert load_findings(JOINTS, PARTS, (), settings(base=Base(part=PartId("P01")))) == ()


def test_moving_is_harder_than_standing_and_only_for_shop_joints() -> None:
    # 1.28 g at 200 mm against 1 g at 0 mm, with the arm pointing straight up.
    assert moved_acceleration_g() == pytest.approx(math.sqrt(1.64))
    tower = replace(ARM, bond_area_mm2=2000.0, seam_mm=200.0)
    shop = settings(adhesive=glue(strength_mpa=0.9), base=Base(part=PartId("P01")), up=(1.0, 0.0, 0.0))
    joints = [*JOINTS[:3], tower, JOINTS[4]]
    (finding,) = load_findings(joints, PARTS, (), shop)
    assert "1.28" in str(finding.message)
    on_site = [*JOINTS[:3], replace(tower, made=Place.SITE), JOINTS[4]]
    assert load_findings(on_site, PARTS, (), shop) == ()


def test_on_the_road_a_joint_carries_only_what_its_section_hangs_on_it() -> None:
    # P05 is added on site: on the road the shoulder carries the arm alone.
    in_shop = [*JOINTS[:4], replace(JOINTS[4], made=Place.SITE)]
    (load,) = moved_loads(in_shop, PARTS)
    assert (load.joint, load.parts, load.mass_kg) == ("J04", ("P04",), 2.0)
    # A ring that a site joint closes is open on the road: what stands on two joints there hangs on one here.
    open_ring = [JOINTS[0], JOINTS[1], replace(JOINTS[2], made=Place.SITE)]
    assert carried_loads(open_ring, PARTS[:3]) == ()
    assert [one.joint for one in moved_loads(open_ring, PARTS[:3])] == ["J01", "J02"]


def test_bolts_without_glue_are_judged_for_slip_and_gap() -> None:
    dry = replace(ARM, method=Method.BOLTED, normal=(1.0, 0.0, 0.0), bolts=ring(4, 20.0))
    joints = [*JOINTS[:3], dry, JOINTS[4]]
    shop = settings(base=Base(part=PartId("P01")))
    stacks, _ = stacks_for_joints(joints, shop, {PartId(f"P0{n}"): PLASTIC for n in range(1, 6)})
    heavy = [*PARTS[:3], _part("P04", 200.0, (300.0, 0.0, 300.0)), PARTS[4]]
    (finding,) = load_findings(joints, heavy, stacks, settings(base=Base(part=PartId("P01"))))
    assert finding.code == "bolts-overloaded"
    assert "201.0 kg hang on the bolts of J04" in str(finding.message)


def test_the_sheet_says_what_hangs_on_the_joint() -> None:
    shop = settings(base=Base(part=PartId("P01")))
    (load, _) = carried_loads(JOINTS, PARTS, PartId("P01"))
    bonding = next(item for item in bonding_for_joints(JOINTS, shop)[0] if item.joint == "J04")
    rows = {row.quantity: row for row in bond_rows(ARM, bonding, shop, load)}
    # 3 kg x 9.81 N / 40 000 mm2.
    assert rows["average shear under what hangs on it"].result == "0.00074"
    assert "P04, P05" in str(rows["average shear under what hangs on it"].inputs)
    assert rows["greatest peel under what hangs on it"].unit == "MPa"
    assert "average shear under what hangs on it" not in {row.quantity for row in bond_rows(ARM, bonding, shop)}


def test_one_call_finds_units_and_loads() -> None:
    shop = settings(adhesive=glue(strength_mpa=0.001), base=Base(part=PartId("P01")))
    codes = [finding.code for finding in figure_findings(JOINTS, PARTS, (), shop)]
    # 0.001 MPa is no strength at all: the unit is doubtful, and with it two bonds are overloaded.
    assert codes == ["unit-doubtful", "bond-overloaded", "bond-overloaded"]
