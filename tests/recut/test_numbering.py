from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import BenchId, JointId, PartId, SectionId, StepNumber, natural_key
from assembler.figure.joints import Place
from assembler.figure.plan import Gate, Hold, Plan, Step, StepKind
from assembler.projectfiles.planfile import as_written, plan_json, plan_record
from assembler.recut.numbering import keep_numbers
from tests.recut.tower import Recipe, plan

A = Recipe()


def _plan(jobs: Sequence[str], bench: str = "B1") -> Plan:
    """A plan with one step for each part, numbered from 1, each after the last."""
    steps = [
        Step(
            number=StepNumber(str(index)),
            title=f"Fit {job}",
            kind=StepKind.JOIN,
            place=Place.SHOP,
            bench=BenchId(bench),
            section=SectionId("S1"),
            after=(StepNumber(str(index - 1)),) if index > 1 else (),
            moves=(PartId(job),),
            joints=(JointId(f"J{job[1:]}"),),
        )
        for index, job in enumerate(jobs, 1)
    ]
    return Plan(figure_name="F", revision="A", parts=(), joints=(), steps=tuple(steps), sections=(), findings=())


def _issued(plan_: Plan) -> Plan:
    return as_written(plan_)


def _numbers(plan_: Plan) -> dict[str, str]:
    return {step.moves[0]: str(step.number) for step in plan_.steps}


def test_an_unchanged_plan_keeps_every_byte() -> None:
    first = plan(A)
    assert keep_numbers(first, _issued(first)) == first


def test_new_steps_between_twelve_and_thirteen_become_12a_and_12b() -> None:
    issued = _issued(_plan([f"P{index:02d}" for index in range(1, 21)]))
    jobs = [f"P{index:02d}" for index in range(1, 13)] + ["P31", "P32"] + [f"P{index:02d}" for index in range(13, 21)]
    kept = keep_numbers(_plan(jobs), issued)
    wanted = [str(n) for n in range(1, 13)] + ["12a", "12b"] + [str(n) for n in range(13, 21)]
    assert [step.number for step in kept.steps] == wanted
    assert kept.steps[12].after == ("12",)
    assert kept.steps[14].after == ("12b",)


def test_a_dropped_number_is_not_used_again_even_two_books_later() -> None:
    first = _issued(_plan(["P01", "P02", "P03"]))
    second_plan = keep_numbers(_plan(["P01", "P31", "P03", "P32"]), first)
    assert [step.number for step in second_plan.steps] == ["1", "2a", "3", "4"]
    second = _issued(second_plan)
    third = keep_numbers(_plan(["P01", "P33", "P03", "P34"]), second, earlier=[first])
    assert [step.number for step in third.steps] == ["1", "2b", "3", "5"]


def test_steps_before_the_first_and_numbers_inside_numbers() -> None:
    first = _issued(_plan(["P01", "P02"]))
    second_plan = keep_numbers(_plan(["P30", "P01", "P31", "P32", "P02"]), first)
    assert [step.number for step in second_plan.steps] == ["0a", "1", "1a", "1b", "2"]
    third = keep_numbers(_plan(["P30", "P01", "P31", "P40", "P32", "P02"]), _issued(second_plan), earlier=[first])
    assert [step.number for step in third.steps] == ["0a", "1", "1a", "1aa", "1b", "2"]
    fourth = keep_numbers(
        _plan(["P30", "P01", "P50", "P31", "P51", "P40", "P32", "P02"]), _issued(third), earlier=[first]
    )
    numbers = [step.number for step in fourth.steps]
    assert numbers == ["0a", "1", "1.1", "1a", "1a.1", "1aa", "1b", "2"]
    assert numbers == sorted(numbers, key=natural_key)


def test_more_new_steps_than_letters_still_sort() -> None:
    first = _issued(_plan(["P01", "P02"]))
    jobs = ["P01", *(f"P{index}" for index in range(100, 160)), "P02"]
    numbers = [step.number for step in keep_numbers(_plan(jobs), first).steps]
    assert numbers == sorted(numbers, key=natural_key)
    assert len(set(numbers)) == 62
    assert numbers[24:28] == ["1x", "1y", "1za", "1zb"]


def test_every_reference_follows_the_numbers() -> None:
    issued = _issued(_plan(["P01", "P02", "P03"]))
    jobs = _plan(["P01", "P31", "P02", "P03"])
    hold = Hold(minutes=10.0, joints=(JointId("J31"),), before=(StepNumber("3"),), reason="handling strength")
    steps = list(jobs.steps)
    steps[1] = replace(steps[1], hold=hold, image="step-2.png")
    steps[2] = replace(steps[2], gates=(Gate(joint=JointId("J31"), step=StepNumber("2")),))
    kept = keep_numbers(replace(jobs, steps=tuple(steps)), issued)
    assert [step.number for step in kept.steps] == ["1", "1a", "2", "3"]
    assert kept.steps[1].hold == replace(hold, before=(StepNumber("2"),))
    assert kept.steps[1].image == "step-1a.png"
    assert kept.steps[2].gates == (Gate(joint=JointId("J31"), step=StepNumber("1a")),)


