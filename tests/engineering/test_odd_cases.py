"""Odd holes, seats, stock, people and bases: what used to pass in silence, or was said wrongly."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from assembler.engineering.curing import five_temperatures
from assembler.engineering.exposure import exposure_findings, exposure_rows
from assembler.engineering.fastening import stacks_for_joints
from assembler.engineering.finishing import FINISH_WASTE, finish_quantities
from assembler.engineering.holes import size_from_hole
from assembler.engineering.lifting import lift_for
from assembler.engineering.spacing import stray_findings
from assembler.engineering.standing import Push, anchor_demand
from assembler.engineering.worksheet import worksheet
from assembler.figure.exposure import Silhouette, Standing
from assembler.figure.findings import Finding, Level
from assembler.figure.hardware import Stack
from assembler.figure.joints import Bolt, Seat
from assembler.figure.settings import Base, Crew, FinishOperation, HardwareChoice, Material
from tests.engineering.specimens import MATERIALS, PARTS, bolt, glue, joint, settings
from tests.specimens import two_boxes


def _stack(axis: Bolt, materials: Any = MATERIALS, **hardware: Any) -> tuple[Stack, dict[str, Finding]]:
    choice = settings(hardware=HardwareChoice(**hardware))
    stacks, findings = stacks_for_joints([joint([axis])], choice, materials)
    return stacks[0], {finding.code: finding for finding in findings}


@pytest.mark.parametrize(
    ("hole_mm", "size"), [(9.5, "M8"), (9.525, "M8"), (11.5, "M10"), (16.0, "M14"), (18.0, "M16"), (23.0, "M20")]
)
def test_a_hole_between_two_series_of_a_size_takes_that_size(hole_mm: float, size: str) -> None:
    match = size_from_hole(hole_mm)
    assert match is not None
    assert match.size == size


def test_a_hole_off_its_series_is_told() -> None:
    _, said = _stack(bolt(hole_mm=9.5))
    assert "0.5 mm off" in str(said["hole-off-series"].message)


def test_a_torque_that_rounds_to_nothing_is_not_called_unstated() -> None:
    # M3 in a coarse hole, no room for a washer: 15 MPa on pi/4 (4.6^2 - 3.6^2) = 97 N, 0.058 N m.
    stack, said = _stack(bolt(hole_mm=3.6, seat_room_mm=(6.4, 6.4)))
    assert stack.torque_nm == 0.0
    assert "bearing-not-stated" not in said
    assert "not even 0.1 N m" in str(said["torque-low"].message)


@pytest.mark.parametrize(
    ("changes", "washer", "remedy"),
    [
        ({"hole_mm": 5.5}, "ISO 7089", "larger washers"),
        ({"hole_mm": 3.4}, "ISO 7093-1", "use larger bolts"),
        ({"seats": (Seat.OPEN, Seat.CAPTIVE), "hole_mm": 6.6}, "ISO 7089", "pocket of the nut"),
        ({"hole_mm": 5.5, "seat_room_mm": (9.4, 9.4)}, "ISO 7089", "put a washer under that face"),
    ],
)
def test_a_torque_below_common_wrenches_is_told_with_a_remedy_that_fits(
    changes: dict[str, Any], washer: str, remedy: str
) -> None:
    stack, said = _stack(bolt(**changes), washer=washer)
    assert stack.torque_nm < 1.0
    assert "common torque wrenches begin at 1 N m" in str(said["torque-low"].message)
    assert remedy in str(said["torque-low"].remedy)


def test_the_head_of_a_button_screw_carries_less() -> None:
    # ISO 7380-1, reduced loadability (from memory): 0.8 x 0.75 x 21200 N x 0.2 x 8 mm = 20.35 N m, down to 20.
    steel = dict.fromkeys(PARTS, Material(name="steel", density_kg_m3=7850.0, bearing_mpa=1000.0, source="made up"))
    full, _ = _stack(bolt(), steel, screw="ISO 4762")
    button, _ = _stack(bolt(), steel, screw="ISO 7380-1")
    assert (full.torque_nm, str(full.torque_rule)) == (25.0, "proof load 8.8")
    assert (button.torque_nm, str(button.torque_rule)) == (20.0, "proof load 8.8 of the head")
    choice = settings(hardware=HardwareChoice(screw="ISO 7380-1"), materials={"plastic": steel[PARTS[0]]})
    rows = {row.quantity: row for row in worksheet(joint([bolt()]), [button], None, choice)}
    assert rows["preload by the bolt"].result == "12720"
    assert "from memory" in str(rows["preload by the bolt"].source)


def test_a_screw_into_an_insert_names_the_data_sheet() -> None:
    stack, _ = _stack(bolt(seats=(Seat.OPEN, Seat.INSERT)))
    assert str(stack.torque_rule) == "washer pressure on plastic, but no more than the data sheet of the insert allows"


def test_stock_is_blamed_only_where_stock_is_the_limit() -> None:
    choice = settings(hardware=HardwareChoice())
    _, findings = stacks_for_joints([joint([bolt(grip_mm=1000.0)])], choice, MATERIALS)
    assert "stock" not in str(findings[0].remedy)
    short = settings(hardware=HardwareChoice(stock_lengths_mm=(20.0,)))
    _, findings = stacks_for_joints([joint([bolt()])], short, MATERIALS)
    assert "stock_lengths_mm" in str(findings[0].remedy)


def test_one_person_and_a_long_light_part() -> None:
    lift = lift_for(5.0, (0.0, 0.0, 800.0), (300.0, 1500.0, 200.0), Crew(people=1))
    assert lift.people == 0
    assert "longer than 1200 mm" in str(lift.rule)
    assert "above" not in str(lift.rule)


def test_filler_with_a_coverage_beside_its_groove_is_counted() -> None:
    fill = FinishOperation(name="fill", on="seams", groove_mm2=6.0, coverage_m2_l=5.0)
    (found,) = finish_quantities([fill], 1000.0, 1e6)
    assert found.product_l == pytest.approx(0.006 * (1 + FINISH_WASTE))


@pytest.mark.parametrize(("low", "high"), [(20.0, 22.0), (10.0, 35.0), (18.0, 19.0)])
def test_five_temperatures_are_five(low: float, high: float) -> None:
    found = [row.temp_c for row in five_temperatures(glue(lowest_c=low, highest_c=high))]
    assert found == sorted(set(found))
    assert len(found) == 5


SQUARE = np.array([[-300.0, -300.0], [300.0, -300.0], [300.0, 300.0], [-300.0, 300.0]])
SIDES = tuple(
    Silhouette(toward=(math.cos(turn), math.sin(turn)), area_mm2=1e6, centre_height_mm=1000.0)
    for turn in (0.0, math.pi / 4, math.pi / 2, 3 * math.pi / 4)
)
FIGURE = Standing(mass_kg=50.0, centre_mm=(0.0, 0.0), feet_mm=SQUARE, height_mm=1800.0, sides=SIDES)


@pytest.mark.parametrize("anchors", [[[0.0, 0.0]], [[0.0, -300.0], [0.0, 300.0]], [[-300.0, -300.0], [300.0, 300.0]]])
def test_anchors_in_a_line_hold_no_moment_across_it(anchors: list[list[float]]) -> None:
    rows = exposure_rows(FIGURE, np.array(anchors))
    assert {row.anchor_tension_n for row in rows} == {None}
    assert all(row.anchor_shear_n for row in rows)
    base = Base(anchors=len(anchors), anchors_at_mm=tuple((x, y, 0.0) for x, y in anchors))
    assert [finding.code for finding in exposure_findings(rows, base)] == ["anchors-in-line"]
    # Spread anchors are not blamed.
    assert exposure_findings(exposure_rows(FIGURE, SQUARE), Base(anchors=4, anchors_at_mm=((0.0, 0.0, 0.0),))) == ()


def test_one_anchor_under_the_push_gives_no_tension() -> None:
    push = Push(force_n=500.0, height_mm=1500.0)
    assert anchor_demand(np.array([[0.0, 0.0]]), 50.0, (0.0, 0.0), push, (1.0, 0.0)).tension_n is None


@pytest.mark.parametrize(
    ("base", "lacks"),
    [
        (Base(size_mm=(800.0, 800.0, 100.0), anchors=4), "mass_kg"),
        (Base(mass_kg=100.0, anchors=4), "size_mm"),
    ],
)
def test_half_a_base_is_told(base: Base, lacks: str) -> None:
    (found,) = exposure_findings(exposure_rows(FIGURE), base)
    assert found.code == "base-half-stated"
    assert lacks in str(found.remedy)


def test_a_bolt_typed_beside_its_parts_is_a_stop() -> None:
    given = two_boxes().given
    assert stray_findings(given["joints"], given["parts"]) == []
    first, *others = given["joints"]
    slipped = replace(first.bolts[0], at_mm=(1500.0, *first.bolts[0].at_mm[1:]))
    joints = [replace(first, bolts=(slipped, *first.bolts[1:])), *others]
    (finding,) = stray_findings(joints, given["parts"])
    assert finding.level is Level.STOP
    assert finding.about[0] == slipped.id
    assert "at (1500, " in str(finding.message)
