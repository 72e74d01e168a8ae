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
from assembler.figure.plan import Hold, Stability, StepKind
from assembler.publishing import quantities
from assembler.publishing.book import compose
from assembler.publishing.frontpages import parts_page
from assembler.publishing.pages import Book, StepPage
from assembler.publishing.sheets import SHEETS, sheet_size
from assembler.publishing.source import Source
from assembler.publishing.steppages import tab_mm
from tests.publishing import sample

LAID = {"1": ("P01",), "4": ("P05",), "5": ("P07",), "9": ("P10",)}
"""Parts of the sample that no step moves before they are needed."""

FINGERS = "fingers only"


def step_of(book: Book, number: str) -> StepPage:
    return next(step for step in book.steps if step.number == number)


def test_parts_are_brought_in_exactly_the_steps_that_move_them(book: Book) -> None:
    assert {step.number: tuple(row.id for row in step.parts) for step in book.steps} == {
        step.number: (*LAID.get(step.number, ()), *sorted(step.moves)) for step in sample.STEPS
    }


def test_each_bolt_is_ticked_in_exactly_the_step_that_fits_it(book: Book) -> None:
    printed = {step.number: [bolt for strip in step.strips for _, bolt in strip.bolts] for step in book.steps}
    planned = {step.number: [stack.bolt for stack in step.stacks] for step in sample.STEPS}
    assert {name: sorted(bolts) for name, bolts in printed.items()} == {
        name: sorted(bolts) for name, bolts in planned.items()
    }
    assert max(Counter(bolt for bolts in printed.values() for bolt in bolts).values()) == 1


def test_bolts_stand_in_tightening_order_with_numbers_that_restart_for_each_joint(book: Book) -> None:
    (strip,) = step_of(book, "2").strips
    expected = [*tightening_order(sample.BY_ID["J02"]), *tightening_order(sample.BY_ID["J03"])]
    assert [bolt for _, bolt in strip.bolts] == expected
    assert [order for order, _ in strip.bolts] == ["1", "2", "3", "4", "5", "6", "1", "2", "3", "4"]
    assert [span for _, span in strip.heads] == [6, 4]


def test_what_limits_a_torque_stands_with_the_rounds(book: Book) -> None:
    step = step_of(book, "2")
    assert step.limit == "limited by washer pressure on PA12."
    assert [line.replace("\u00a0", " ") for line in step.strips[0].rounds] == ["in by hand", "3.1 N·m", "6.2 N·m"]


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
    step = step_of(compose(replace(source, plan=replace(sample.PLAN, steps=steps))), "2")
    assert [line.replace("\u00a0", " ") for line in step.strips[0].rounds] == rounds
    assert ("no lever" in step.limit) is is_low


def test_bags_of_the_steps_add_up_to_the_totals(book: Book) -> None:
    in_steps: Counter[str] = Counter()
    for step in book.steps:
        for bag in step.bags:
            for piece in bag.pieces:
                in_steps[piece.item] += int(piece.count)
    in_bags: Counter[str] = Counter()
    for row in book.hardware.bags:
        for piece in row.pieces:
            in_bags[piece.item] += int(piece.count)
    bought = {row.item: int(row.count) for row in book.hardware.buy}
    assert in_steps == in_bags == bought
    assert all(row.agrees for row in book.appendix.totals)
    assert {row.item: int(row.in_steps) for row in book.appendix.totals} == bought


def test_totals_that_differ_are_called_different(source: Source) -> None:
    short = replace(sample.BUY[0], count=sample.BUY[0].count - 1)
    book = compose(replace(source, buy=(short, *sample.BUY[1:])))
    assert [row.item for row in book.appendix.totals if not row.agrees] == [short.item]


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


def test_pieces_carry_the_item_references_of_the_picture(book: Book) -> None:
    (bag,) = step_of(book, "1").bags
    assert [(piece.name.split()[0], piece.ref) for piece in bag.pieces] == [
        ("screws", "1"),
        ("washers", ""),
        ("nuts", ""),
    ]


def test_a_stop_rules_the_cover(book: Book, source: Source) -> None:
    assert book.cover.verdict_level == "stop"
    assert book.cover.findings == (sample.FINDINGS[0].message,)
    calm = compose(replace(source, plan=replace(sample.PLAN, findings=())))
    assert calm.cover.verdict_level == "note"
    assert calm.findings == ()


