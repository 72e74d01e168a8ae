"""The plan on the working hours: best, told whole, and refuted by the replay where it is not true."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from assembler.engineering.workhours import hours_of
from assembler.errors import InputError
from assembler.figure.calendar import Finish
from assembler.figure.joints import Method, Seat
from assembler.figure.plan import Plan
from assembler.figure.settings import Climate, Crew, FinishOperation, Settings, Wishes
from assembler.planning import buildtime
from assembler.planning.buildtime import calendar_findings, scheduled_plan
from assembler.planning.oncalendar import on_calendar
from assembler.planning.order import plan_build
from assembler.projectfiles.planfile import plan_of, plan_record
from tests import specimens
from tests.planning.figures import around, disc, ring
from tests.specimens import Assembly

FINISH = Finish(seam_mm=6000.0, skin_mm2=1.2e6)
ROUTE = (
    FinishOperation(name="Fill the seams", on="seams", groove_mm2=6.0, wait_min=720.0),
    FinishOperation(name="Paint", on="surface", coverage_m2_l=9.0, coats=2, wait_min=480.0),
)


def settings_of(settings: Settings, **changes: Any) -> Settings:
    glue = replace(settings.adhesive, handling_min=480.0, full_cure_min=4320.0)
    values: dict[str, Any] = {
        "adhesive": glue,
        "climate": Climate(shop_c=20.0, night_min_c=16.0),
        "wishes": Wishes(first_day="2031-04-07"),
    }
    return replace(settings, **(values | changes))


def laid(**changes: Any) -> tuple[Plan, Settings]:
    given = specimens.stack(4).given
    settings = settings_of(given["settings"], **changes)
    plan = plan_build(**{**given, "settings": settings})
    return scheduled_plan(plan, settings, FINISH), settings


def test_a_glued_stack_waits_for_the_night_and_says_that_nothing_is_shorter() -> None:
    plan, _ = laid()
    calendar = plan.calendar
    assert calendar is not None
    joins = [step for step in plan.steps if step.adhesive]
    # Two halves on the first day, side by side; what joins them waits for the night.
    assert [str(step.starts).split()[0] for step in joins] == ["2031-04-07", "2031-04-07", "2031-04-08"]
    assert calendar.days == 2
    assert calendar.is_proven
    assert [step.number for step in plan.steps] == [str(at) for at in range(1, len(plan.steps) + 1)]
    assert str(calendar.built) < str(calendar.full_cure)
    assert on_calendar(plan_record(plan)) == []


def test_what_dries_last_counts_to_the_end_that_is_proven() -> None:
    plan, settings = laid(finish=ROUTE)
    calendar = plan.calendar
    assert calendar is not None
    # Nothing comes after the last coat, which dries for eight hours.
    assert calendar.end == calendar.finished
    assert calendar.end_min == max(row.end_min for row in calendar.errands)
    assert settings.finish[-1].wait_min == 480.0
    assert (calendar.is_proven, calendar.within_percent()) == (True, 0.0)


def test_what_is_written_reads_back_the_same() -> None:
    plan, _ = laid()
    record = plan_record(plan)
    assert plan_record(plan_of(record)) == record
    assert record["calendar"]["proven_shortest"] is True
    for step in record["steps"]:
        assert step["starts"].startswith("2031-04-")
        assert step["workers"] == (["A", "B"] if step["joints"] else ["A"])


def test_what_would_shorten_it_is_scheduled_again() -> None:
    plan, settings = laid()
    calendar = plan.calendar
    assert calendar is not None
    rows = {str(row.what).split(",")[0]: row for row in calendar.shortenings}
    warm = rows["joints warmed to 30 C day and night"]
    assert warm.days < calendar.days
    # A third person props the first half while two glue the other: 16:17, not 16:49, and the stack is up by 17:00.
    assert rows["one more person"].built == "2031-04-07 16:51"
    heated = replace(settings, climate=Climate(shop_c=30.0, night_min_c=30.0, site_c=30.0, night_site_c=30.0))
    again = scheduled_plan(plan, heated, FINISH).calendar
    assert again is not None
    assert (again.built, again.days) == (warm.built, warm.days)


def test_a_second_team_works_beside_the_first() -> None:
    plan, _ = laid(crew=Crew(people=4))
    assert on_calendar(plan_record(plan)) == []
    assert all(len(step.workers) == 2 for step in plan.steps if step.joints)


def test_days_off_arrivals_and_places_are_kept() -> None:
    late = specimens.stack(4).given["parts"][-1].id
    wishes = Wishes(
        first_day="2031-04-07",
        days_off=("2031-04-08",),
        not_before=((late, "2031-04-16"),),
        places=2,
        weekdays=("Tue", "Wed"),
    )
    plan, _ = laid(wishes=wishes)
    assert on_calendar(plan_record(plan)) == []
    days = {str(step.starts).split()[0] for step in plan.steps}
    assert "2031-04-08" not in days
    assert min(str(step.starts) for step in plan.steps if late in (*step.moves, *step.onto)) >= "2031-04-16"


def test_too_few_places_and_a_shift_too_short_are_told_in_one_line() -> None:
    with pytest.raises(InputError, match=r"figure.toml: calendar: .*more places"):
        laid(wishes=Wishes(first_day="2031-04-07", places=1))
    with pytest.raises(InputError, match="fit into no shift"):
        laid(crew=Crew(people=2, shifts_h=((8.0, 8.2),)))


def test_a_deadline_that_is_not_met_says_what_is_in_the_way() -> None:
    plan, _ = laid(wishes=Wishes(first_day="2031-04-07", deadline="2031-04-08"))
    (finding,) = calendar_findings(plan)
    assert "the deadline is 2031-04-08" in str(finding.message)
    assert "warmed to 30 C" in str(finding.remedy)
    plan, _ = laid(wishes=Wishes(first_day="2031-04-07", deadline="2032-04-08"))
    assert calendar_findings(plan) == []


def _spoilt(record: dict[str, Any], what: str) -> None:
    step, calendar = record["steps"][1], record["calendar"]
    if what == "night":
        step["start_minutes"], step["end_minutes"] = 30.0, 30.0 + step["minutes"]
    elif what == "clock":
        step["starts"] = "2031-04-07 09:09"
    elif what == "people":
        step["workers"] = []
    elif what == "cure":
        record["steps"][0]["free_minutes"] -= 60.0
    elif what == "crowd":
        calendar["people"] = 2
        calendar["errands"][-2] |= {"people": 3}
    elif what == "place":
        calendar["floor"].append({**calendar["floor"][0], "bench": "B9"})
    elif what == "finish":
        calendar["errands"][-1]["start_minutes"] = 480.0
    else:
        calendar["end_minutes"] += 60.0


@pytest.mark.parametrize("what", ["night", "clock", "people", "crowd", "cure", "place", "finish", "end"])
def test_the_replay_refutes_a_calendar_that_is_not_true(what: str) -> None:
    plan, _ = laid(finish=ROUTE)
    record = plan_record(plan)
    assert on_calendar(record) == []
    _spoilt(record, what)
    assert {finding.code for finding in on_calendar(record)} == {"calendar-refuted"}


@pytest.mark.parametrize(("team", "start"), [(1, 0.0), (2, 30.0)])
def test_an_errand_waits_until_somebody_is_free(team: int, start: float) -> None:
    hours = hours_of(((0, 480),))
    # Two steps of one or two people beside each other, three people in the shop: one is free beside the first two.
    busy = [(0.0, 30.0, team), (10.0, 60.0, 1)]
    assert buildtime._free_start(hours, busy, 0.0, 20, 2) == start


def test_a_glued_lid_waits_until_the_bolts_below_it_are_tightened_again() -> None:
    """Work on Mondays only: bolts on the first, again on the second, the lid then, cured on the third."""
    made = Assembly({"P1": ring(300.0, 0.0, 300.0) + disc(299.0, 0.0, 8.0), "P2": ring(300.0, 300.0, 600.0)})
    made.solids["P3"] = disc(300.0, 600.0, 608.0)
    made.join("P1", "P2", (0, 0, 300), (0, 0, 1), bolts=around(270.0, 300.0, 4), seats=(Seat.OPEN, Seat.OPEN))
    made.join("P2", "P3", (0, 0, 600), (0, 0, 1), method=Method.BONDED)
    made.changes["adhesive"] = replace(specimens.ADHESIVE, full_cure_min=7200.0)
    made.changes["wishes"] = Wishes(weekdays=("Mon",), first_day="2031-04-07")
    plan = scheduled_plan(plan_build(**made.given), made.settings, Finish(seam_mm=0.0, skin_mm2=0.0))
    lid = next(step for step in plan.steps if "J02" in step.joints)
    assert lid.shuts
    assert [int(step.start_min // 1440) for step in plan.steps] == [0, 7, 14]
