"""Pages as data: what the plan says stands where it belongs, once."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest

from assembler.engineering.bonding import working_life_min
from assembler.engineering.patterns import tightening_order
from assembler.errors import ProjectFileError
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import JointId, StepNumber
from assembler.figure.joints import Seat
from assembler.figure.plan import Hold, Stability, StepKind
from assembler.publishing import quantities
from assembler.publishing.book import compose
from assembler.publishing.cautions import step_cautions
from assembler.publishing.frontpages import finding_rows, parts_page
from assembler.publishing.pages import Book, StepPage
from assembler.publishing.sheets import sheet_size
from assembler.publishing.source import Source
from assembler.words import say
from tests.publishing import sample

LAID = {"1": ("P01",), "4": ("P05",), "5": ("P07",), "9": ("P10",)}
"""Parts of the sample that no step moves before they are needed."""

FINGERS = "fingers: head touches"


def step_of(book: Book, number: str) -> StepPage:
    return next(step for step in book.steps if step.number == number)


def test_parts_are_brought_in_exactly_the_steps_that_move_them(book: Book) -> None:
    assert {step.number: tuple(name for name, _ in step.bring if name.startswith("P")) for step in book.steps} == {
        step.number: (*LAID.get(step.number, ()), *sorted(step.moves)) for step in sample.STEPS
    }


def test_bolts_stand_in_tightening_order_with_numbers_that_restart_for_each_joint(book: Book) -> None:
    rows = step_of(book, "2").bolts
    for name in ("J02", "J03"):
        bolts = [pair for row in rows if row.joint == name for pair in row.bolts]
        assert [bolt for _, bolt in sorted(bolts, key=lambda pair: int(pair[0]))] == [
            *tightening_order(sample.BY_ID[name])
        ]
        for row in rows:
            assert [int(order) for order, _ in row.bolts] == sorted(int(order) for order, _ in row.bolts)


def test_bolts_with_their_heads_on_two_parts_never_share_a_line(source: Source) -> None:
    step = next(step for step in sample.STEPS if step.number == "1")
    first, *others = step.access
    turned = replace(first, head_part=first.nut_part, nut_part=first.head_part)
    steps = (replace(step, access=(turned, *others)), *sample.STEPS[1:])
    rows = step_of(compose(replace(source, plan=replace(sample.PLAN, steps=steps))), "1").bolts
    assert len(rows) == 2
    assert [bolt for _, bolt in next(row for row in rows if len(row.bolts) == 1).bolts] == [first.bolt]
    # What lies in the bag, and the rounds, are said once.
    assert [bool(row.pieces) for row in rows] == [True, False]


def test_pieces_carry_the_item_references_of_the_picture(book: Book) -> None:
    (row,) = step_of(book, "1").bolts
    assert [(piece.name.split()[0], piece.ref) for piece in row.pieces] == [
        ("screws", "1"),
        ("washers", ""),
        ("nuts", ""),
    ]


def test_only_a_stop_stands_on_the_cover(book: Book, source: Source) -> None:
    assert book.cover.verdict_level == "stop"
    assert book.cover.findings == (sample.FINDINGS[0].message,)
    assert any(row.level is Level.WARN for row in sample.FINDINGS)
    calm = compose(replace(source, plan=replace(sample.PLAN, findings=sample.FINDINGS[1:])))
    assert (calm.cover.verdict_level, calm.cover.findings) == ("note", ())


def test_the_cover_counts_what_it_does_not_name(source: Source) -> None:
    words = ("one", "two", "three", "four", "five", "six", "seven")
    many = tuple(
        Finding(level=Level.STOP, code="method-assumed", about=("J01",), message=f"{word} is assumed.")
        for word in words
    )
    book = compose(replace(source, plan=replace(sample.PLAN, findings=many)))
    assert len(book.cover.findings) == 5
    assert "3" in book.cover.findings[-1]


def test_findings_that_differ_in_numbers_only_are_one_row(source: Source) -> None:
    many = tuple(
        Finding(level=Level.NOTE, code="torque-low", about=(f"J0{i}.{k}",), message=f"J0{i}: only {i / 2} N m")
        for i in (1, 2, 3)
        for k in range(1, 9, 2)
    )
    (row,) = finding_rows(replace(source, plan=replace(sample.PLAN, findings=many)))
    assert row.about == "J01–J03"
    assert str(row.message) == "J01–03: only 0.5–1.5 N m"


def test_what_is_the_same_at_every_joint_is_said_once(book: Book) -> None:
    """How to prepare, mask, mix and wipe stands on one page; steps that glue name the dose and that page."""
    told = " ".join((*book.bonding.lines, *book.bonding.dry_checks, *book.bonding.checks))
    for word in ("Abrade", "degrease", "within 4 h", "mask", "Purge", "Wipe", "step across the seam"):
        assert word.lower() in told.lower(), word
    for step in sample.STEPS:
        page = step_of(book, step.number)
        assert (page.glue is None) == (not step.adhesive)
        for row in step.adhesive:
            (line,) = [line for line in page.orders if line.startswith("Bond ")]
            assert f"{row.joint} ({quantities.volume(row.volume_ml)})" in line
            assert "see Closing" in line
        assert not any("degrease" in line for line in page.orders)


def test_light_pieces_are_lifted_without_a_warning(source: Source) -> None:
    """Crying wolf at a handle of a hundred grams takes the word from the step that needs it."""
    step = next(step for step in sample.STEPS if step.lift and step.lift.people > 1)
    assert step.lift is not None
    light = replace(step, lift=replace(step.lift, mass_kg=2.9))
    steps = tuple(light if other is step else other for other in sample.STEPS)
    page = step_of(compose(replace(source, plan=replace(sample.PLAN, steps=steps))), step.number)
    assert not any(row.hazard == "Heavy lift" for row in page.cautions)
    assert not any(line.startswith("Lift") for line in page.orders)


def test_each_bolt_is_ticked_in_exactly_the_step_that_fits_it(book: Book) -> None:
    printed = {step.number: [bolt for row in step.bolts for _, bolt in row.bolts] for step in book.steps}
    planned = {step.number: [stack.bolt for stack in step.stacks] for step in sample.STEPS}
    assert {name: sorted(bolts) for name, bolts in printed.items()} == {
        name: sorted(bolts) for name, bolts in planned.items()
    }
    assert max(Counter(bolt for bolts in printed.values() for bolt in bolts).values()) == 1


@pytest.mark.parametrize(
    ("torque_nm", "rounds", "is_low"),
    [
        # Half of 1.3 is below what a wrench can be set to; half of 3.3 is rounded down, never up.
        (0.5, ["in by hand", FINGERS, "0.5 N·m"], True),
        (1.3, ["in by hand", FINGERS, "1.3 N·m"], False),
        (3.3, ["in by hand", "1.6 N·m", "3.3 N·m"], False),
        (0.0, ["in by hand", FINGERS, "hand-tight"], False),
    ],
)
def test_torques_that_no_common_wrench_can_be_set_to(
    source: Source, torque_nm: float, rounds: list[str], is_low: bool
) -> None:
    steps = tuple(
        replace(step, stacks=tuple(replace(row, torque_nm=torque_nm) for row in step.stacks)) for step in sample.STEPS
    )
    stacks = tuple(replace(row, torque_nm=torque_nm) for row in sample.STACKS)
    book = compose(replace(source, plan=replace(sample.PLAN, steps=steps), stacks=stacks))
    assert [line.replace("\u00a0", " ") for line in step_of(book, "2").bolts[0].rounds] == rounds
    assert any("no lever" in line for line in book.bonding.notes) is is_low


def test_every_step_that_waits_has_its_gates_and_every_hold_its_clock(book: Book) -> None:
    for step in sample.STEPS:
        page = step_of(book, step.number)
        assert bool(page.gates or page.kept) == bool(step.gates)
        for gate in step.gates:
            lines = [line for line in page.gates if gate.joint in line.text]
            assert [line.anchor for line in lines] == [f"step-{gate.step}"] or gate.joint in page.kept
            clocks = step_of(book, gate.step).glue
            assert clocks is not None
            assert gate.joint in {row.joint for row in clocks.rows}
        assert bool(page.hold) == (step.hold is not None)


def test_a_finding_is_printed_at_the_step_it_touches(book: Book) -> None:
    touched = [step.number for step in book.steps if any("J08.8" in line for line in step.findings)]
    assert touched == ["8"]


def test_tools_and_cautions_follow_from_the_plan(book: Book) -> None:
    assert ("Screw heads", "socket 13 mm") in book.before.tools
    assert [row.hazard for row in step_of(book, "9").cautions] == ["Heavy lift", "Work above shoulder height"]
    assert [row.hazard for row in step_of(book, "4").cautions] == ["Adhesive"]
    levels = [row.level for row in book.before.cautions]
    assert levels == sorted(levels, key=["warning", "caution", "notice"].index)


def test_an_empty_step_still_has_a_page(source: Source) -> None:
    turn = sample.STEPS[0].__class__(
        number=StepNumber("1"),
        title="Turn the legs over",
        kind=StepKind.TURN,
        place=sample.STEPS[0].place,
        bench=sample.STEPS[0].bench,
        section=sample.STEPS[0].section,
    )
    book = compose(replace(source, plan=replace(sample.PLAN, steps=(turn,)), shifts={turn.number: source.shifts["1"]}))
    (page,) = book.steps
    assert page.bolts == page.bring == ()
    assert page.glue is None


def test_no_steps_give_no_charts(source: Source) -> None:
    book = compose(replace(source, plan=replace(sample.PLAN, steps=()), shifts={}))
    assert book.days.charts == book.parts.order == book.steps == ()


def test_an_unknown_sheet_is_refused_with_the_ones_there_are() -> None:
    with pytest.raises(ProjectFileError, match=r"figure.toml: sheet: unknown sheet 'A9'; one of: A4, Letter"):
        sheet_size("A9")


def test_batches_are_named_where_one_would_set_too_soon(source: Source) -> None:
    quick = replace(source.settings, adhesive=replace(source.settings.adhesive, working_life_min=0.2))
    (first, *_) = [step for step in compose(replace(source, settings=quick)).steps if step.glue]
    assert any(line.startswith("Mix ") and "one after the other" in line for line in first.orders)


def test_bolts_without_glue_are_checked_after_a_day_and_stiff_nuts_are_named(source: Source) -> None:
    step = next(step for step in sample.STEPS if step.adhesive and step.stacks)
    stiff = replace(step, adhesive=(), hold=None, stacks=tuple(replace(stack, nut="ISO 7040") for stack in step.stacks))
    steps = tuple(stiff if other.number == step.number else other for other in source.plan.steps)
    page = step_of(compose(replace(source, plan=replace(source.plan, steps=steps))), step.number)
    told = " ".join(page.orders)
    assert "again after a day" in told
    assert "nuts turn hard" in told
    assert "cracks the bond" not in told


def test_a_team_lift_says_where_to_hold(book: Book) -> None:
    lifts = [step for step in sample.STEPS if step.lift and step.lift.people not in (0, 1) and step.lift.mass_kg >= 3.0]
    assert lifts
    for step in lifts:
        assert any(
            line.startswith("Hold it") and "above its lower end" in line for line in step_of(book, step.number).orders
        )


def test_each_section_says_what_the_road_asks_of_it(book: Book, source: Source) -> None:
    for row, section in zip(book.parts.sections, source.plan.sections, strict=True):
        # EN 12195-1: 0.8 g forward, 0.6 g sideways where it may tip, 0.5 g to the rear; for lorries.
        for share in (0.8, 0.6, 0.5):
            assert quantities.force(share * section.mass_kg * 9.80665) in row.road
        assert "lorry above 3.5 t" in row.road


@pytest.mark.parametrize(
    ("tip_deg", "words"),
    # tan 36.49 = 0.7398, tan 38.65 = 0.7997 rounded down, tan 45 = 1.
    [
        (36.49, "By itself it tips at 0.73 g, and braking asks 0.8 g: block it or lash it high."),
        (38.65, "By itself it tips at 0.79 g, and braking asks 0.8 g: block it or lash it high."),
        (45.0, "By itself it tips at 1.00 g; braking asks 0.8 g. Lash it all the same."),
    ],
)
def test_the_section_tips_on_the_road_as_it_tips_in_its_last_step(source: Source, tip_deg: float, words: str) -> None:
    section = source.plan.sections[0]
    last = replace(
        source.plan.steps[0],
        moves=section.parts[:1],
        onto=section.parts[1:],
        stability=Stability(tip_deg=tip_deg, needs_prop=False, reason=""),
    )
    page = parts_page(replace(source, plan=replace(source.plan, steps=(last,))))
    assert words in page.sections[0].road


def test_a_section_that_never_stands_alone_is_not_judged(source: Source) -> None:
    page = parts_page(replace(source, plan=replace(source.plan, steps=())))
    assert all("is not computed" in row.road for row in page.sections)


def test_the_recheck_is_counted_from_mixing(book: Book) -> None:
    assert any("counted from mixing" in line for line in book.bonding.lines)
    bolted = [(step, row) for step in sample.STEPS for row in step.adhesive if step.stacks]
    assert bolted
    for step, row in bolted:
        page = step_of(book, step.number)
        assert page.glue is not None
        (printed,) = (one.torque_within for one in page.glue.rows if one.joint == row.joint)
        is_bolted = any(stack.joint == row.joint for stack in step.stacks)
        life_min = math.floor(working_life_min(row, sample.SETTINGS.adhesive))
        assert printed == (f"{life_min}\u00a0min" if is_bolted else "")


def test_preparing_stands_beside_the_work(book: Book, source: Source) -> None:
    # Two faces of every glued joint at 4000 mm2 a minute and person, two sides of its seam at 600 mm, six minutes of
    # dry fit a step.
    glued = [step for step in source.plan.steps if step.adhesive]
    area_mm2 = sum(source.joint(row.joint).bond_area_mm2 for step in glued for row in step.adhesive)
    seam_mm = sum(source.joint(row.joint).seam_mm for step in glued for row in step.adhesive)
    people = source.settings.crew.people
    minutes = 6.0 * len(glued) + 2.0 * (area_mm2 / 4000.0 + seam_mm / 600.0) / people
    assert dict(book.days.facts)["Of it dry fits and faces"] == quantities.duration(minutes)


def test_what_is_checked_on_low_torques_is_no_click(source: Source) -> None:
    steps = tuple(
        replace(step, stacks=tuple(replace(row, torque_nm=0.5) for row in step.stacks)) for step in sample.STEPS
    )
    low = step_of(compose(replace(source, plan=replace(sample.PLAN, steps=steps))), "2")
    assert "Driver slips at each bolt, heads marked" in low.checks
    assert not any("wrench clicks" in check for check in low.checks)


def test_the_days_tell_the_calendar_to_its_end(book: Book, source: Source) -> None:
    facts, calendar = dict(book.days.dates), source.plan.calendar
    assert calendar is not None
    assert f"{calendar.start!s} \N{EN DASH} {calendar.built!s}; " in facts["Building"]
    assert facts["Joints at full cure"] == calendar.full_cure
    assert facts["End of the finish; handed over"] == f"{calendar.finished!s}; {calendar.end!s}"
    assert book.finish is not None
    for errand in calendar.errands:
        line = f"{errand.starts!s} \N{EN DASH} {errand.ends!s}"
        told = book.days.besides if errand.about else book.finish.dates
        assert any(row.startswith(str(errand.what)) and row.endswith(line) for row in told) == bool(errand.people)
    assert f"handed over {calendar.finished!s}" in dict(book.before.facts)["Days"]


def test_a_hold_tells_clock_times_that_no_plan_moves(source: Source) -> None:
    hold = Hold(
        minutes=940.0,
        joints=(JointId("J1"),),
        before=(),
        reason="cure",
        clocks=(("08:00", "19:38"), ("17:00", "08:41 +1")),
    )
    step = replace(next(step for step in sample.STEPS if step.hold), hold=hold)
    book = compose(replace(source, plan=replace(source.plan, steps=(step,)), shifts={step.number: source.shifts["1"]}))
    (row,) = book.bonding.free
    assert (row.after, row.reason) == (quantities.duration(940.0), "cure")
    assert row.clocks == (("08:00", "19:38"), ("17:00", "08:41 +1"))
    assert f"{row.after} after closing" in step_of(book, step.number).hold


def test_captive_nuts_are_pressed_in_before_the_adhesive(source: Source) -> None:
    step = next(step for step in sample.STEPS if step.adhesive and len({row.joint for row in step.stacks}) == 1)
    joint = source.joint(step.joints[0])
    pocketed = replace(joint, bolts=tuple(replace(bolt, seats=(Seat.OPEN, Seat.CAPTIVE)) for bolt in joint.bolts))
    joints = tuple(pocketed if other.id == joint.id else other for other in source.plan.joints)
    told = step_of(compose(replace(source, plan=replace(source.plan, joints=joints))), step.number).orders
    pressed = [place for place, line in enumerate(told) if line.startswith("Press")]
    assert [told[place] for place in pressed] == [
        f"Press {len(step.stacks)} nuts M8 into the pockets of {step.access[0].nut_part} (see Closing)."
    ]
    bonded = next(place for place, line in enumerate(told) if line.startswith("Bond"))
    assert pressed[0] < bonded
    book = compose(replace(source, plan=replace(source.plan, joints=joints)))
    assert any("Turn a screw through each nut by hand" in line for line in book.bonding.lines)
    assert "Every nut stays in its pocket when the screw comes" in book.bonding.dry_checks
    plain = compose(source)
    assert not any("nut into its pocket" in line for line in plain.bonding.lines)
    assert not any(line.startswith("Press") for line in step_of(plain, step.number).orders)


def test_no_wrench_clicks_where_only_a_spanner_comes(source: Source) -> None:
    step = next(step for step in sample.STEPS if step.stacks)
    first, *rest = step.access
    spanner = replace(first, tool=say("tool.spanner", size_mm=13.0))
    turned = replace(step, access=(spanner, *rest))
    steps = tuple(turned if other.number == step.number else other for other in source.plan.steps)
    checks = step_of(compose(replace(source, plan=replace(source.plan, steps=steps))), step.number).checks
    # 6.2 N m at 100 mm: 62 N, the weight of 6.3 kg.
    said = [line.replace("\u00a0", " ") for line in checks if "spanner" in line]
    assert said == [f"{first.bolt} by spanner: 62 N (6.3 kg) at 100 mm from the bolt, by spring balance"]
    alone = replace(step, access=tuple(replace(row, tool=spanner.tool) for row in step.access))
    steps = tuple(alone if other.number == step.number else other for other in source.plan.steps)
    checks = step_of(compose(replace(source, plan=replace(source.plan, steps=steps))), step.number).checks
    assert not any("wrench clicks" in line for line in checks)


def test_a_step_that_shuts_bolts_opens_with_what_is_seen_to_before(source: Source) -> None:
    dry = next(step for step in sample.STEPS if step.stacks and step.kind is StepKind.JOIN)
    dry = replace(dry, adhesive=(), hold=None)
    first, *rest = (row.bolt for row in dry.stacks if row.joint == dry.joints[0])
    at = [step.number for step in sample.STEPS].index(dry.number)
    later = replace(sample.STEPS[at + 1], shuts=(first, *rest))
    steps = tuple({dry.number: dry, later.number: later}.get(step.number, step) for step in source.plan.steps)
    book = compose(replace(source, plan=replace(source.plan, steps=steps)))
    closure = step_of(book, later.number).closure
    assert closure is not None
    assert closure.lead == f"Before you close: after this step nobody reaches {dry.joints[0]}."
    assert f"{dry.joints[0]} tightened again a day after step {dry.number}" in closure.ticks
    assert any(
        line.startswith("Tighten ") and f"before step {later.number} " in line
        for line in step_of(book, dry.number).orders
    )
    assert step_of(book, dry.number).closure is None
    part = replace(later, shuts=(first,))
    steps = tuple({dry.number: dry, later.number: part}.get(step.number, step) for step in source.plan.steps)
    closure = step_of(compose(replace(source, plan=replace(source.plan, steps=steps))), later.number).closure
    assert closure is not None
    assert f"nobody reaches {first}." in closure.lead


def test_the_signal_word_goes_by_what_can_fall_how_far(source: Source) -> None:
    step = next(step for step in sample.STEPS if step.stability and step.stability.needs_prop and step.onto)

    def words(mass_kg: float) -> set[tuple[str, str]]:
        parts = tuple(replace(part, mass_kg=mass_kg if part.id == step.moves[0] else 0.0) for part in source.plan.parts)
        alone = replace(step, onto=step.onto[:0], lift=None)
        plan = replace(source.plan, parts=parts, steps=(alone,))
        return {(row.level, row.hazard) for row in step_cautions(replace(source, plan=plan), alone)}

    part = source.part(step.moves[0])
    high_m = (part.high_mm[2] - part.low_mm[2]) / 1000.0
    assert not any(hazard == "It can tip" for _, hazard in words(1.9 / high_m))
    assert ("caution", "It can tip") in words(2.1 / high_m)
    assert ("caution", "It can tip") in words(4.9 / high_m)
    assert ("warning", "It can tip") in words(5.1 / high_m)


def test_from_the_first_loose_step_on_the_base_is_fixed(source: Source) -> None:
    loose = Stability(tip_deg=30.0, needs_prop=False, reason="", push_n=222.3, push_slides=True)
    firm = replace(loose, push_n=501.0)
    at = {step.number: firm if place < 3 else loose for place, step in enumerate(source.plan.steps)}
    steps = tuple(replace(step, stability=at[step.number]) for step in source.plan.steps)
    book = compose(replace(source, plan=replace(source.plan, steps=steps)))
    told = [any("ballast" in line for line in step.orders) for step in book.steps]
    assert told == [place == 3 for place in range(len(told))]
    lines = [[row.consequence for row in step.cautions if row.hazard == "It is not fixed"] for step in book.steps]
    assert [len(line) for line in lines] == [int(place >= 3) for place in range(len(lines))]
    assert "222 N (22.6 kg) at shoulder height slides it." in lines[3][0].replace("\u00a0", " ")
