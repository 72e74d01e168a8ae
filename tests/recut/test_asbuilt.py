"""A part is cut again after step 9 of 20 is built."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from assembler.figure.findings import Level
from assembler.figure.ids import StepNumber, natural_key
from assembler.figure.plan import Hold, Plan, StepKind
from assembler.planning.recount import recount
from assembler.projectfiles.builtlog import BuiltStep
from assembler.projectfiles.planfile import as_written, plan_record
from assembler.recut.asbuilt import as_built, hold_end
from assembler.recut.compare import compare_plans
from assembler.recut.numbering import keep_numbers
from tests.recut.tower import Recipe, plan

TUBES = 17
A = Recipe(
    cuts=tuple(40.0 * n for n in range(TUBES + 1)),
    tubes=tuple(f"P{n:02d}" for n in range(1, TUBES + 1)),
    joints=tuple(f"J{n:02d}" for n in range(1, TUBES)),
    arms=("P30", "P31"),
    arm_joints=("J30", "J31"),
    arms_on=12,
)
B = replace(A, revision="B")
MORNING = datetime.datetime(2031, 5, 4, 8, 0)


def _issued(recipe: Recipe) -> Plan:
    return as_written(plan(recipe))


def _built(issued: Plan, numbers: Sequence[str]) -> list[BuiltStep]:
    steps = {str(step.number): step for step in issued.steps}
    return [
        BuiltStep(
            step=StepNumber(number),
            book=issued.revision,
            at=MORNING + datetime.timedelta(minutes=30 * index),
            temperature_c=18.5,
            joints=steps[number].joints,
            bolts=tuple(access.bolt for access in steps[number].access),
        )
        for index, number in enumerate(numbers)
    ]


ISSUED = _issued(A)
NINE = [str(n) for n in range(1, 10)]


def _continued(recipe: Recipe, issued: Plan, done: Sequence[str] = NINE) -> tuple[Plan, tuple[Any, ...]]:
    return as_built(keep_numbers(plan(recipe), issued), _built(issued, done), issued)


def _story(plan_: Plan) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(step.number, step.kind.value, step.moves) for step in plan_.steps]


def _is_done(plan_: Plan) -> list[str]:
    return [step.number for step in plan_.steps if step.notes and str(step.notes[0]).startswith("Done ")]


def test_twenty_steps() -> None:
    assert [step.number for step in ISSUED.steps] == [str(n) for n in range(1, 21)]


def test_done_steps_keep_their_place_and_say_when_they_were_done() -> None:
    continued, findings = _continued(B, ISSUED)
    assert findings == ()
    assert [step.number for step in continued.steps] == [str(n) for n in range(1, 21)]
    assert _is_done(continued) == NINE
    assert continued.steps[0].notes[0] == "Done 2031-05-04 08:00 at 18.5 C, from book A."


def test_that_steps_are_done_is_no_change_of_the_book() -> None:
    continued, _ = _continued(B, ISSUED)
    assert compare_plans(ISSUED, as_written(continued)).is_empty


def test_a_recut_of_parts_that_are_not_in_yet_opens_nothing() -> None:
    continued, findings = _continued(replace(B, bolts={11: 8}), ISSUED)
    assert findings == ()
    assert [step.number for step in continued.steps] == [str(n) for n in range(1, 21)]


def test_a_bolted_part_that_is_in_is_opened_and_fitted_again() -> None:
    # J10 gets eight bolts: P10, fitted in step 9, and P11, still to come, were cut again.
    continued, findings = _continued(replace(B, bolts={9: 8}), ISSUED)
    assert [(finding.level, finding.code, finding.about) for finding in findings] == [
        (Level.WARN, "opened-again", ("P10",))
    ]
    story = _story(continued)
    assert story[:8] == [(str(n), "join", (f"P{n + 1:02d}",)) for n in range(1, 9)]
    assert story[8:12] == [
        ("9a", "open", ("P10",)),
        ("9b", "join", ("P10",)),
        ("10", "join", ("P11",)),
        ("11", "join", ("P12",)),
    ]
    assert _is_done(continued) == NINE[:8]
    opening = continued.steps[8]
    assert opening.title == "Open J09 again and take out P10"
    assert opening.joints == ()
    assert opening.hardware == ()
    assert opening.path == plan(A).steps[8].path
    assert opening.lift is None
    assert opening.after == ("8",)
    mass = {part.id: part.mass_kg for part in plan(A).parts}
    assert opening.notes == (
        "Support P10 before the last bolt is out.",
        "Undo 6 x Hexagon head screw ISO 4017 - M8 x 35 - 8.8 of J09; put screws, washers and nuts back into bag J09.",
        "J09, 6 bolts: socket 13 mm; head from inside, through the open top; nut from inside, through the open top.",
        f"Take it out the way it came in: {mass['P10']:.2f} kg, 1 person.",
        "Out comes P10 of revision A. Where it was cut again, the picture shows the new cut.",
    )
    assert continued.steps[9].after == ("8", "9a")
    assert continued.steps[10].after == ("9b",)


def test_what_could_only_be_fitted_after_it_comes_off_first_and_goes_on_again() -> None:
    continued, _ = _continued(replace(B, bolts={6: 8}), ISSUED)
    # J07 joins P07 (step 6) and P08 (step 7): everything from step 6 up comes off, last one first.
    assert _story(continued)[:14] == [
        *((str(n), "join", (f"P{n + 1:02d}",)) for n in range(1, 6)),
        ("9a", "open", ("P10",)),
        ("9b", "open", ("P09",)),
        ("9c", "open", ("P08",)),
        ("9d", "open", ("P07",)),
        ("9e", "join", ("P07",)),
        ("9f", "join", ("P08",)),
        ("9g", "join", ("P09",)),
        ("9h", "join", ("P10",)),
        ("10", "join", ("P11",)),
    ]
    openings = [step for step in continued.steps if step.kind is StepKind.OPEN]
    assert [step.after for step in openings] == [("5",), ("9a",), ("9b",), ("9c",)]
    assert [set(step.onto) & {"P07", "P08", "P09", "P10"} for step in openings] == [
        {"P07", "P08", "P09"},
        {"P07", "P08"},
        {"P07"},
        set(),
    ]


def test_a_bonded_part_that_is_in_stops_with_options() -> None:
    bonded = replace(A, bonded=(8,))
    issued = _issued(bonded)
    continued, findings = _continued(replace(bonded, revision="B", bolts={9: 8}), issued)
    (finding,) = findings
    assert (finding.level, finding.code) == (Level.STOP, "recut-part-bonded-in")
    assert finding.about == ("P10", "J09")
    assert "P10 stands and is reshaped" in str(finding.message)
    assert all(word in str(finding.remedy) for word in ("cut it out", "leave it", "sleeve it"))
    assert not [step for step in continued.steps if step.kind is StepKind.OPEN]
    assert [step.number for step in continued.steps] == [str(n) for n in range(1, 21)]
    assert _is_done(continued) == NINE


def test_a_bonded_joint_further_up_stops_too() -> None:
    bonded = replace(A, bonded=(7,))
    continued, findings = _continued(replace(bonded, revision="B", bolts={5: 8}), _issued(bonded))
    # J06 has eight bolts: P06 and P07 were cut again. Above them P08 and P09 are bonded to each other.
    assert [(finding.code, finding.about) for finding in findings] == [
        ("recut-part-bonded-in", ("P06", "J08")),
        ("recut-part-bonded-in", ("P07", "J08")),
    ]
    assert all("what was fitted after it would have to come off first" in str(finding.message) for finding in findings)
    assert not [step for step in continued.steps if step.kind is StepKind.OPEN]
    # The page of the done step lists eight of the new cut; what stands there is said.
    told = {step.number: str(step.notes[1]) for step in continued.steps if len(step.notes) > 1}
    assert list(told) == ["6"]
    assert told["6"].startswith("Built with 6 x Hexagon head screw ISO 4017 - M8 x 35 - 8.8 of J06, 6 x Hexagon nut")
    assert told["6"].endswith("see the findings first.")


def test_of_two_recut_parts_the_one_that_can_come_out_is_opened() -> None:
    bonded = replace(A, bonded=(3,))
    recut = replace(bonded, revision="B", bolts={2: 8, 9: 8})
    continued, findings = _continued(recut, _issued(bonded))
    assert [(finding.code, finding.about) for finding in findings] == [
        ("recut-part-bonded-in", ("P03", "J04")),
        ("recut-part-bonded-in", ("P04", "J04")),
        ("opened-again", ("P10",)),
    ]
    assert [step.moves for step in continued.steps if step.kind is StepKind.OPEN] == [("P10",)]


def test_a_bonded_joint_below_what_comes_off_does_not_matter() -> None:
    bonded = replace(A, bonded=(2,))
    _, findings = _continued(replace(bonded, revision="B", bolts={9: 8}), _issued(bonded))
    assert [finding.code for finding in findings] == ["opened-again"]


def test_a_built_part_that_was_split_is_taken_out_and_its_pieces_come_in() -> None:
    at = 9
    split = replace(
        B,
        cuts=(*A.cuts[: at + 1], 380.0, *A.cuts[at + 1 :]),
        tubes=(*A.tubes[:at], "P40", "P41", *A.tubes[at + 1 :]),
        joints=(*A.joints[: at - 1], "J40", "J41", "J42", *A.joints[at + 1 :]),
        arms_on=13,
    )
    continued, findings = _continued(split, ISSUED)
    assert [finding.code for finding in findings] == ["opened-again"]
    assert _story(continued)[8:12] == [
        ("9a", "open", ()),
        ("9b", "join", ("P40",)),
        ("9c", "join", ("P41",)),
        ("10", "join", ("P11",)),
    ]
    assert continued.steps[8].title == "Open J09 again and take out P10"


def test_a_new_part_that_the_plan_brings_in_before_what_is_done() -> None:
    chained = replace(A, is_chained=True, arms=(), arm_joints=(), arms_on=5)
    issued = _issued(chained)
    recut = replace(chained, revision="B", arms=("P30",), arm_joints=("J30",))
    continued, findings = _continued(recut, issued)
    assert [(finding.code, finding.about) for finding in findings] == [("opened-again", ("P07", "P08", "P09", "P10"))]
    assert "P07 stands, but the plan brings in P30, which is new, before it" in str(findings[0].message)
    assert [(step.number, step.kind.value, step.moves) for step in continued.steps][4:15] == [
        ("5", "join", ("P06",)),
        ("9a", "open", ("P10",)),
        ("9b", "open", ("P09",)),
        ("9c", "open", ("P08",)),
        ("9d", "open", ("P07",)),
        ("9e", "join", ("P30",)),
        ("9f", "join", ("P07",)),
        ("9g", "join", ("P08",)),
        ("9h", "join", ("P09",)),
        ("9i", "join", ("P10",)),
        ("10", "join", ("P11",)),
    ]
    assert recount(plan_record(continued)) == []


def test_a_new_part_that_nothing_waits_for_comes_after_what_is_done() -> None:
    issued = _issued(replace(A, arms=(), arm_joints=(), arms_on=5))
    continued, findings = _continued(replace(B, arms=("P30",), arm_joints=("J30",), arms_on=5), issued)
    assert findings == ()
    assert [(step.number, step.moves) for step in continued.steps][8:11] == [
        ("9", ("P10",)),
        ("9a", ("P30",)),
        ("10", ("P11",)),
    ]


def test_steps_done_out_of_order_keep_their_numbers() -> None:
    done = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12", "14"]
    continued, findings = _continued(B, ISSUED, done)
    assert findings == ()
    assert [step.number for step in continued.steps] == [str(n) for n in range(1, 21)]
    assert _is_done(continued) == done


def test_parts_that_moved_together_are_left_alone() -> None:
    # Everything that stands is 15 mm higher, foot included, and nothing moved against anything else.
    raised = replace(A, shift_mm=(0.0, 0.0, 15.0), revision="B")
    continued, findings = as_built(keep_numbers(plan(raised), ISSUED), _built(ISSUED, NINE), ISSUED)
    assert findings == ()
    assert _is_done(continued) == NINE


def test_the_next_book_carries_openings_on() -> None:
    recut = replace(B, bolts={9: 8})
    second, _ = _continued(recut, ISSUED)
    issued = as_written(second)
    log = [*_built(ISSUED, NINE), *_built(issued, ["9a"])]
    third, findings = as_built(
        keep_numbers(plan(replace(recut, revision="C")), issued, earlier=[ISSUED]), log, issued, earlier=[ISSUED]
    )
    assert findings == ()
    assert _story(third) == _story(second)
    assert [step.after for step in third.steps] == [step.after for step in second.steps]
    fourth, findings = as_built(
        keep_numbers(plan(replace(recut, revision="C")), issued, earlier=[ISSUED]),
        [*log, *_built(issued, ["9b", "10"])],
        issued,
        earlier=[ISSUED],
    )
    assert findings == ()
    assert _is_done(fourth)[-2:] == ["9b", "10"]


def test_an_entry_that_no_book_has_is_said() -> None:
    entry = replace(_built(ISSUED, ["9"])[0], step=StepNumber("99"))
    _, findings = as_built(keep_numbers(plan(B), ISSUED), [entry], ISSUED)
    assert [(finding.level, finding.code, finding.about) for finding in findings] == [
        (Level.WARN, "built-step-unknown", ("99",))
    ]


@pytest.mark.parametrize("joint", range(TUBES - 1))
@pytest.mark.parametrize("done", [1, 9, 14, 18])
def test_whatever_is_cut_again_the_continued_plan_is_whole(joint: int, done: int) -> None:
    recipe = replace(B, bolts={joint: 8})
    planned = plan(recipe)
    continued, findings = _continued(recipe, ISSUED, [str(n) for n in range(1, done + 1)])
    numbers = [step.number for step in continued.steps]
    assert numbers == sorted(set(numbers), key=natural_key)
    joined = [step for step in continued.steps if step.kind is not StepKind.OPEN]
    assert sorted(str(step.title) for step in joined) == sorted(str(step.title) for step in planned.steps)
    place = {number: index for index, number in enumerate(numbers)}
    for index, step in enumerate(continued.steps):
        assert all(place[number] < index for number in step.after), step.number
    # A part comes in once, and what comes out was in before the re-cut.
    first = joint + 1
    opened = [step.moves[0] for step in continued.steps if step.kind is StepKind.OPEN]
    fitted = {step.number: step.moves for step in ISSUED.steps}
    stands = {"P01", *(part for n in range(1, done + 1) for part in fitted[str(n)])}
    assert set(opened) <= stands
    assert (f"P{first:02d}" in opened) == (f"P{first:02d}" in stands and first > 1)
    assert bool(findings) == bool(opened)
    # An independent count: order, clock, joints and bolts once, hardware, sums.
    assert recount(plan_record(continued)) == []


def test_the_end_of_a_hold() -> None:
    step = plan(replace(A, bonded=(0,))).steps[0]
    entry = BuiltStep(
        step=step.number,
        book="A",
        at=datetime.datetime(2031, 5, 4, 15, 30, 20),
        temperature_c=12.0,
        joints=(),
        bolts=(),
    )
    assert hold_end(step, entry, 430.0) == datetime.datetime(2031, 5, 4, 22, 41)
    assert hold_end(step, replace(entry, at=datetime.datetime(2031, 12, 31, 23, 59)), 1.0) == datetime.datetime(
        2032, 1, 1
    )
    read_back = as_written(plan(replace(A, bonded=(0,)))).steps[0]
    assert hold_end(read_back, entry, 430.0) == hold_end(step, entry, 430.0)
    assert isinstance(step.hold, Hold)
    assert hold_end(replace(step, hold=None), entry, 430.0) == entry.at
    zone = datetime.timezone(datetime.timedelta(hours=2))
    assert hold_end(step, replace(entry, at=entry.at.replace(tzinfo=zone)), 30.0).tzinfo == zone
    for minutes in (-1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="expected 0 or more"):
            hold_end(step, entry, minutes)
