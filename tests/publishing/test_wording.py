"""Short forms of long lists, and which waits are new."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.figure.ids import JointId, StepNumber
from assembler.figure.plan import Gate, Hold
from assembler.publishing.source import split_gates
from assembler.publishing.wording import merged, pattern, ranges
from tests.publishing import sample


@pytest.mark.parametrize(
    ("names", "said"),
    [
        ((), ""),
        (("J01",), "J01"),
        (("J01", "J02"), "J01, J02"),
        (("J03", "J01", "J02"), "J01–J03"),
        (("J08.1", "J08.2", "J08.3", "J08.5"), "J08.1–J08.3, J08.5"),
        (("P09", "P10", "P11", "step 2"), "P09–P11, step 2"),
        (("J01.9", "J02.10", "J02.11"), "J01.9, J02.10, J02.11"),
    ],
)
def test_ids_in_a_row_are_a_range(names: tuple[str, ...], said: str) -> None:
    assert ranges(names) == said


@given(st.sets(st.integers(1, 40)))
def test_ranges_lose_and_invent_nothing(numbers: set[int]) -> None:
    said = ranges(f"J{number:02d}" for number in numbers)
    found: set[int] = set()
    for piece in said.split(", ") if said else ():
        ends = [int(end.removeprefix("J")) for end in piece.split("–")]
        found |= set(range(ends[0], ends[-1] + 1))
    assert found == numbers


def test_texts_that_differ_in_numbers_are_merged() -> None:
    texts = ["393 mm inside, through what is open", "337 mm inside, through what is open"]
    assert len({pattern(text) for text in texts}) == 1
    assert merged(texts) == "337–393 mm inside, through what is open"
    assert merged(["from outside"]) == "from outside"


def test_a_wait_that_an_earlier_step_kept_is_not_new() -> None:
    first, second, third, *_ = sample.STEPS
    wait = Gate(joint=JointId("J01"), step=StepNumber("1"))
    later = replace(third, gates=(*third.gates, wait))
    plan = replace(sample.PLAN, steps=(first, second, later))
    new, kept = split_gates(plan, later)
    assert [gate.joint for gate in kept] == ["J01"]
    assert [gate.joint for gate in new] == ["J02", "J03"]


def test_a_wait_is_new_where_no_earlier_step_had_to_keep_it() -> None:
    first, second, third, *_ = sample.STEPS
    wait = Gate(joint=JointId("J01"), step=StepNumber("1"))
    apart = replace(third, after=(), gates=(wait,))
    new, kept = split_gates(replace(sample.PLAN, steps=(first, second, apart)), apart)
    assert (new, kept) == ([wait], [])


@pytest.mark.parametrize(("later_min", "is_over"), [(240.0, True), (239.0, False)])
def test_a_wait_is_over_when_a_joint_closed_later_holds_as_long(later_min: float, is_over: bool) -> None:
    first, second, third, *_ = sample.STEPS
    hold = sample.STEPS[0].hold or Hold(minutes=0.0, joints=(), before=(), reason="")
    first = replace(first, hold=replace(hold, minutes=240.0))
    second = replace(second, after=(first.number,), gates=(), hold=replace(hold, minutes=later_min))
    waits = tuple(Gate(joint=JointId(f"J0{k}"), step=step.number) for k, step in ((1, first), (2, second)))
    last = replace(third, after=(second.number,), gates=waits)
    new, over = split_gates(replace(sample.PLAN, steps=(first, second, last)), last)
    assert [gate.joint for gate in over] == (["J01"] if is_over else [])
    assert [gate.joint for gate in new] == (["J02"] if is_over else ["J01", "J02"])
    # Side by side neither outlasts the other.
    apart = replace(second, after=())
    assert split_gates(replace(sample.PLAN, steps=(first, apart, last)), last)[1] == []