def test_a_file_that_is_called_like_a_step_or_a_bench_keeps_its_name() -> None:
    issued = _issued(_plan(["P01", "P02", "P03"], bench="B2"))
    said = "step 3 bracket on bench B1"
    jobs = [
        replace(step, title=f"Fit {said}", notes=(said,), why=(said,))
        for step in _plan(["P01", "P31", "P02", "P03"]).steps
    ]
    finding = Finding(level=Level.WARN, code="x", about=(said, "P02"), message=said, remedy=said)
    kept = keep_numbers(replace(_plan([]), steps=tuple(jobs), findings=(finding,)), issued)
    assert [(step.number, step.bench) for step in kept.steps] == [("1", "B2"), ("1a", "B2"), ("2", "B2"), ("3", "B2")]
    assert {(step.title, step.notes, step.why) for step in kept.steps} == {(f"Fit {said}", (said,), (said,))}
    assert kept.findings == (finding,)


def test_a_step_that_moves_the_same_part_keeps_its_number_when_its_joint_is_another() -> None:
    issued = _issued(plan(A))
    split = replace(
        A, cuts=(0.0, 120.0, 180.0, 240.0, 360.0, 480.0), tubes=("P01", "P07", "P08", "P03", "P04"),
        joints=("J06", "J07", "J08", "J03"), arms_on=3,
    )  # fmt: skip
    kept = keep_numbers(plan(split), issued)
    assert [(step.number, step.title) for step in kept.steps] == [
        ("1a", "Fit P07"),
        ("1b", "Fit P08"),
        ("2", "Fit P03"),
        ("3", "Fit P05"),
        ("4", "Fit P06"),
        ("5", "Fit P04"),
        ("6", "Fill the seams"),
        ("7", "Sand"),
    ]


def test_benches_that_do_not_wait_for_each_other_go_back_to_the_issued_order() -> None:
    first = _plan(["P01", "P02"]).steps
    second = [
        replace(step, number=StepNumber(number), after=())
        for step, number in zip(_plan(["P03", "P04"], bench="B2").steps, "34", strict=True)
    ]
    second[1] = replace(second[1], after=(StepNumber("3"),))
    whole = _plan([])
    issued = _issued(replace(whole, steps=(*first, *second)))
    shuffled = replace(whole, steps=(second[0], first[0], second[1], first[1]))
    assert [step.number for step in keep_numbers(shuffled, issued).steps] == ["1", "2", "3", "4"]


@settings(max_examples=60, deadline=None)
@given(
    old=st.lists(st.integers(1, 25), unique=True, min_size=1, max_size=14),
    new=st.lists(st.integers(1, 25), unique=True, max_size=14),
)
def test_numbers_ascend_are_never_reused_and_as_many_as_can_be_are_kept(old: list[int], new: list[int]) -> None:
    issued = _issued(_plan([f"P{job:02d}" for job in old]))
    was = {step.moves[0]: step.number for step in issued.steps}
    kept = keep_numbers(_plan([f"P{job:02d}" for job in new]), issued)
    numbers = [step.number for step in kept.steps]
    assert numbers == sorted(set(numbers), key=natural_key)
    assert [step.moves[0] for step in kept.steps] == [f"P{job:02d}" for job in new]
    same = [part for part, number in _numbers(kept).items() if was.get(part) == number]
    reused = [part for part, number in _numbers(kept).items() if number in was.values() and was.get(part) != number]
    assert not reused
    assert len(same) == _longest_ascent([int(was[f"P{job:02d}"]) for job in new if f"P{job:02d}" in was])
    # Positions give the same references as before: each step still waits for the one in front of it.
    assert [step.after for step in kept.steps] == [(), *((number,) for number in numbers[:-1])][: len(numbers)]


def _longest_ascent(values: Sequence[int]) -> int:
    """Length of the longest ascending subsequence, by trying every way to go on (an oracle, not a method)."""
    best = 0
    chains: list[tuple[int, int]] = []
    for value in values:
        length = 1 + max((count for last, count in chains if last < value), default=0)
        chains.append((value, length))
        best = max(best, length)
    return best


def test_the_record_of_a_renumbered_plan_fits_the_schema() -> None:
    issued = _issued(plan(A))
    kept = keep_numbers(plan(replace(A, bolts={1: 8}, revision="B")), issued)
    assert json.loads(plan_json(kept)) == plan_record(kept)
