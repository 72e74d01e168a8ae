"""Figures whose order a builder knows: what stands is not lifted for nothing, rings and limbs go on as one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from assembler.figure.findings import Level
from assembler.figure.ids import PartId
from assembler.figure.joints import Method, Place
from assembler.figure.plan import CarriedBy, Plan, Step
from assembler.figure.settings import Base
from assembler.planning.order import plan_build
from assembler.planning.verify import verify_plan
from assembler.projectfiles.planfile import plan_json, plan_record
from tests.planning import figures
from tests.planning.test_known_answers import joining, planned
from tests.specimens import Assembly


@cache
def plan_of(name: str) -> Plan:
    """The plan of a figure, replayed and counted again."""
    return planned(figures.KNOWN[name]())


def heights(made: Assembly) -> dict[str, float]:
    """Lower end of every part."""
    return {name: float(body.bounding_box()[2]) for name, body in made.solids.items()}


def is_grounded(plan: Plan, lows: dict[str, float]) -> bool:
    """Whether on the main bench nothing ever arrives below what stands there."""
    main = [step for step in joining(plan) if step.bench == "B1" and step.up == (0.0, 0.0, 1.0)]
    return all(min(lows[part] for part in step.onto) <= min(lows[part] for part in step.moves) + 3.0 for step in main)


def main_moves(plan: Plan) -> list[tuple[str, ...]]:
    """What arrives on the main bench, in order."""
    return [tuple(map(str, step.moves)) for step in joining(plan) if step.bench == "B1"]


@pytest.mark.parametrize("name", ["bust", "bust with open nuts"])
def test_a_bust_of_rings_grows_from_the_ground_though_a_closure_stays_out_of_reach(name: str) -> None:
    plan = plan_of(name)
    assert is_grounded(plan, heights(figures.KNOWN[name]()))
    assert [min(moves) for moves in main_moves(plan)] == ["P02", "P03", "P04", "P05"]
    assert {finding.code for finding in plan.findings if finding.level is Level.STOP} == {"last-closure"}
    assert all(step.carried_by in (CarriedBy.GROUND, CarriedBy.BASE) for step in joining(plan) if step.bench == "B1")


def test_rings_in_halves_are_closed_on_benches_and_set_down_whole() -> None:
    plan = plan_of("bust in halves")
    pairs = [(f"P{k:02d}", f"P{k + 1:02d}") for k in range(3, 13, 2)]
    assert main_moves(plan) == [("P02",), *pairs] or main_moves(plan) == [("P01",), *pairs]
    for step in joining(plan):
        if len(step.moves) > 1:
            assert step.lift is not None
            assert step.lift.parts == step.moves
            assert step.gates


def test_with_the_bottom_open_the_bust_is_built_from_the_crown_and_every_lift_is_said() -> None:
    plan = plan_of("bust open below")
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    heavy = max((step.lift for step in plan.steps if step.lift), key=lambda lift: lift.mass_kg)
    assert heavy.mass_kg > 35.0
    assert heavy.people == 0


def test_a_standing_figure_grows_from_its_feet_and_its_torso_is_lowered_as_a_unit() -> None:
    plan = plan_of("standing")
    assert is_grounded(plan, heights(figures.standing_figure()))
    torso = next(step for step in joining(plan) if "T" in step.moves and step.bench == "B1")
    assert {"A", "B", "T"} <= set(torso.moves)
    assert set(torso.onto) >= {"L1", "R1", "H"}
    assert torso.lift is not None
    assert torso.lift.people == 2


def test_the_keystone_is_last() -> None:
    plan = plan_of("arch")
    assert main_moves(plan)[-1] == ("P5",)
    assert {moves for moves in main_moves(plan)[:2]} == {("P1",), ("P2",)}


def test_a_lamp_that_may_be_turned_is_built_lying() -> None:
    plan = plan_of("lamp")
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    assert all(step.up[2] == 0.0 for step in joining(plan))


def test_the_eccentric_tower_falls_and_that_is_a_stop_with_direction_and_moment() -> None:
    plan = plan_of("leaning tower")
    (finding,) = (finding for finding in plan.findings if finding.code == "falls")
    assert finding.level is Level.STOP
    assert "towards +x" in finding.message
    assert "14 mm outside" in finding.message
    # 3 kg x 9.80665 m/s2 x 0.014 m
    assert "0.41 N m" in finding.message
    last = joining(plan)[-1].stability
    assert last is not None
    assert last.overhang_mm == pytest.approx(14.0)
    assert last.moment_nm == pytest.approx(3.0 * 9.80665 * 0.014)
    assert last.toward == pytest.approx((1.0, 0.0, 0.0))
    assert "no hold" in last.reason


def test_a_prop_against_falling_is_kept_until_the_anchors_hold() -> None:
    made = figures.leaning_tower()
    made.changes["base"] = Base(part=PartId("P01"), anchors=4)
    last = joining(plan_build(**made.given))[-1].stability
    assert last is not None
    assert last.reason.endswith("until it is anchored")


def test_a_floor_that_goes_in_from_below_goes_in_with_the_shell_on_its_head() -> None:
    plan = plan_of("floor")
    (step,) = joining(plan)
    assert step.moves == ("F",)
    assert step.up == (0.0, 0.0, -1.0)
    assert step.path[-1].direction == pytest.approx((0.0, 0.0, 1.0))


def test_a_plan_with_lifts_is_written_and_fits_the_schema() -> None:
    for name in ("bust", "leaning tower"):
        assert '"height_mm"' in plan_json(plan_of(name))


@pytest.mark.parametrize("name", ["bust", "bust in halves"])
def test_the_order_does_not_hang_on_the_base_being_named(name: str) -> None:
    made = figures.KNOWN[name]()
    made.base = "P01"
    named = planned(made)
    assert [step.moves for step in joining(named)] == [step.moves for step in joining(plan_of(name))]


def on_site(method: Method) -> Plan:
    """The hanging lamp put together where it hangs: it cannot be laid down there."""
    made = figures.hanging_lamp(method=method)
    made.joints = [replace(joint, made=Place.SITE) for joint in made.joints]
    return planned(made)


def lifts(plan: Plan) -> list[Step]:
    """Steps that lift what stood."""
    lifted_off = (CarriedBy.HANDS, CarriedBy.HOIST, CarriedBy.STANDS)
    return [step for step in joining(plan) if step.carried_by in lifted_off]


def test_what_a_plan_of_the_figures_says_is_not_refuted() -> None:
    for name in ("standing", "floor"):
        made = figures.KNOWN[name]()
        given = made.given
        assert verify_plan(plan_record(plan_of(name)), given["meshes"], given["settings"].tolerances) == ()
