from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.figure.hardware import Bonding
from assembler.figure.ids import BenchId, JointId, SectionId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.plan import Gate, Hold, Plan, Step, StepKind
from assembler.recut.numbering import in_book_order
from tests.recut.tower import Recipe, plan


def _step(number: str, minutes: float, **more: object) -> Step:
    step = Step(
        number=StepNumber(number),
        title="",
        kind=StepKind.JOIN,
        place=Place.SHOP,
        bench=BenchId("B1"),
        section=SectionId("S1"),
        minutes=minutes,
    )
    return replace(step, **more)  # type: ignore[arg-type]


def _plan(*steps: Step) -> Plan:
    return Plan(figure_name="F", revision="A", parts=(), joints=(), steps=steps, sections=(), findings=())


def _glue(joint: str, handling_min: float) -> Bonding:
    return Bonding(
        joint=JointId(joint), name="", area_mm2=0.0, volume_ml=0.0, temperature_c=20.0, open_min=0.0, needed_min=0.0,
        fixture_min=0.0, handling_min=handling_min, full_cure_min=0.0,
    )  # fmt: skip


def test_one_crew_works_step_after_step_and_waits_at_gates() -> None:
    hold = Hold(minutes=240.0, joints=(JointId("J1"), JointId("J2")), before=(StepNumber("3"),), reason="")
    timed = in_book_order(
        _plan(
            _step("1", 10.0, hold=hold, adhesive=(_glue("J1", 100.0), _glue("J2", 240.0))),
            _step("2", 30.0),
            _step("3", 5.0, gates=(Gate(joint=JointId("J1"), step=StepNumber("1")),)),
            _step("4", 5.0, after=(StepNumber("2"),)),
        )
    )
    # Step 3 waits for J1 (10 + 100), not for the slower J2; the hold of step 1 ends last, at 10 + 240.
    assert [(step.start_min, step.end_min) for step in timed.steps] == [(0, 10), (10, 40), (110, 115), (115, 120)]
    assert timed.total_min == 250.0
    assert [step.is_critical for step in timed.steps] == [True, False, False, False]


def test_the_chain_without_slack_is_critical() -> None:
    timed = in_book_order(_plan(_step("1", 10.0), _step("2", 30.0), _step("3", 5.0)))
    assert timed.total_min == 45.0
    assert all(step.is_critical for step in timed.steps)


def test_an_empty_plan_takes_no_time() -> None:
    assert in_book_order(_plan()).total_min == 0.0


@pytest.mark.parametrize("bonded", [(), (0,), (0, 1, 2)])
def test_every_step_starts_after_what_it_waits_for(bonded: tuple[int, ...]) -> None:
    timed = in_book_order(plan(Recipe(bonded=bonded)))
    by_number = {step.number: step for step in timed.steps}
    for step in timed.steps:
        assert all(by_number[number].end_min <= step.start_min for number in step.after)
        for gate in step.gates:
            glue = next(dose for dose in by_number[gate.step].adhesive if dose.joint == gate.joint)
            assert by_number[gate.step].end_min + glue.handling_min <= step.start_min
