"""Two legs, turns, ground, groups, bolts that carry alone: cases whose answer follows from how they are made."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from assembler.figure.plan import Plan, StepKind
from assembler.figure.settings import Crew
from assembler.planning.blocking import Depth, Paths
from assembler.planning.directions import candidate_directions
from assembler.planning.order import plan_build
from assembler.planning.scene import Floor, scene_of
from assembler.planning.verify import verify_plan
from assembler.projectfiles.planfile import plan_record
from tests import specimens
from tests.planning import hard
from tests.planning.test_known_answers import arrival, joining, planned, stops
from tests.specimens import Assembly


def test_key_goes_down_then_sideways_and_the_lid_comes_after() -> None:
    plan = planned(hard.two_leg_keeper())
    assert not stops(plan)
    assert arrival(plan, "K") < arrival(plan, "L")
    (step,) = (step for step in plan.steps if step.moves == ("K",))
    down, along = step.path
    assert down.direction == pytest.approx((0.0, 0.0, -1.0), abs=1e-6)
    assert along.direction == pytest.approx((1.0, 0.0, 0.0), abs=1e-6)
    # The key is 55 mm long and has to come out from under the lip through a shaft of 60 mm.
    assert 80.0 <= along.travel_mm <= 85.0


def test_two_legs_are_refuted_when_the_first_is_left_out() -> None:
    made = hard.two_leg_keeper()
    given = made.given
    record = plan_record(plan_build(**given))
    step = next(step for step in record["steps"] if step["moves"] == ["K"])
    del step["path"]
    step["travel_mm"] = 200.0
    found = verify_plan(record, given["meshes"], given["settings"].tolerances)
    assert "movement-refuted" in {finding.code for finding in found}


@pytest.mark.parametrize(("name", "made"), [("S", hard.oblique_pin), ("S", hard.tilted_dovetail)])
def test_parts_go_in_along_their_own_slope(name: str, made: Callable[[], Assembly]) -> None:
    plan = planned(made())
    # The slider of the dovetail sticks out so far that its light body falls over: that is said.
    assert set(stops(plan)) <= {"falls"}
    (step,) = (step for step in plan.steps if name in step.moves)
    assert len(step.path) == 1
    assert 0.2 < abs(step.path[0].direction[0]) < 0.95


def turns(plan: Plan) -> list[tuple[float, float, float]]:
    return [step.up for step in plan.steps if step.kind is StepKind.TURN]


def test_a_hood_is_laid_down_to_reach_the_nuts_under_its_cap_and_stands_upright_at_the_end() -> None:
    plan = planned(hard.hood())
    assert not stops(plan)
    (cap,) = joining(plan)
    assert cap.up != (0.0, 0.0, 1.0)
    assert turns(plan)[-1] == (0.0, 0.0, 1.0)
    assert plan.costs["turns [min]"] > 0
    assert all(access.is_reachable for access in cap.access)


def test_on_a_base_the_cap_of_a_hood_is_bolted_before_the_hood_is_set_down() -> None:
    plan = planned(hard.hood_on_base())
    assert not stops(plan)
    cap, hood = joining(plan)
    assert (cap.bench, hood.bench) == ("B2", "B1")
    assert turns(plan) == [(0.0, 0.0, 1.0)]


def test_a_bench_that_changes_what_is_up_without_a_turn_is_refuted() -> None:
    given = hard.hood().given
    record = plan_record(plan_build(**given))
    record["steps"] = [step for step in record["steps"] if step["moves"]]
    record["steps"].append({**record["steps"][-1], "number": "99", "up": [0, 0, 1]})
    codes = {finding.code for finding in verify_plan(record, given["meshes"], given["settings"].tolerances)}
    assert "turn-refuted" in codes


def test_both_piers_of_a_gate_stand_before_the_lintel() -> None:
    plan = planned(hard.gate())
    assert not stops(plan)
    assert [step.moves for step in joining(plan)] in ([("R",), ("T",)], [("L",), ("T",)])
    pier = joining(plan)[0]
    assert pier.joints == ()
    assert "ground" in pier.title
    assert pier.stability is not None
    assert not pier.stability.needs_prop


def test_a_bayonet_is_said_to_need_a_turn_and_the_turn_is_replayed() -> None:
    made = hard.bayonet()
    plan = planned(made)
    assert not stops(plan)
    (finding,) = (finding for finding in plan.findings if finding.code == "turning-path")
    assert finding.about == ("S",)
    assert "A" in finding.message
    (step,) = joining(plan)
    assert step.swing is not None
    assert abs(step.swing.axis[2]) == pytest.approx(1.0)
    # The lug is 20 mm wide at 29 mm from the axis, its groove 24 mm: it clears the ledge from about 75 degrees on.
    assert 60.0 <= abs(step.swing.degrees) <= 105.0
    given = made.given
    record = plan_record(plan)
    record["steps"][-1]["swing"]["degrees"] *= -1.0
    codes = {found.code for found in verify_plan(record, given["meshes"], given["settings"].tolerances)}
    assert "movement-refuted" in codes


@pytest.mark.parametrize("extra", [0, 6])
def test_tenon_and_mortise_are_joined_first_and_go_into_their_pocket_together(extra: int) -> None:
    made = hard.mortise_in_pocket(extra)
    scene = scene_of(**made.given)
    paths = Paths(scene, candidate_directions(scene))
    pair = scene.set_of(("P", "Q"))
    assert pair in paths.obstacles.locked_sets(scene.everything)
    for part in ("P", "Q"):
        alone = scene.set_of((part,))
        assert not paths.ways_out(alone, scene.everything & ~alone, Depth.LEGS)
    plan = planned(made)
    assert not stops(plan)
    assert ("P", "Q") in [step.moves for step in plan.steps]


def test_a_limb_goes_on_as_one_whether_the_shop_works_on_bolts_or_not() -> None:
    made = hard.cantilever()
    waiting = planned(made)
    made.changes["work_on_bolts"] = True
    working = planned(made)
    for plan in (waiting, working):
        block, arm = joining(plan)
        assert (block.moves, arm.moves) == (("N",), ("M", "N"))
    (lifted,) = (step for step in waiting.steps if step.moves == ("M", "N"))
    assert [gate.joint for gate in lifted.gates] == ["J02"]
    assert lifted.stability is not None
    assert lifted.stability.needs_prop
    (lifted,) = (step for step in working.steps if step.moves == ("M", "N"))
    assert lifted.gates == ()
    assert [row.joint for row in lifted.on_bolts] == ["J02"]
    assert working.total_min < waiting.total_min - 60.0


def test_bolts_that_carry_alone_let_work_go_on_and_the_step_says_so() -> None:
    working = planned(_too_heavy_as_one())
    arm, block = joining(working)
    assert (arm.moves, block.moves) == (("M",), ("N",))
    assert block.gates == ()
    assert [row.joint for row in block.on_bolts] == ["J01"]
    assert min(block.on_bolts[0].slip_safety, block.on_bolts[0].gap_safety) >= 2.0
    assert any("J01" in note and "bolts" in note for note in block.notes)
    assert arm.stability is not None
    assert not arm.stability.needs_prop


def _too_heavy_as_one() -> Assembly:
    """A cantilever whose arm one person lifts, but not with its block on it."""
    made = hard.cantilever()
    made.changes |= {"work_on_bolts": True, "crew": Crew(people=1, lift_one_kg=1.4)}
    return made


def test_one_bolt_above_the_load_carries_nothing_alone() -> None:
    made = hard.cantilever(on_post=((0, 80),))
    made.changes["work_on_bolts"] = True
    plan = planned(made)
    assert "J01" not in {row.joint for step in plan.steps for row in step.on_bolts}
    arm = next(step for step in plan.steps if "M" in step.moves and step.bench == "B1")
    assert arm.stability is not None
    assert arm.stability.needs_prop


def test_work_on_bolts_that_slip_is_refuted() -> None:
    given = _too_heavy_as_one().given
    record = plan_record(plan_build(**given))
    for stack in (stack for step in record["steps"] for stack in step["stacks"] if stack["joint"] == "J01"):
        stack["torque_nm"] = 0.01
    codes = {finding.code for finding in verify_plan(record, given["meshes"], given["settings"].tolerances)}
    assert "hold-refuted" in codes


@pytest.mark.parametrize(
    ("slot_mm", "depth_mm", "is_reached"),
    [
        ((110.0, 60.0), 130.0, True),
        ((60.0, 110.0), 130.0, True),
        # Too low for any hand, and too deep for what is in front of the wrist.
        ((110.0, 30.0), 130.0, False),
        ((110.0, 60.0), 330.0, False),
        # Wide enough for hand and forearm.
        ((130.0, 130.0), 330.0, True),
    ],
)
def test_a_flat_hand_passes_a_flat_slot_to_the_wrist(
    slot_mm: tuple[float, float], depth_mm: float, is_reached: bool
) -> None:
    """MIL-STD-1472, arm and hand access: flat hand to the wrist 55 x 100, arm to the elbow 100 x 115 (from memory)."""
    plan = plan_build(**hard.slotted_box(slot_mm, depth_mm).given)
    (step,) = joining(plan)
    assert {access.is_reachable for access in step.access} == {is_reached}
    assert bool(stops(plan)) != is_reached
    is_flat = is_reached and max(slot_mm) < 115.0
    assert all(("flat hand" in access.nut) == is_flat for access in step.access)


def test_a_level_way_below_the_floor_is_left_as_it_is() -> None:
    # What lies lower than the floor of a bench, and moves along it, never meets it: no way is cut short.
    made = specimens.two_boxes()
    scene = scene_of(**made.given)
    paths = Paths(scene, candidate_directions(scene))
    upper, lower = scene.set_of(("B",)), scene.set_of(("A",))
    for number, direction in enumerate(paths.directions):
        if abs(direction[2]) < 1e-9:
            high = Floor((0.0, 0.0, 1.0), 500.0)
            assert paths.path(number, upper, lower, high) == paths.path(number, upper, lower)
