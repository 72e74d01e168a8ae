"""Assemblies whose answer is known beforehand: what the plan must say, and what it must not."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from assembler.figure.findings import Level
from assembler.figure.ids import PartId
from assembler.figure.joints import Place
from assembler.figure.plan import Plan, Step, StepKind
from assembler.figure.settings import Base, BaseWhen, Climate, Crew, Pins
from assembler.planning.order import explain, plan_build
from assembler.planning.standing import step_findings
from assembler.planning.verify import verify_plan
from assembler.projectfiles.planfile import plan_record
from tests import specimens
from tests.specimens import Assembly


def planned(made: Assembly) -> Plan:
    """The plan, verified: whatever it says can be done has been replayed."""
    given = made.given
    plan = plan_build(**given)
    plan = replace(plan, findings=(*plan.findings, *step_findings(plan, given["settings"].base)))
    refuted = verify_plan(plan_record(plan), given["meshes"], given["settings"].tolerances)
    assert refuted == ()
    return plan


def joining(plan: Plan) -> list[Step]:
    return [step for step in plan.steps if step.moves]


def arrival(plan: Plan, part: str) -> int:
    """Place in the order at which a part arrives on the main bench; -1 for what lies there at the start."""
    for place, step in enumerate(plan.steps):
        if part in step.moves and step.bench == "B1":
            return place
    return -1


def stops(plan: Plan) -> dict[str, tuple[str, ...]]:
    return {finding.code: finding.about for finding in plan.findings if finding.level is Level.STOP}


def test_two_boxes_go_straight_down() -> None:
    plan = planned(specimens.two_boxes())
    (step,) = joining(plan)
    assert step.moves == ("B",)
    assert step.path[-1].direction == (0.0, 0.0, -1.0)
    assert not stops(plan)
    assert {access.head_part for access in step.access} == {"B"}


def test_stack_grows_upwards_and_waits_for_each_bond() -> None:
    plan = planned(specimens.stack(5))
    main = [step for step in joining(plan) if step.bench == "B1"]
    assert sorted(part for step in main for part in step.moves) == ["P02", "P03", "P04", "P05"]
    for earlier, later in zip(main, main[1:], strict=False):
        assert max(earlier.moves) < min(later.moves)
        assert later.start_min >= earlier.end_min + 120.0 - 1e-6


def test_ring_of_four_closes() -> None:
    plan = planned(specimens.ring_of_four())
    assert not stops(plan)
    assert sorted(joint for step in plan.steps for joint in step.joints) == [f"J{k:02d}" for k in range(1, 9)]


def test_last_closure_of_a_closed_box_is_found_and_named() -> None:
    plan = planned(specimens.closed_box())
    found = stops(plan)
    assert "last-closure" in found
    last = joining(plan)[-1]
    unreachable = {access.bolt for step in plan.steps for access in step.access if not access.is_reachable}
    assert unreachable
    assert unreachable <= set(found["last-closure"])
    assert unreachable <= {access.bolt for access in last.access}
    assert all(step.access for step in joining(plan))


def test_a_hand_hole_opens_the_closed_box() -> None:
    plan = planned(specimens.closed_box(hole_mm=240.0))
    assert not stops(plan)
    assert all(access.is_reachable for step in plan.steps for access in step.access)


def test_dovetail_slides_along_its_groove_and_the_keeper_comes_after() -> None:
    plan = planned(specimens.dovetail_with_keeper())
    assert arrival(plan, "S") < arrival(plan, "K")
    (slide,) = (step for step in plan.steps if step.moves == ("S",))
    assert slide.path[-1].direction == pytest.approx((-1.0, 0.0, 0.0), abs=1e-6)


def test_ring_goes_on_its_post_before_the_cap() -> None:
    plan = planned(specimens.ring_on_post())
    assert not stops(plan)
    assert arrival(plan, "R") < arrival(plan, "C")


def test_linked_hooks_are_said_to_have_no_straight_path() -> None:
    plan = planned(specimens.linked_hooks())
    assert set(stops(plan)) == {"no-straight-path"}
    message = next(finding.message for finding in plan.findings if finding.code == "no-straight-path")
    assert "A" in message
    assert "B" in message
    assert all(not step.path for step in joining(plan))


def test_arch_needs_centring_until_it_is_closed() -> None:
    made = specimens.arch()
    # Stones that one person cannot lift together: else the arch would be joined on a bench and set down in one lift.
    made.changes["crew"] = Crew(people=2, lift_one_kg=4.0)
    # A warm night: short holds would count at a cold one, and waiting for the columns would cost more than props.
    made.changes["climate"] = Climate(night_min_c=20.0)
    plan = planned(made)
    main = [step for step in joining(plan) if step.bench == "B1" and {"P3", "P4", "P5"} & set(step.moves)]
    *open_steps, closing = main
    assert open_steps
    assert all(step.stability is not None and step.stability.needs_prop for step in open_steps)
    assert closing.moves == ("P5",)
    assert set(closing.joints) == {"J05", "J06"}
    assert "pin-impossible" not in stops(plan)


@pytest.mark.parametrize("shift_mm", [30.0, 24.0, 10.0])
def test_eccentric_tower_tips_at_the_level_that_statics_says(shift_mm: float) -> None:
    plan = planned(specimens.eccentric_tower(6, shift_mm))
    angles = []
    for step in joining(plan):
        if step.bench != "B1":
            continue
        count = len(step.onto) + len(step.moves)
        # n cubes lean by (n - 1) shift / 2 and have their centre at n x 50; the lowest face ends 50 mm from its axis.
        expected = math.degrees(math.atan2(50.0 - (count - 1) * shift_mm / 2.0, count * 50.0))
        assert step.stability is not None
        assert step.stability.tip_deg == pytest.approx(expected, abs=0.01)
        angles.append(expected)
    assert any(finding.code in ("tips", "falls") for finding in plan.findings) == (min(angles) < 5.0)


STEPS = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)]


def leaves_straight(piece: set[tuple[int, int, int]], rest: set[tuple[int, int, int]]) -> bool:
    """Whether a set of cells leaves the rest along an axis, cell by cell."""
    return any(
        not any((x + k * a, y + k * b, z + k * c) in rest for x, y, z in piece for k in range(1, 8))
        for a, b, c in STEPS
    )


def test_burr_is_opened_by_its_key() -> None:
    cells = specimens.burr_cells()
    free = [k for k in range(6) if leaves_straight(cells[k], set().union(*(cells[:k] + cells[k + 1 :])))]
    assert free == [0]
    plan = planned(specimens.burr())
    assert not stops(plan)
    assert joining(plan)[-1].moves == ("P1",)


def test_mirrored_twins_are_treated_alike() -> None:
    plan = planned(specimens.mirrored_twins())
    left, right = (next(step for step in plan.steps if step.moves == (name,)) for name in ("L", "R"))
    assert left.path[-1].direction[0] == pytest.approx(-right.path[-1].direction[0])
    assert left.path[-1].travel_mm == right.path[-1].travel_mm
    assert left.minutes == right.minutes
    assert left.stability is not None
    assert right.stability is not None
    assert left.stability.needs_prop == right.stability.needs_prop


def test_arm_goes_in_before_the_second_half_of_the_shoulder() -> None:
    plan = planned(specimens.arm_in_shoulder())
    assert not stops(plan)
    halves = [joint for step in plan.steps for joint in step.joints]
    # J03 closes the shoulder; the arm's two joints cannot both come after it.
    assert halves.index("J03") >= min(halves.index("J04"), halves.index("J05"))
    places = sorted(("B", "C", "M"), key=lambda part: arrival(plan, part))
    assert places[-1] != "M"


def test_sealed_figure_is_reported() -> None:
    plan = planned(specimens.sealed_tower())
    assert "last-closure" in stops(plan)
    message = next(finding for finding in plan.findings if finding.code == "last-closure")
    assert message.remedy


def test_tower_is_built_and_every_bolt_is_reached() -> None:
    plan = planned(specimens.tower(3))
    assert not stops(plan)
    bolts = [access.bolt for step in plan.steps for access in step.access]
    assert len(bolts) == len(set(bolts)) == 18
    for step in joining(plan):
        assert explain(plan, step.number)


def test_shuffled_input_changes_nothing() -> None:
    given = specimens.tower(2).given
    turned = given | {
        "parts": tuple(reversed(given["parts"])),
        "joints": tuple(reversed(given["joints"])),
        "meshes": dict(reversed(given["meshes"].items())),
        "stacks": tuple(reversed(given["stacks"])),
    }
    assert plan_record(plan_build(**given)) == plan_record(plan_build(**turned))


def test_pins_are_kept() -> None:
    made = specimens.mirrored_twins()
    made.changes["pins"] = Pins(after=((PartId("L"), PartId("R")),))
    plan = planned(made)
    assert arrival(plan, "L") > arrival(plan, "R")
    made.changes["pins"] = Pins(after=((PartId("R"), PartId("L")),))
    plan = planned(made)
    assert arrival(plan, "R") > arrival(plan, "L")


def test_a_piece_pinned_apart_comes_as_one() -> None:
    made = specimens.tower(2)
    made.changes["pins"] = Pins(apart=((PartId("P04"), PartId("P05")),))
    plan = planned(made)
    assert ("P04", "P05") in [step.moves for step in plan.steps]


def test_impossible_pins_are_a_finding() -> None:
    made = specimens.mirrored_twins()
    pair = (PartId("L"), PartId("R"))
    made.changes["pins"] = Pins(after=(pair, pair[::-1]))
    plan = planned(made)
    assert "pin-impossible" in stops(plan)


def test_a_part_without_joints_is_named() -> None:
    made = specimens.mirrored_twins()
    made.solids["Z"] = specimens.box((500, 500, 0), (550, 550, 50))
    given = made.given
    plan = plan_build(**given)
    assert stops(plan)["floating-part"] == ("Z",)


def test_verify_refutes_what_is_changed() -> None:
    given = specimens.dovetail_with_keeper().given
    plan = plan_build(**given)
    good = plan_record(plan)
    tolerances = given["settings"].tolerances
    assert verify_plan(good, given["meshes"], tolerances) == ()

    def codes(change: object) -> set[str]:
        steps = [change(step) if callable(change) else step for step in plan.steps]
        record = plan_record(replace(plan, steps=tuple(steps)))
        return {finding.code for finding in verify_plan(record, given["meshes"], tolerances)}

    def lifted(step: Step) -> Step:
        if step.moves != ("S",):
            return step
        return replace(step, path=tuple(replace(move, direction=(0.0, 0.0, -1.0)) for move in step.path))

    assert "movement-refuted" in codes(lifted)
    assert "joint-refuted" in codes(lambda step: replace(step, joints=()))
    assert "bolt-refuted" in codes(lambda step: replace(step, access=()))
    assert "hardware-refuted" in codes(lambda step: replace(step, hardware=()))
    assert "order-refuted" in codes(lambda step: replace(step, start_min=0.0, end_min=step.minutes))


def test_verify_refutes_a_hold_that_is_cut_short() -> None:
    given = specimens.stack(3).given
    plan = plan_build(**given)
    early = [
        step if number < 2 else replace(step, start_min=step.start_min - 100) for number, step in enumerate(plan.steps)
    ]
    record = plan_record(replace(plan, steps=tuple(early)))
    found = verify_plan(record, given["meshes"], given["settings"].tolerances)
    assert {finding.code for finding in found} == {"hold-refuted"}


def test_figure_meets_its_base_last_where_figure_toml_says_so() -> None:
    made = specimens.stack(4)
    made.changes["base"] = Base(when=BaseWhen.AFTER_FINISH, part=PartId("P01"))
    plan = planned(made)
    *others, setting, last = plan.steps
    assert last.kind is StepKind.BASE
    assert last.onto == ("P01",)
    assert last.moves == ("P02", "P03", "P04")
    assert (setting.kind, setting.moves, setting.onto) == (StepKind.BASE, (), ("P01",))
    assert setting.title == "Set the base P01 down and level it"
    assert setting.number in last.after
    assert all("P01" not in step.onto for step in others)


def test_a_base_that_comes_last_on_site_is_set_down_for_the_trial_fit_too() -> None:
    made = specimens.stack(3)
    made.joints[0] = replace(made.joints[0], made=Place.SITE)
    made.changes["base"] = Base(when=BaseWhen.AFTER_FINISH, part=PartId("P01"))
    setting = [step for step in planned(made).steps if step.title == "Set the base P01 down and level it"]
    assert [step.place for step in setting] == [Place.SHOP, Place.SITE]


def test_a_step_comes_after_those_steps_only_that_no_other_one_implies() -> None:
    made = specimens.stack(5)
    made.joints[1] = replace(made.joints[1], made=Place.SITE)
    plan = planned(made)
    steps = {step.number: step for step in plan.steps}
    before: dict[str, set[str]] = {}
    for step in plan.steps:
        before[step.number] = {*step.after}.union(*(before[name] for name in step.after))
        assert not any(before[one] & {*step.after} for one in step.after)
    # Every step on site comes after all that is done in the shop.
    shop = {number for number, step in steps.items() if step.place is Place.SHOP}
    assert all(shop <= before[number] for number, step in steps.items() if step.place is Place.SITE)


def test_site_joints_are_tried_in_the_shop_opened_and_closed_on_site() -> None:
    made = specimens.stack(4)
    made.joints[1] = replace(made.joints[1], made=Place.SITE)
    plan = planned(made)
    assert [section.parts for section in plan.sections] == [("P01", "P02"), ("P03", "P04")]
    kinds = [step.kind for step in plan.steps if step.moves == ("P03", "P04")]
    assert kinds == [StepKind.DRY_FIT, StepKind.OPEN, StepKind.JOIN]
    assert plan.steps[-1].place is Place.SITE
    assert all(step.place is Place.SHOP for step in plan.steps[:-1])
