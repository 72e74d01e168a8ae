"""Stacks for joints, and what does not fit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.catalogue import tables
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.lengths import MOST_PROTRUSION_PITCHES, PROTRUSION_PITCHES, Pieces, has_thread_in_grip
from assembler.engineering.selection import faces_of_bolt, pieces_for_bolt
from assembler.figure.findings import Finding, Level
from assembler.figure.hardware import Stack
from assembler.figure.ids import PartId
from assembler.figure.joints import Bolt, Method, Seat
from assembler.figure.settings import HardwareChoice, Material
from tests.engineering.specimens import MATERIALS, PARTS, PLASTIC, bolt, joint, ring, settings


def _stack(one: Bolt, method: Method = Method.BOLTED, **choice: Any) -> tuple[Stack | None, tuple[Finding, ...]]:
    shop = settings(hardware=HardwareChoice(**choice))
    stacks, findings = stacks_for_joints([joint([one], method=method)], shop, MATERIALS)
    return (stacks[0] if stacks else None), findings


def _codes(findings: tuple[Finding, ...]) -> set[str]:
    return {finding.code for finding in findings}


def test_a_plain_bolt() -> None:
    stack, findings = _stack(bolt())
    assert stack is not None
    # 20 + 2 x 1.8 + 6.8 + 2 x 1.25 = 32.9, next in the series 35.
    assert (stack.size, stack.needed_mm, stack.length_mm) == ("M8", 32.9, 35.0)
    assert stack.protrusion_mm == pytest.approx(35 - 20 - 3.6 - 6.8)
    assert (stack.washers, stack.nut, stack.tool, stack.nut_tool) == (
        2,
        "ISO 4032",
        "socket 13 mm",
        "open-end spanner 13 mm",
    )
    assert findings == ()


def test_the_bond_line_lengthens_the_grip_unless_modelled() -> None:
    shop = settings()
    glued = joint([bolt()], method=Method.BOLTED_AND_BONDED)
    for gap_mm, more_mm in ((0.0, 0.3), (0.1, 0.2), (0.3, 0.0), (0.5, 0.0), (-0.2, 0.3)):
        (stack,), _ = stacks_for_joints([replace(glued, gap_mm=gap_mm)], shop, MATERIALS)
        assert stack.grip_mm == pytest.approx(20.0 + more_mm)


def test_a_bolt_through_three_parts_gets_two_bond_lines() -> None:
    through = bolt(also=("J02",))
    first = joint([through], method=Method.BOLTED_AND_BONDED)
    second = joint(id="J02", method=Method.BONDED)
    (stack,), _ = stacks_for_joints([first, second], settings(), MATERIALS)
    assert stack.grip_mm == pytest.approx(20.6)
    assert stack.joint == "J01"


def test_a_captive_nut_has_no_washer_and_an_insert_no_nut() -> None:
    captive, findings = _stack(bolt(seats=(Seat.OPEN, Seat.CAPTIVE)))
    assert captive is not None
    # 15 MPa x pi/4 (11.6^2 - 9^2) = 631 N: 1.01 N m, too little to feel.
    assert (captive.torque_nm, str(captive.torque_rule)) == (1.0, "nut pressure on plastic")
    assert _codes(findings) == {"torque-low"}
    assert (captive.washers, captive.nut) == (1, "ISO 4032")
    assert captive.needed_mm == pytest.approx(20 + 1.8 + 6.8 + 2.5)
    insert, findings = _stack(bolt(seats=(Seat.INSERT, Seat.OPEN)))
    assert insert is not None
    assert (insert.washers, insert.nut, insert.nut_mm) == (1, "", 0.0)
    # Engagement of one diameter at least.
    assert insert.length_mm >= 20 + 1.8 + 8
    assert _codes(findings) == {"insert-by-data-sheet"}


def test_two_closed_seats_take_no_bolt() -> None:
    stack, findings = _stack(bolt(seats=(Seat.CAPTIVE, Seat.INSERT)))
    assert stack is None
    assert _codes(findings) == {"no-open-seat"}
    assert findings[0].level is Level.STOP


def test_a_hole_that_fits_nothing_is_a_stop() -> None:
    stack, findings = _stack(bolt(hole_mm=7.5))
    assert stack is None
    assert "next are M6 coarse 7 mm and M8 fine 8.4 mm" in str(findings[0].message)
    # 7.54 mm is the loose hole of 1/4 in.
    assert [finding.code for finding in findings] == ["hole-fits-no-size", "inch-hole"]


def test_a_length_that_is_not_stocked_takes_the_next() -> None:
    stack, findings = _stack(bolt(), stock_lengths_mm=(30.0, 40.0))
    assert stack is not None
    assert stack.length_mm == 40.0
    assert _codes(findings) == {"length-not-stocked"}
    assert "M8 x 35 is not in stock; 40 mm is used" in str(findings[0].message)


def test_nothing_in_stock_long_enough_is_a_stop() -> None:
    stack, findings = _stack(bolt(), stock_lengths_mm=(20.0, 25.0))
    assert stack is None
    assert _codes(findings) == {"no-such-length"}
    assert "in stock are 20, 25 mm" in str(findings[0].message)


def test_a_thread_that_sticks_out_is_found() -> None:
    stack, findings = _stack(bolt(), stock_lengths_mm=(60.0,))
    assert stack is not None
    assert stack.protrusion_mm > MOST_PROTRUSION_PITCHES * 1.25
    assert "thread-sticks-out" in _codes(findings)


def test_short_grips_take_a_fully_threaded_screw() -> None:
    # ISO 4014 M8 starts at 40 mm with 18 mm of plain shank: too much for a grip of 10 mm.
    stack, findings = _stack(bolt(grip_mm=10.0), screw="ISO 4014")
    assert stack is not None
    assert (stack.screw, stack.length_mm) == ("ISO 4017", 25.0)
    assert _codes(findings) == {"fully-threaded-instead"}
    long, none = _stack(bolt(grip_mm=40.0), screw="ISO 4014")
    assert long is not None
    assert (long.screw, long.length_mm) == ("ISO 4014", 55.0)
    assert none == ()


@pytest.mark.parametrize(("grip_mm", "fits"), [(16.1, True), (16.0, False)])
def test_the_thread_begins_one_pitch_before_the_nut(grip_mm: float, fits: bool) -> None:
    # ISO 4014 M8 x 40: 18 mm without thread + 1.25 mm pitch = 19.25 mm, against grip + 2 x 1.6 mm of washers.
    pieces = Pieces(
        thread=tables.thread("M8"),
        screw=tables.screw("ISO 4014", "M8"),
        nut=tables.nut("ISO 4032", "M8"),
        washer=tables.washer("ISO 7089", "M8"),
        washers=2,
    )
    assert has_thread_in_grip(grip_mm, pieces, 40.0) is fits


def test_a_shank_that_reaches_the_nut_of_a_socket_screw_is_a_stop() -> None:
    _, findings = _stack(bolt(grip_mm=10.0), screw="ISO 4762", stock_lengths_mm=(60.0,))
    assert "thread-does-not-reach" in _codes(findings)


def test_the_smaller_washer_is_taken_where_the_large_one_has_no_room() -> None:
    stack, findings = _stack(bolt(seat_room_mm=(17.0, 40.0)), washer="ISO 7093-1")
    assert stack is not None
    assert stack.washer == "ISO 7089"
    assert "washer-does-not-fit" in _codes(findings)


def test_no_washer_and_no_head_fit_a_narrow_seat() -> None:
    bare, findings = _stack(bolt(seat_room_mm=(15.5, 15.5)))
    assert bare is not None
    assert (bare.washer, bare.washers) == ("", 0)
    assert "head-does-not-fit" not in _codes(findings)
    assert str(bare.torque_rule) == "head pressure on plastic"
    _, findings = _stack(bolt(seat_room_mm=(12.0, 30.0)))
    assert "head-does-not-fit" in _codes(findings)


def test_the_weaker_side_rules_the_torque() -> None:
    soft = Material(name="timber", density_kg_m3=500.0, bearing_mpa=3.0, source="made up")
    strong = Material(name="steel", density_kg_m3=7850.0, bearing_mpa=400.0, source="made up")
    shop, one = settings(), joint([bolt()])
    (plastic,), _ = stacks_for_joints([one], shop, MATERIALS)
    (timber,), _ = stacks_for_joints([one], shop, {PARTS[0]: PLASTIC, PARTS[1]: soft})
    (steel,), _ = stacks_for_joints([one], shop, {PARTS[0]: strong, PARTS[1]: strong})
    assert str(timber.torque_rule) == "washer pressure on timber"
    assert str(plastic.torque_rule) == "washer pressure on plastic"
    assert str(steel.torque_rule) == "proof load 8.8"
    assert timber.torque_nm < plastic.torque_nm < steel.torque_nm
    # 0.75 x 21200 N x 0.2 x 8 mm = 25.44 N m, set as 25.
    assert steel.torque_nm == 25.0


def test_without_a_bearing_pressure_there_is_no_torque() -> None:
    silent = replace(PLASTIC, bearing_mpa=0.0)
    (stack,), findings = stacks_for_joints([joint([bolt()])], settings(), {part: silent for part in PARTS})
    assert stack.torque_nm == 0.0
    assert "not stated" in str(stack.torque_rule)
    assert _codes(findings) == {"bearing-not-stated"}


def test_noise_in_the_survey_gives_one_length_and_one_torque() -> None:
    noisy = tuple(
        replace(one, grip_mm=21.9 + 0.06 * rank, hole_mm=9.0 + 0.01 * rank) for rank, one in enumerate(ring(8))
    )
    stacks, findings = stacks_for_joints([joint(noisy)], settings(), MATERIALS)
    assert {stack.length_mm for stack in stacks} == {40.0}
    assert len({stack.torque_nm for stack in stacks}) == 1
    assert findings == ()


def test_different_grips_keep_their_lengths() -> None:
    bolts = (bolt("J01.1", grip_mm=10.0), bolt("J01.2", grip_mm=30.0, at_mm=(90.0, 0.0, 0.0)))
    stacks, _ = stacks_for_joints([joint(bolts)], settings(), MATERIALS)
    assert [stack.length_mm for stack in stacks] == [25.0, 45.0]


def test_equal_findings_are_one_that_names_all() -> None:
    stacks, findings = stacks_for_joints([joint(ring(6, hole_mm=7.7))], settings(), MATERIALS)
    assert stacks == ()
    assert len(findings) == 1
    assert findings[0].about == tuple(f"J01.{place}" for place in range(1, 7))


def test_holes_too_close_and_near_an_edge() -> None:
    pair = (bolt("J01.1"), bolt("J01.2", at_mm=(15.0, 0.0, 0.0), seat_room_mm=(18.0, 18.0)))
    _, findings = stacks_for_joints([joint(pair)], settings(), MATERIALS)
    assert _codes(findings) == {"bolts-too-close", "hole-near-edge"}
    pocket = bolt(seats=(Seat.OPEN, Seat.CAPTIVE), seat_room_mm=(40.0, 13.0))
    _, of_pocket = stacks_for_joints([joint([pocket])], settings(), MATERIALS)
    assert "hole-near-edge" not in _codes(of_pocket)
    assert "15.0 mm apart, 19.8 mm" in str(next(f for f in findings if f.code == "bolts-too-close").message)


def test_stainless_and_sockets() -> None:
    stack, _ = _stack(bolt(), screw="ISO 4762", property_class="A2-70")
    assert stack is not None
    assert (stack.key_mm, stack.across_flats_mm, stack.tool) == (6.0, 0.0, "hexagon key 6 mm")


def test_hardware_that_the_tables_lack_is_a_stop() -> None:
    stack, findings = _stack(bolt(hole_mm=15.5), screw="ISO 7380-1")
    assert stack is None
    assert _codes(findings) == {"no-such-hardware"}


def test_the_order_of_joints_does_not_matter() -> None:
    first = joint(ring(4))
    second = joint([bolt("J02.1", grip_mm=15.0)], id="J02")
    one, said = stacks_for_joints([first, second], settings(), MATERIALS)
    other, said_too = stacks_for_joints([second, first], settings(), MATERIALS)
    assert sorted(one, key=lambda s: s.bolt) == sorted(other, key=lambda s: s.bolt)
    assert said == said_too


SIZED = st.sampled_from([row.size for row in tables.threads()])


@given(size=SIZED, grip_mm=st.floats(2.0, 60.0), screw=st.sampled_from(["ISO 4014", "ISO 4017", "ISO 4762"]))
def test_every_stack_shows_two_pitches_and_starts_its_thread_in_the_grip(size: str, grip_mm: float, screw: str) -> None:
    hole = next(row for row in tables.clearance_holes() if row.size == size)
    stack, findings = _stack(bolt(hole_mm=hole.medium_mm, grip_mm=grip_mm), screw=screw)
    if stack is None:
        assert {finding.level for finding in findings} == {Level.STOP}
        return
    pitch_mm = tables.thread(size).pitch_mm
    # The need is stated to 0.1 mm.
    assert stack.protrusion_mm >= PROTRUSION_PITCHES * pitch_mm - 0.051
    assert stack.length_mm in tables.lengths(stack.screw, size)
    shorter = [length for length in tables.lengths(stack.screw, size) if length < stack.length_mm]
    assert not shorter or shorter[-1] < stack.needed_mm
    assert stack.length_mm == pytest.approx(
        stack.grip_mm + stack.washers * stack.washer_mm + stack.nut_mm + stack.protrusion_mm, abs=0.001
    )


@given(grip_mm=st.floats(2.0, 50.0), more_mm=st.floats(0.0, 10.0))
def test_a_thicker_grip_never_takes_a_shorter_screw(grip_mm: float, more_mm: float) -> None:
    thin, _ = _stack(bolt(grip_mm=grip_mm))
    thick, _ = _stack(bolt(grip_mm=grip_mm + more_mm))
    assert thin is not None
    assert thick is not None
    assert thin.length_mm <= thick.length_mm


@given(bearing_mpa=st.floats(0.5, 60.0))
def test_torque_grows_with_the_pressure_and_the_washer(bearing_mpa: float) -> None:
    def torque_nm(pressure_mpa: float, washer: str) -> float:
        material = replace(PLASTIC, bearing_mpa=pressure_mpa)
        shop = settings(hardware=HardwareChoice(washer=washer))
        (stack,), _ = stacks_for_joints([joint([bolt()])], shop, {part: material for part in PARTS})
        return stack.torque_nm

    assert torque_nm(bearing_mpa, "ISO 7089") <= torque_nm(2 * bearing_mpa, "ISO 7089") <= 25.0
    assert torque_nm(bearing_mpa, "ISO 7089") <= torque_nm(bearing_mpa, "ISO 7093-1")


def test_without_a_washer_the_smaller_of_head_and_nut_presses() -> None:
    # M6 socket screw: least face of the head 9.38 mm, of its nut 8.88 mm; no washer fits a seat of 11.5 mm.
    tight = bolt(hole_mm=6.6, seat_room_mm=(11.5, 11.5))
    shop = settings(hardware=HardwareChoice(screw="ISO 4762"))
    pieces, _ = pieces_for_bolt(tight, shop.hardware)
    assert pieces is not None
    assert pieces.washer is None
    assert {face.outer_mm for face in faces_of_bolt(tight, pieces, MATERIALS)} == {8.88}


def test_a_washer_bears_outside_the_larger_of_hole_and_its_own_hole() -> None:
    # A hole of 9 mm is wider than the washer's 8.4 mm; one of 8.3 mm is not.
    for hole_mm, inner_mm in ((9.0, 9.0), (8.3, 8.4)):
        one = bolt(hole_mm=hole_mm)
        pieces, _ = pieces_for_bolt(one, HardwareChoice())
        assert pieces is not None
        assert {face.hole_mm for face in faces_of_bolt(one, pieces, MATERIALS)} == {inner_mm}


@pytest.mark.parametrize("soft_at", [0, 1, 2])
def test_the_smallest_torque_of_a_joint_is_set_for_all(soft_at: int) -> None:
    # Plastic of 15 MPa under two bolts, of 5 MPa under the third: a third of the torque for all, rounded down.
    soft = Material(name="soft", density_kg_m3=950.0, bearing_mpa=5.0, source="made up")
    third = PartId("P03")
    bolts = [bolt(f"J01.{rank + 1}", at_mm=(80.0 * rank, 0.0, 0.0)) for rank in range(3)]
    bolts[soft_at] = replace(bolts[soft_at], through=(PARTS[0], third))
    stacks, _ = stacks_for_joints([joint(bolts)], settings(), {**MATERIALS, third: soft})
    assert {stack.torque_nm for stack in stacks} == {1.0}
    assert {str(stack.torque_rule) for stack in stacks} == {"washer pressure on soft"}


def test_thread_may_show_ten_pitches() -> None:
    # M8, 1.25 mm: 12.5 mm. Grip 20, washers 2 x 1.8, nut 6.8: 45 mm long shows 14.6 mm, 40 mm shows 9.6 mm.
    def codes(length_mm: float) -> set[str]:
        shop = settings(hardware=HardwareChoice(stock_lengths_mm=(length_mm,)))
        return {finding.code for finding in stacks_for_joints([joint([bolt()])], shop, MATERIALS)[1]}

    assert "thread-sticks-out" in codes(45.0)
    assert "thread-sticks-out" not in codes(40.0)


def test_an_insert_takes_one_diameter_of_thread() -> None:
    # Grip 20, one washer of 1.8, 8 mm of engagement: 29.8, so 30 mm; half of that would do with 26.
    blind = bolt(seats=(Seat.OPEN, Seat.INSERT))
    ((stack,), _) = stacks_for_joints([joint([blind])], settings(), MATERIALS)
    assert (stack.needed_mm, stack.length_mm) == (29.8, 30.0)


def test_bolts_share_a_length_only_where_they_differ_by_noise() -> None:
    # Needs of 32.9, 33.3 and 35.1 mm: the first two are one (35 mm), the third needs 40.
    bolts = [bolt("J01.1"), bolt("J01.2", grip_mm=20.4), bolt("J01.3", grip_mm=22.2)]
    stacks, _ = stacks_for_joints([joint(bolts)], settings(), MATERIALS)
    assert [(stack.needed_mm, stack.length_mm) for stack in stacks] == [(33.3, 35.0), (33.3, 35.0), (35.1, 40.0)]