def test_the_cover_counts_what_it_does_not_name(source: Source) -> None:
    words = ("one", "two", "three", "four", "five", "six", "seven")
    many = tuple(
        Finding(level=Level.WARN, code="method-assumed", about=("J01",), message=f"{word} is assumed.")
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
    (row,) = compose(replace(source, plan=replace(sample.PLAN, findings=many))).findings
    assert row.about == "J01–J03"
    assert row.message == "J01–03: only 0.5–1.5 N m"


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
    assert page.strips == page.bags == page.parts == ()
    assert page.glue is None


def test_no_steps_give_no_charts(source: Source) -> None:
    book = compose(replace(source, plan=replace(sample.PLAN, steps=()), shifts={}))
    assert book.days.charts == book.parts.order == book.steps == ()


def test_tabs_run_down_the_edge(book: Book) -> None:
    tops = [float(step.tab_top.removesuffix("mm")) for step in book.steps]
    assert tops == sorted(set(tops))
    assert tops[0] == SHEETS["A4"].tab_first_mm
    assert tops[-1] < SHEETS["A4"].tab_last_mm
    assert tab_mm("20", 20, SHEETS["A4"]) == SHEETS["A4"].tab_last_mm


def test_a_tab_holds_still_when_steps_come_between() -> None:
    sheet = SHEETS["A4"]
    assert tab_mm("12", 28, sheet) == tab_mm("12", 29, sheet)
    order = [tab_mm(number, 28, sheet) for number in ("12", "12a", "12ab", "12b", "13", "28")]
    assert order == sorted(set(order))


def test_an_unknown_sheet_is_refused_with_the_ones_there_are() -> None:
    with pytest.raises(ProjectFileError, match=r"figure.toml: sheet: unknown sheet 'A9'; one of: A4, Letter"):
        sheet_size("A9")


def test_wind_and_people_stand_on_the_base_page_with_what_the_numbers_are_not(book: Book, source: Source) -> None:
    light, strong, person = book.base.pushes
    assert (light.force, light.moment) == ("140\u00a0N", "150\u00a0N·m")
    assert (strong.force, strong.moment) == ("1.3\u00a0kN", "1.4\u00a0kN·m")
    assert (strong.tips, strong.slides) == ("0.3", "0.3")
    assert "person" in person.cause
    assert "engineer" in book.base.push_notes[-1]
    unanchored = tuple(replace(row, anchor_tension_n=None, anchor_shear_n=None) for row in source.exposure)
    stated = replace(source.settings, base=replace(source.settings.base, anchors=4, anchors_at_mm=()))
    page = compose(replace(source, exposure=unanchored, settings=stated)).base
    assert {row.tension for row in page.pushes} == {""}
    assert source.words("push.no_places") in page.push_notes


def test_no_push_is_printed_that_was_not_computed(source: Source) -> None:
    page = compose(replace(source, exposure=())).base
    assert (page.pushes, page.push_notes) == ((), ())


def test_a_glued_step_says_how_to_prepare_mask_mix_and_check(book: Book, source: Source) -> None:
    glued = [step for step in sample.STEPS if step.adhesive and step.stacks]
    assert glued
    for step in glued:
        page = step_of(book, step.number)
        assert page.glue is not None
        told = " ".join((*page.orders, *page.glue.notes))
        for word in ("Abrade", "degrease", "within 4 h", "mask", "Purge", "squeeze-out", "cracks the bond"):
            assert word in told, (step.number, word)
        life_min = min(working_life_min(row, sample.SETTINGS.adhesive) for row in step.adhesive)
        assert f"again within {math.floor(life_min)}\u00a0min" in told
    dry = [step for step in sample.STEPS if not step.adhesive]
    assert all(step_of(book, step.number).glue is None for step in dry)


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
    lifts = [step for step in sample.STEPS if step.lift and step.lift.people not in (0, 1)]
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
    notes = [note for step in book.steps if step.glue for note in step.glue.notes if "cracks the bond" in note]
    assert notes
    assert all(note.replace("\u00a0", " ").endswith("min of mixing; later it cracks the bond.") for note in notes)


def test_preparing_stands_beside_the_work(book: Book, source: Source) -> None:
    # Two faces of every glued joint at 4000 mm2 a minute and person, two sides of its seam at 600 mm, six minutes of
    # dry fit a step.
    glued = [step for step in source.plan.steps if step.adhesive]
    area_mm2 = sum(source.joint(row.joint).bond_area_mm2 for step in glued for row in step.adhesive)
    seam_mm = sum(source.joint(row.joint).seam_mm for step in glued for row in step.adhesive)
    people = source.settings.crew.people
    minutes = 6.0 * len(glued) + 2.0 * (area_mm2 / 4000.0 + seam_mm / 600.0) / people
    assert dict(book.days.facts)["Of it dry fits and faces"] == quantities.duration(minutes)


def test_small_preloads_are_called_clamps(source: Source) -> None:
    def page(torque_nm: float) -> StepPage:
        steps = tuple(
            replace(step, stacks=tuple(replace(row, torque_nm=torque_nm) for row in step.stacks))
            for step in sample.STEPS
        )
        return step_of(compose(replace(source, plan=replace(sample.PLAN, steps=steps))), "2")

    # M8, K 0.2: 1.5 N m make 938 N, 6.2 N m make 3.9 kN.
    assert "Clamps, no structure." in page(1.5).limit
    assert "no structure" not in page(6.2).limit


def test_what_is_checked_on_low_torques_is_no_click(source: Source) -> None:
    steps = tuple(
        replace(step, stacks=tuple(replace(row, torque_nm=0.5) for row in step.stacks)) for step in sample.STEPS
    )
    low = step_of(compose(replace(source, plan=replace(sample.PLAN, steps=steps))), "2")
    assert "The driver slips; each head is marked" in low.checks
    assert not any("wrench clicks" in check for check in low.checks)


def test_the_days_tell_the_calendar_to_its_end(book: Book, source: Source) -> None:
    facts, calendar = dict(book.days.facts), source.plan.calendar
    assert calendar is not None
    assert f"{calendar.start} \N{EN DASH} {calendar.built}; " in facts["Days of building"]
    assert facts["Joints at full cure"] == calendar.full_cure
    assert facts["End of the finish; handed over"] == f"{calendar.finished}; {calendar.end}"
    for errand in calendar.errands:
        name = f"{errand.what} {', '.join(errand.about)}".strip()
        assert f"{name}: {errand.starts} \N{EN DASH} {errand.ends}" in book.days.meanwhile
    assert f"handed over {calendar.finished}" in dict(book.before.facts)["Days"]


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
    assert step_of(book, step.number).hold.endswith("Closed by 08:00: free 19:38; closed by 17:00: free 08:41 +1.")
