"""What has to be decided about hardware."""

from __future__ import annotations

from dataclasses import replace

from assembler.engineering.decisions import decision_findings
from assembler.engineering.fastening import stacks_for_joints
from assembler.figure.findings import Finding
from assembler.figure.joints import Joint, Method, Seat
from assembler.figure.settings import HardwareChoice, Material, Settings
from tests.engineering.specimens import MATERIALS, PARTS, PLASTIC, joint, ring, settings

TIMBER = Material(name="timber", density_kg_m3=500.0, bearing_mpa=3.0, source="made up")


def _found(one: Joint, shop: Settings, **of: Material) -> dict[str, Finding]:
    materials = {**MATERIALS, **{PARTS[int(name[-1])]: material for name, material in of.items()}}
    stacks, _ = stacks_for_joints([one], shop, materials)
    return {finding.code: finding for finding in decision_findings([one], stacks, shop, materials)}


def test_rust_and_loosening_are_asked_once() -> None:
    found = _found(joint(ring(4)), settings())
    assert set(found) == {"corrosion-undecided", "locking-undecided"}
    # M8 at 3.2 N m: 3200 / (0.2 x 8) = 2000 N, half of it left.
    assert "1000 N left" in str(found["locking-undecided"].message)
    assert found["locking-undecided"].about == ("J01",)
    decided = settings(hardware=HardwareChoice(corrosion="A4", locking="threadlocker"))
    assert _found(joint(ring(4)), decided) == {}
    assert _found(joint(ring(4)), settings(hardware=HardwareChoice(property_class="A2-70", nut="ISO 7040"))) == {}


def test_adhesive_locks_its_own_bolts() -> None:
    assert "locking-undecided" not in _found(joint(ring(8), method=Method.BOLTED_AND_BONDED), settings())


def test_washers_on_timber_are_held_against_the_timber_code() -> None:
    decided = settings(hardware=HardwareChoice(corrosion="A4", locking="none"))
    # M8, ISO 7089: 16 mm wide and 1.8 mm thick at most; 3 d = 24 mm and 0.3 d = 2.4 mm are asked.
    found = _found(joint(ring(4)), decided, part_1=TIMBER)["washer-small-for-timber"]
    assert "16 mm wide and 1.8 mm thick" in str(found.message)
    assert "asks 24 and 2.4 mm" in str(found.message)
    assert "washer-small-for-timber" not in _found(joint(ring(4)), decided, part_1=PLASTIC)
    # In a pocket there is no washer to judge.
    pocket = joint(ring(4, seats=(Seat.OPEN, Seat.CAPTIVE)))
    assert "washer-small-for-timber" not in _found(pocket, decided, part_1=TIMBER)


def test_few_bolts_on_a_long_bonded_seam() -> None:
    decided = settings(hardware=HardwareChoice(corrosion="A4", locking="none"))
    sparse = joint(ring(8, grip_mm=12.0), method=Method.BOLTED_AND_BONDED, seam_mm=1600.0)
    # 1600 / 8 = 200 mm; flanges of 6 mm: 14 x 6 = 84 mm.
    found = _found(sparse, decided)["bolts-far-apart"]
    assert "200 mm from one to the next" in str(found.message)
    assert "84 mm at most" in str(found.message)
    dense = replace(sparse, seam_mm=640.0)
    assert "bolts-far-apart" not in _found(dense, decided)
    # Never above 200 mm, however thick the flange.
    thick = joint(ring(8, grip_mm=60.0), method=Method.BOLTED_AND_BONDED, seam_mm=1700.0)
    assert "200 mm at most" in str(_found(thick, decided)["bolts-far-apart"].message)
