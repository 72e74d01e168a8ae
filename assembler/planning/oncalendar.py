"""Does a plan keep its own calendar? plan.json in, refutations out; no scheduler and no planner needed.

Hours, people, hoists, places, cures and printed times are counted again from the record alone.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from typing import Any

from assembler.figure.findings import Finding
from assembler.planning.carried import Record, cured_min, number_of, refuted
from assembler.words import Said, say

_ROUNDING_MIN = 0.6
"""Moments are whole minutes, working times are rounded up to them."""

_AGAIN_MIN = 1440.0

_TIMES = (
    ("starts", "start_minutes", "finding.calendar-refuted.other_starts"),
    ("ends", "end_minutes", "finding.calendar-refuted.other_ends"),
    ("frees", "free_minutes", "finding.calendar-refuted.other_frees"),
)
"""What a step prints, the minutes it is made of, and what is said where they differ."""


def on_calendar(plan: Record) -> list[Finding]:
    """Every time of a plan that its own calendar refutes; nothing for a plan without one."""
    if not plan.get("calendar"):
        return []
    calendar = plan["calendar"]
    return [
        *_hours(plan["steps"], calendar),
        *_crowded(plan["steps"], calendar),
        *_told(plan["steps"], calendar),
        *_errands(plan["steps"], calendar),
        *_route(plan["steps"], calendar),
        *_places(plan["steps"], calendar),
        *_ends(plan["steps"], calendar),
    ]


def _is_inside(calendar: Record, start: float, end: float) -> bool:
    return any(opens <= start + _ROUNDING_MIN and end <= closes + _ROUNDING_MIN for opens, closes in calendar["hours"])


def _wrong(step: Record, message: Said) -> Finding:
    return _refuted((number_of(step),), message)


def _refuted(about: tuple[str, ...], message: Said) -> Finding:
    return refuted("calendar-refuted", about, message)


def _hours(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    for step in steps:
        start, end = step["start_minutes"], step["end_minutes"]
        if not _is_inside(calendar, start, end):
            yield _wrong(
                step,
                say(
                    "finding.calendar-refuted.outside_hours",
                    step=step["number"],
                    start=step["starts"],
                    end=step["ends"],
                ),
            )
        if not -_ROUNDING_MIN < end - start - step["minutes"] < 1.0 + _ROUNDING_MIN:
            yield _wrong(
                step,
                say(
                    "finding.calendar-refuted.other_length",
                    step=step["number"],
                    work_min=step["minutes"],
                    calendar_min=end - start,
                ),
            )


def _crowded(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    """At the start of each step and errand: who is at work, each person once, and no more hoists than there are."""
    work = [(row["start_minutes"], row["end_minutes"], len(row["workers"])) for row in steps]
    work += [(row["start_minutes"], row["end_minutes"], row["people"]) for row in calendar["errands"]]
    for row in calendar["errands"]:
        now = row["start_minutes"]
        count = sum(here for start, end, here in work if start <= now < end)
        if row["people"] and count > calendar["people"]:
            about = tuple(row["about"])
            yield _refuted(
                about,
                say(
                    "finding.calendar-refuted.errand_crowded", what=row["what"], count=count, people=calendar["people"]
                ),
            )
    for step in steps:
        now = step["start_minutes"]
        there = [one for one in steps if one["start_minutes"] <= now and one["end_minutes"] > now]
        people = [name for one in there for name in one["workers"]]
        if len(people) != len(set(people)) or len(people) > calendar["people"] or not step["workers"]:
            yield _wrong(
                step,
                say(
                    "finding.calendar-refuted.crowded",
                    step=step["number"],
                    count=len(people),
                    people=calendar["people"],
                ),
            )
        needed = step["lift"]["people"] if step["lift"] else 1
        if len(step["workers"]) < min(needed, calendar["people"]):
            yield _wrong(
                step,
                say("finding.calendar-refuted.too_few", step=step["number"], people=needed, count=len(step["workers"])),
            )
        hoists = sum(one["lift"] is not None and one["lift"]["people"] == 0 for one in there)
        if hoists > calendar["hoists"]:
            yield _wrong(
                step,
                say("finding.calendar-refuted.hoists", step=step["number"], count=hoists, hoists=calendar["hoists"]),
            )


def _local(calendar: Record, moment: float) -> str:
    day, minute = divmod(round(moment), 1440)
    clock = f"{minute // 60:02d}:{minute % 60:02d}"
    if not calendar["first_day"]:
        return str(say("moment.at", day=say("moment.day", day=day + 1), clock=clock))
    first = datetime.date.fromisoformat(calendar["first_day"])
    return f"{(first + datetime.timedelta(days=day)).isoformat()} {clock}"


def _told(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    """Local times are those of the minutes, and a hold ends when the cure has added up, not before."""
    for step in steps:
        for name, key, code in _TIMES:
            if step[name] and step[name] != _local(calendar, step[key]):
                counted = _local(calendar, step[key])
                yield _wrong(step, say(code, step=step["number"], told=step[name], counted=counted))
        if step["hold"]:
            cured = cured_min(calendar, step["place"], step["end_minutes"], step["free_minutes"])
            if cured < calendar["handling_minutes"] - 0.01:
                yield _wrong(
                    step,
                    say("finding.calendar-refuted.not_cured", step=step["number"], free=step["frees"], cured_min=cured),
                )


def _errands(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    """Work lies inside the hours, and bolts are tightened again a day after they were first."""
    for row in calendar["errands"]:
        if row["people"] and not _is_inside(calendar, row["start_minutes"], row["end_minutes"]):
            yield _refuted(tuple(row["about"]), say("finding.calendar-refuted.errand_outside_hours", what=row["what"]))
        if row["kind"] == "tighten again":
            closed = max(step["end_minutes"] for step in steps if set(row["about"]) & set(step["joints"]))
            if row["start_minutes"] < closed + _AGAIN_MIN - _ROUNDING_MIN:
                yield _refuted(tuple(row["about"]), say("finding.calendar-refuted.again_too_early", what=row["what"]))
            bolts = {access["bolt"] for step in steps for access in step["access"]}
            bolts = {bolt for bolt in bolts if bolt.rpartition(".")[0] in row["about"]}
            shut = [step["start_minutes"] for step in steps if bolts & set(step.get("shuts", ()))]
            if shut and row["end_minutes"] > min(shut) + _ROUNDING_MIN:
                yield _refuted(tuple(row["about"]), say("finding.calendar-refuted.again_shut", what=row["what"]))


def _route(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    """The finish goes by its order, and waits for every joint to be cured."""
    route = [row for row in calendar["errands"] if row["kind"] == "finish"]
    latest = 0.0
    for row in route:
        if row["start_minutes"] < latest - _ROUNDING_MIN:
            yield _refuted((), say("finding.calendar-refuted.route", what=row["what"]))
        latest = row["end_minutes"]
    if not route:
        return
    first = min(row["start_minutes"] for row in route)
    for step in steps:
        if step["adhesive"] and step["end_minutes"] <= first:
            cured = cured_min(calendar, step["place"], step["end_minutes"], first)
            if cured < calendar["full_cure_minutes"] - 0.01:
                yield _wrong(step, say("finding.calendar-refuted.finish_too_early", step=step["number"]))
        elif step["adhesive"]:
            yield _wrong(step, say("finding.calendar-refuted.glued_too_late", step=step["number"]))


def _places(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    """No two benches on one place at a time, and every bench has one while it is worked on."""
    stands = calendar["floor"]
    for at, one in enumerate(stands):
        for other in stands[at + 1 :]:
            is_met = one["start_minutes"] < other["end_minutes"] and other["start_minutes"] < one["end_minutes"]
            if one["spot"] == other["spot"] and is_met:
                names = (one["bench"], other["bench"])
                yield _refuted(
                    names, say("finding.calendar-refuted.same_place", first=one["bench"], second=other["bench"])
                )
    spots = max((row["spot"] for row in stands), default=0)
    if calendar["spots"] and spots > calendar["spots"]:
        yield _refuted((), say("finding.calendar-refuted.places", count=spots, places=calendar["spots"]))
    if {row["bench"] for row in stands} - {step["bench"] for step in steps}:
        yield _refuted((), say("finding.calendar-refuted.unused_place"))


def _ends(steps: Sequence[Record], calendar: Record) -> Iterator[Finding]:
    """What the head of the calendar says is what its rows end with."""
    ends: list[Any] = [row["end_minutes"] for row in (*steps, *calendar["errands"])]
    if ends and abs(max(ends) - calendar["end_minutes"]) > _ROUNDING_MIN:
        yield _refuted((), say("finding.calendar-refuted.other_end", end=calendar["end"]))
    if calendar["proven_shortest"] and calendar["end_minutes"] > calendar["least_end_minutes"] + _ROUNDING_MIN:
        yield _refuted((), say("finding.calendar-refuted.not_proven"))
