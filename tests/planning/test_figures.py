"""Figures whose order a builder knows: what stands is not lifted for nothing, rings and limbs go on as one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from assembler.figure.findings import Level
from assembler.figure.ids import PartId
from assembler.figure.joints import Method, Place
from assembler.figure.plan import CarriedBy, LiftedBy, Plan, Step, StepKind
from assembler.figure.settings import Base, BaseWhen
from assembler.planning.order import explain, plan_build
from assembler.planning.standing import step_findings
from assembler.projectfiles.planfile import plan_json
from tests.planning import figures
from tests.planning.test_known_answers import joining, planned
from tests.specimens import Assembly, box


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


def test_a_bust_of_rings_grows_from_the_ground_though_a_closure_stays_out_of_reach() -> None:
    plan = plan_of("bust")
    assert is_grounded(plan, heights(figures.bust()))
    assert [min(moves) for moves in main_moves(plan)][:3] == ["P02", "P03", "P04"]
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
    plan = plan_of("short bust open below")
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    heavy = max((step.lift for step in plan.steps if step.lift), key=lambda lift: lift.mass_kg)
    assert heavy.mass_kg > 20.0
    assert heavy.people == 0


def test_a_standing_figure_grows_from_its_feet_and_its_head_goes_on_as_one() -> None:
    plan = plan_of("standing")
    assert is_grounded(plan, heights(figures.standing_figure()))
    arrivals = {part: place for place, moves in enumerate(main_moves(plan)) for part in moves}
    legs = [arrivals.get(f"{side}{k}", -1) for side in "LR" for k in (1, 2, 3)]
    assert max(legs) < arrivals["H"] < arrivals["T"] < arrivals["F"]
    assert ("F", "G", "N") in main_moves(plan)
    assert min(arrivals["A"], arrivals["B"]) > arrivals["H"]
    heaviest = max((step.lift for step in joining(plan) if step.lift), key=lambda lift: lift.mass_kg)
    assert heaviest.people == 2
    assert heaviest.mass_kg < 20.0


def test_a_seated_animal_stands_on_all_it_has_before_its_chest_comes_and_its_tail_grows_on_the_ground() -> None:
    plan = plan_of("animal")
    moves = main_moves(plan)
    assert is_grounded(plan, heights(figures.seated_animal()))
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    places = {part: place for place, arriving in enumerate(moves) for part in arriving}
    # The haunches lie there first: nothing heavy is brought to a tail of 1 kg.
    assert "B1" not in places
    assert places["T1"] < places["T2"]
    assert max(places["L1"], places["R1"]) < places["B2"]
    assert any({"H1", "H2"} <= {*arriving} for arriving in moves[places["B2"] + 1 :])
    # One person brings all but the chest.
    people = {step.moves: step.lift.people for step in joining(plan) if step.lift}
    assert {arriving for arriving, count in people.items() if count != 1} == {("B2",)}


def test_a_limb_of_a_tree_goes_on_as_one_propped_and_the_whole_is_put_up_with_its_base() -> None:
    plan = plan_of("tree")
    assert is_grounded(plan, heights(figures.tree()))
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    (limb,) = (step for step in joining(plan) if step.moves == ("A1", "A2", "A3"))
    assert limb.stability is not None
    assert limb.stability.needs_prop
    assert {"J04", "J05"} <= {gate.joint for gate in limb.gates}
    last = plan.steps[-1]
    assert last.lift is not None
    assert last.lift.mass_kg == pytest.approx(36.0 + sum(part.mass_kg for part in plan.parts))
    assert last.carried_by is CarriedBy.BASE


def test_the_keystone_is_last() -> None:
    plan = plan_of("arch")
    assert main_moves(plan)[-1] == ("P5",)
    assert {moves for moves in main_moves(plan)[:2]} == {("P1",), ("P2",)}


def test_a_lamp_that_may_be_turned_is_built_lying() -> None:
    plan = plan_of("lamp")
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    assert all(step.up[2] == 0.0 for step in joining(plan))
    # What lies is joined by bringing the single ring, two people's load, to the piece that no two people lift.
    assert all(step.lift is not None and step.lift.people == 2 for step in joining(plan))
    assert [len(step.onto) for step in joining(plan)] == [1, 2, 3]


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
    assert step.moves == ("P02",)
    assert step.up == (0.0, 0.0, -1.0)
    assert step.path[-1].direction == pytest.approx((0.0, 0.0, 1.0))


def test_a_floor_closed_on_site_goes_in_under_what_is_lifted_on_stands() -> None:
    plan = plan_of("floor on site")
    (step,) = lifts(plan)
    assert step.title == "Lift P01 and P03 by 50 mm on stands and bring P02 in under P01"
    assert step.lift is not None
    assert (step.lift.by, step.lift.parts, step.carried_by) == (LiftedBy.STANDS, ("P01", "P03"), CarriedBy.STANDS)
    assert step.lift.mass_kg == pytest.approx(sum(p.mass_kg for p in plan.parts if p.id in ("P01", "P03")))
    # 10 mm of floor and 40 mm of room for it.
    assert step.lift.height_mm == pytest.approx(50.0)
    assert sorted(stand.at_mm for stand in step.stands) == [
        (x, y, 0.0) for x in (-250.0, 250.0) for y in (-200.0, 200.0)
    ]
    assert {stand.height_mm for stand in step.stands} == {50.0}
    assert [gate.joint for gate in step.gates] == ["J02"]
    assert step.stability is not None
    assert step.stability.needs_prop
    # The stands are under P01: nothing hangs on the glue above it.
    assert not step.peels


def test_a_plan_with_lifts_is_written_and_fits_the_schema() -> None:
    for name in ("bust", "leaning tower", "floor on site"):
        assert '"height_mm"' in plan_json(plan_of(name))


def test_the_order_does_not_hang_on_the_base_being_named() -> None:
    made = figures.bust()
    made.base = "P01"
    named = planned(made)
    assert [step.moves for step in joining(named)] == [step.moves for step in joining(plan_of("bust"))]


def lifts(plan: Plan) -> list[Step]:
    """Steps that lift what stood."""
    lifted_off = (CarriedBy.HANDS, CarriedBy.HOIST, CarriedBy.STANDS)
    return [step for step in joining(plan) if step.kind is StepKind.JOIN and step.carried_by in lifted_off]


def test_where_what_stands_has_to_be_lifted_the_step_says_its_whole_mass_and_waits_for_every_joint_in_it() -> None:
    plan = plan_of("bust from the crown")
    (step,) = lifts(plan)
    assert step.lift is not None
    assert step.lift.parts == step.moves == ("P03", "P04")
    assert step.lift.mass_kg == pytest.approx(sum(p.mass_kg for p in plan.parts if p.id in ("P03", "P04")))
    assert step.lift.by is LiftedBy.HOIST
    assert step.carried_by is CarriedBy.HOIST
    # The upper half of four rings of 500 mm ends at 1000 mm.
    assert step.lift.height_mm > 1000.0
    assert "J03" in [gate.joint for gate in step.gates]
    assert not [finding for finding in plan.findings if finding.code == "peels"]


def test_glue_without_bolts_peels_when_what_stands_is_lifted() -> None:
    plan = plan_of("glued bust from the crown")
    (step,) = lifts(plan)
    peeling = [finding for finding in plan.findings if finding.code == "peels"]
    assert [finding.about for finding in peeling] == [(f"step {step.number}", "J03")]
    assert all(finding.level is Level.STOP for finding in peeling)


STATED = Base(size_mm=(900.0, 900.0, 60.0), mass_kg=30.0)


def with_base(base: Base, rings: int = 3) -> Plan:
    made = figures.bust(rings=rings)
    made.changes["base"] = base
    return planned(made)


def test_a_stated_base_is_set_first_and_the_order_is_the_one_without_it() -> None:
    plan, plain = with_base(STATED), with_base(Base())
    first = plan.steps[0]
    assert (first.kind, first.moves, first.onto) == (StepKind.BASE, (), ("P01",))
    assert first.title == "Set the base down, level it and stand P01 on it"
    assert "900 x 900 x 60 mm, 30 kg" in first.notes[0]
    assert "nothing holds" in first.notes[-1]
    assert first.lift is not None
    assert first.lift.mass_kg == 30.0
    assert [(step.moves, step.onto, step.up) for step in plan.steps[1:]] == [
        (step.moves, step.onto, step.up) for step in plain.steps[:-1]
    ]


def test_without_base_and_anchors_the_figure_is_stood_on_the_floor_and_somebody_is_asked() -> None:
    plan = with_base(Base())
    last = plan.steps[-1]
    assert (last.kind, last.place, last.moves) == (StepKind.BASE, Place.SITE, ())
    assert last.title == "Stand P01, P02 and P03 in place on the floor and level"
    assert [gate.joint for gate in last.gates] == ["J01", "J02"]
    assert "Only its own weight holds it" in last.notes[-1]
    (finding,) = (finding for finding in plan.findings if finding.code == "ground-undecided")
    assert finding.about == (f"step {last.number}",)
    assert not [finding for finding in with_base(STATED).findings if finding.code == "ground-undecided"]


def test_on_site_the_lower_section_is_stood_on_the_floor_before_anything_is_set_on_it() -> None:
    made = figures.bust(rings=3)
    made.joints[-1] = replace(made.joints[-1], made=Place.SITE)
    on_site = [step for step in planned(made).steps if step.place is Place.SITE]
    assert [(step.kind, step.onto) for step in on_site] == [
        (StepKind.BASE, ("P01", "P02")),
        (StepKind.JOIN, ("P01", "P02")),
    ]


def test_a_base_gives_the_same_order_with_a_mesh_and_by_size_and_mass() -> None:
    meshed = figures.bust(rings=3)
    meshed.solids["Z01"] = box((-450, -450, -60), (450, 450, 0))
    meshed.base = "Z01"
    meshed.join("Z01", "P01", (250, 0, 0), (0, 0, 1), method=Method.DRY)
    with_mesh = [(step.moves, step.up) for step in joining(planned(meshed))]
    stated = [(step.moves, step.up) for step in joining(with_base(STATED))]
    assert with_mesh == [(("P01",), (0.0, 0.0, 1.0)), *stated]


def test_what_can_only_be_closed_lying_is_stood_on_its_stated_base_when_it_is_whole() -> None:
    made = figures.bust(rings=4, height_mm=1300.0, is_closed=False)
    made.changes["base"] = STATED
    plan = planned(made)
    assert not [finding for finding in plan.findings if finding.level is Level.STOP]
    assert {step.up[2] for step in joining(plan)} == {0.0}
    assert plan.steps[-1].title == "Set the base down, level it and stand the finished figure on it"


def test_a_stated_base_carries_what_stands_on_it() -> None:
    plan, plain = with_base(STATED), with_base(Base())
    assert all(step.carried_by is CarriedBy.BASE for step in plan.steps if step.bench == "B1")
    wide, narrow = (joining(one)[-1].stability for one in (plan, plain))
    assert wide is not None
    assert narrow is not None
    assert wide.tip_deg > narrow.tip_deg + 5.0


def test_a_figure_that_meets_a_stated_base_last_is_stood_on_it_when_every_joint_is_free() -> None:
    plan = with_base(replace(STATED, when=BaseWhen.AFTER_FINISH))
    last = plan.steps[-1]
    assert last.title == "Set the base down, level it and stand P01, P02 and P03 on it"
    assert [gate.joint for gate in last.gates] == ["J01", "J02"]
    assert all(step.carried_by is not CarriedBy.BASE for step in plan.steps[:-1])


def test_a_tower_that_falls_stands_on_a_stated_base_that_is_wide_enough() -> None:
    made = figures.leaning_tower()
    made.changes["base"] = replace(STATED, when=BaseWhen.AFTER_FINISH)
    last = planned(made).steps[-1]
    assert last.stability is not None
    assert not last.stability.needs_prop


def test_anchors_are_a_step_on_site_that_waits_for_every_joint_and_says_that_nothing_holds_before() -> None:
    last = with_base(Base(anchors=4, anchor_size="M12")).steps[-1]
    assert (last.kind, last.place, last.moves) == (StepKind.BASE, Place.SITE, ())
    assert last.title == "Stand P01, P02 and P03 in place, level and bolt down to the anchors"
    assert [gate.joint for gate in last.gates] == ["J01", "J02"]
    assert "M12 nuts on all 4 anchors" in last.notes[-1]
    assert "nothing holds" in last.notes[-1]


def test_what_comes_to_the_site_first_is_anchored_before_anything_is_set_on_it() -> None:
    made = figures.bust(rings=3)
    made.base = "P01"
    made.joints[-1] = replace(made.joints[-1], made=Place.SITE)
    made.changes["base"] = Base(part=PartId("P01"), anchors=4)
    plan = planned(made)
    on_site = [step for step in plan.steps if step.place is Place.SITE]
    assert [step.kind for step in on_site] == [StepKind.BASE, StepKind.JOIN]
    assert on_site[0].onto == ("P01", "P02")
    assert not any(step.kind is StepKind.DRY_FIT and not step.moves for step in plan.steps)


def test_a_tower_that_is_turned_upright_falls_too() -> None:
    made = figures.leaning_tower()
    made.base = None
    plan = planned(made)
    assert plan.steps[-2].kind is StepKind.TURN
    (finding,) = (finding for finding in step_findings(plan, Base()) if finding.code == "falls")
    assert "14 mm outside" in finding.message


def test_why_a_step_stands_there_says_what_the_best_order_without_it_is_weighed_at() -> None:
    plan = plan_of("bust in halves")
    ring = next(step for step in plan.steps if step.moves == ("P03", "P04"))
    assert ring.other_order is not None
    dearer = ring.other_order.dearer_min
    assert dearer is not None
    assert dearer > 1000.0
    begin = "the best order of bench B1 with another step here"
    said = next(line for line in explain(plan, ring.number) if line.startswith(begin))
    assert f"weighed {dearer:.0f} min dearer as a whole" in said
    last = plan.steps[-1]
    assert last.other_order is None
