"""Bonds and bolts under load, and what things weigh."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.boltsalone import KEPT_PRELOAD, WET_FRICTION, bolts_alone, preload_n
from assembler.engineering.bondstress import SAFETY_FACTOR, bond_stress, ring_peel_mpa
from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.weights import stack_mass_kg, together
from assembler.figure.hardware import Stack
from assembler.figure.joints import Joint, Method
from assembler.figure.settings import HardwareChoice
from tests.engineering.specimens import MATERIALS, UP, bolt, glue, joint, ring, settings

GLUED = joint(ring(8), method=Method.BOLTED_AND_BONDED)

# The same ring in an upright plane: the load runs along the faces.
WALL = replace(
    GLUED,
    normal=(1.0, 0.0, 0.0),
    bolts=tuple(replace(one, at_mm=(0.0, one.at_mm[0], one.at_mm[1])) for one in GLUED.bolts),
)


def _stacks(one: Joint) -> tuple[Stack, ...]:
    return stacks_for_joints([one], settings(), MATERIALS)[0]


def test_average_shear() -> None:
    # 10 kg on 40 000 mm2: 98.1 N / 40 000 mm2 = 0.00245 MPa.
    stress, findings = bond_stress(GLUED, 10.0, glue(strength_mpa=5.0))
    assert stress.average_mpa == pytest.approx(10 * GRAVITY_M_S2 / 40000.0)
    assert stress.safety == pytest.approx(5.0 / stress.average_mpa)
    assert findings == ()


def test_an_overloaded_bond_is_found() -> None:
    weak = replace(GLUED, bond_area_mm2=100.0)
    stress, (finding,) = bond_stress(weak, 20.0, glue(strength_mpa=5.0))
    assert stress.safety is not None
    assert stress.safety < SAFETY_FACTOR
    assert "20.0 kg at 1 g" in str(finding.message)


def test_no_stated_strength_gives_no_safety() -> None:
    stress, findings = bond_stress(GLUED, 10.0, glue(strength_mpa=0.0))
    assert (stress.safety, findings) == (None, ())
    with pytest.raises(ValueError, match="no bond area"):
        bond_stress(replace(GLUED, bond_area_mm2=0.0), 1.0, glue())


def test_peel_of_a_ring_against_its_integral() -> None:
    # Oracle: stress falls off linearly across a ring of radius r; its moment is the sum of stress x arm x area.
    radius, width, count = 120.0, 8.0, 20000
    area = 2 * math.pi * radius * width
    moment_nm = 75.0
    peak = ring_peel_mpa(moment_nm, area, 2 * math.pi * radius)
    arms = [radius * math.sin(2 * math.pi * k / count) for k in range(count)]
    resisted = sum(peak * arm / radius * arm * area / count for arm in arms) / 1000.0
    assert resisted == pytest.approx(moment_nm, rel=1e-6)


@given(st.floats(0.1, 100.0), st.floats(1.0, 500.0))
def test_stress_grows_with_mass_lever_and_acceleration(mass: float, lever: float) -> None:
    low, _ = bond_stress(GLUED, mass, glue(), lever_mm=lever)
    assert bond_stress(GLUED, 2 * mass, glue(), lever_mm=lever)[0].peel_mpa == pytest.approx(2 * low.peel_mpa)
    assert bond_stress(GLUED, mass, glue(), lever_mm=2 * lever)[0].peel_mpa == pytest.approx(2 * low.peel_mpa)
    assert bond_stress(GLUED, mass, glue(), acceleration_g=0.8)[0].average_mpa == pytest.approx(0.8 * low.average_mpa)


def test_preload_and_torque_agree() -> None:
    (stack, *_) = _stacks(GLUED)
    assert 0.2 * preload_n(stack, 0.2) * 8.0 / 1000.0 == pytest.approx(stack.torque_nm)


def test_pure_shear_on_bolts() -> None:
    # A wall joint (normal across, load down through the centre): friction of eight bolts against the weight.
    stacks = _stacks(WALL)
    found = bolts_alone(WALL, stacks, 20.0, (0.0, 0.0, 0.0), UP, 0.2)
    kept = KEPT_PRELOAD * preload_n(stacks[0], 0.2)
    assert found.slip_safety == pytest.approx(8 * WET_FRICTION * kept / (20.0 * GRAVITY_M_S2))
    assert found.gap_safety == math.inf


def test_what_hangs_straight_below_pulls_on_each_bolt_alike() -> None:
    # 20 kg under a ring of eight: no lever, an eighth of the weight each.
    stacks = _stacks(GLUED)
    found = bolts_alone(GLUED, stacks, 20.0, (0.0, 0.0, -100.0), GLUED.normal, 0.2)
    assert found.gap_safety == pytest.approx(found.preload_n * len(GLUED.bolts) / (20.0 * GRAVITY_M_S2))


def test_a_cantilever_pulls_on_its_bolts() -> None:
    stacks = _stacks(WALL)
    near = bolts_alone(WALL, stacks, 20.0, (100.0, 0.0, 0.0), UP, 0.2)
    far = bolts_alone(WALL, stacks, 20.0, (200.0, 0.0, 0.0), UP, 0.2)
    # Ring of 8 bolts, r = 100 mm: sum of squares about a diameter is 8 r2 / 2, so the pull is M r / (4 r2).
    pull = 20.0 * GRAVITY_M_S2 * 100.0 * 100.0 / (4 * 100.0**2)
    assert near.gap_safety == pytest.approx(near.preload_n / pull)
    assert far.gap_safety == pytest.approx(near.gap_safety / 2)
    assert far.slip_safety < near.slip_safety


def test_a_twisted_joint_slips_sooner() -> None:
    stacks = _stacks(WALL)
    straight = bolts_alone(WALL, stacks, 20.0, (0.0, 0.0, 0.0), UP, 0.2)
    aside = bolts_alone(WALL, stacks, 20.0, (0.0, 150.0, 0.0), UP, 0.2)
    assert aside.slip_safety < straight.slip_safety
    # Ring: direct F/8 and twist F e / (8 r) add up on the bolt beside the load: 1 + 150/100 times as much.
    assert aside.slip_safety == pytest.approx(straight.slip_safety / 2.5)


def test_without_bolts_nothing_is_carried() -> None:
    bare = joint(method=Method.BONDED)
    assert not bolts_alone(bare, (), 1.0, (0.0, 0.0, 0.0), UP, 0.2).is_enough
    assert bolts_alone(bare, (), 0.0, (0.0, 0.0, 0.0), UP, 0.2).is_enough


def test_one_bolt_with_a_lever_does_not_hold() -> None:
    single = joint([bolt()], method=Method.BOLTED_AND_BONDED, normal=(1.0, 0.0, 0.0))
    found = bolts_alone(single, _stacks(single), 1.0, (0.0, 50.0, 0.0), UP, 0.2)
    assert found.slip_safety == 0.0


@pytest.mark.parametrize(
    ("hole_mm", "grip_mm", "grams"),
    # M: tables list about 17 g for a screw M8 x 35, 5.2 g for its nut and 1.8 g a washer; 8.5, 2.3 and 1.0 for
    # M6 x 30. Prisms without chamfers are good to 15 %.
    [(9.0, 20.0, 17.0 + 5.2 + 2 * 1.8), (6.6, 18.0, 8.5 + 2.3 + 2 * 1.0)],
)
def test_hardware_weighs_what_tables_list(hole_mm: float, grip_mm: float, grams: float) -> None:
    (stack,) = _stacks(joint([bolt(hole_mm=hole_mm, grip_mm=grip_mm)]))
    assert 1000.0 * stack_mass_kg(stack) == pytest.approx(grams, rel=0.15)


def test_each_piece_counts() -> None:
    (open_nut,) = _stacks(joint([bolt()]))
    bare = replace(open_nut, washers=0, nut="", nut_mm=0.0)
    # One washer: pi/4 (16^2 - 8.4^2) x 1.8 mm3; nut: (0.866 x 13^2 - pi/4 8^2) x 6.8 mm3; steel 7.85 g/cm3.
    washer_kg = math.pi / 4 * (16.0**2 - 8.4**2) * 1.8 * 7.85e-6
    nut_kg = (math.sqrt(3) / 2 * 13.0**2 - math.pi / 4 * 8.0**2) * 6.8 * 7.85e-6
    assert stack_mass_kg(open_nut) - stack_mass_kg(bare) == pytest.approx(2 * washer_kg + nut_kg)


def test_a_socket_screw_weighs_too() -> None:
    shop = settings(hardware=HardwareChoice(screw="ISO 4762"))
    (stack,), _ = stacks_for_joints([joint([bolt()])], shop, MATERIALS)
    assert 0.015 < stack_mass_kg(stack) < 0.035


def test_centres_of_mass() -> None:
    mass, centre = together([(1.0, (0.0, 0.0, 0.0)), (3.0, (4.0, 8.0, 0.0))])
    assert (mass, centre) == (4.0, (3.0, 6.0, 0.0))
    with pytest.raises(ValueError, match="without mass"):
        together([])
