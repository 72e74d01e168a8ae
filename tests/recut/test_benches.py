from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assembler.figure.ids import BenchId, PartId, SectionId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.plan import Heading, Plan, Step, StepKind
from assembler.figure.titles import titled
from assembler.projectfiles.planfile import as_written
from assembler.recut.compare import compare_plans
from assembler.recut.numbering import keep_numbers, with_issued_benches


def _plan(jobs: Sequence[tuple[str, str]]) -> Plan:
    steps = tuple(
        titled(
            Step(
                number=StepNumber(str(index)),
                title="",
                heading=Heading(names=(part,), bench=BenchId(bench)),
                kind=StepKind.JOIN,
                place=Place.SHOP,
                bench=BenchId(bench),
                section=SectionId("S1"),
                moves=(PartId(part),),
            )
        )
        for index, (part, bench) in enumerate(jobs, 1)
    )
    return Plan(figure_name="F", revision="A", parts=(), joints=(), steps=steps, sections=(), findings=())


def test_benches_keep_their_names_when_the_planner_numbers_them_otherwise() -> None:
    first = _plan([("P01", "B1"), ("P02", "B2"), ("P03", "B2"), ("P04", "B3")])
    issued = as_written(first)
    other = _plan([("P01", "B1"), ("P02", "B3"), ("P03", "B3"), ("P04", "B2")])
    assert keep_numbers(other, issued) == first
    assert compare_plans(issued, as_written(keep_numbers(other, issued))).is_empty


def test_a_new_bench_takes_no_name_that_was_issued() -> None:
    issued = as_written(_plan([("P01", "B1"), ("P02", "B2"), ("P04", "B3")]))
    steps = with_issued_benches(_plan([("P01", "B1"), ("P02", "B3"), ("P09", "B2")]).steps, issued)
    assert [step.bench for step in steps] == ["B1", "B2", "B4"]
    assert [step.title for step in steps] == [
        f"Set the piece of bench {bench} ({part}) down at its place on the ground"
        for part, bench in (("P01", "B1"), ("P02", "B2"), ("P09", "B4"))
    ]


def test_the_larger_share_of_jobs_decides_and_no_name_is_given_twice() -> None:
    issued = as_written(_plan([("P01", "B1"), ("P02", "B1"), ("P03", "B1"), ("P04", "B2")]))
    steps = with_issued_benches(_plan([("P01", "B2"), ("P02", "B1"), ("P03", "B1"), ("P04", "B2")]).steps, issued)
    assert [step.bench for step in steps] == ["B2", "B1", "B1", "B2"]
    steps = with_issued_benches(_plan([("P01", "B1"), ("P02", "B3"), ("P03", "B3")]).steps, issued)
    assert [step.bench for step in steps] == ["B3", "B1", "B1"]


def test_a_file_that_is_called_like_a_bench_or_a_joint_keeps_its_name_in_the_title() -> None:
    issued = as_written(_plan([("P01", "B1"), ("P02", "B2")]))
    planned = _plan([("P01", "B1"), ("P02", "B3"), ("P09", "B2")])
    named = [
        titled(replace(step, heading=Heading(names=(f"{step.moves[0]} J03 plate of bench B3",), onto=(PartId("P01"),))))
        for step in planned.steps
    ]
    steps = with_issued_benches(named, issued)
    assert [step.bench for step in steps] == ["B1", "B2", "B3"]
    assert [step.title for step in steps] == [
        f"Place {part} J03 plate of bench B3 at P01" for part in ("P01", "P02", "P09")
    ]
