"""One truth: plan.json, the chart of days, the clocks of the steps and the lists of hardware say the same.

The chart is read as a reader reads it: hours from its lines, days and benches from its words.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections import Counter
from collections.abc import Iterable
from typing import Any
from xml.etree import ElementTree

from assembler.projectfiles.planfile import plan_record
from assembler.publishing import quantities
from assembler.publishing.days import days_page
from assembler.publishing.pages import Book
from assembler.publishing.rings import GLUE
from assembler.publishing.source import Source
from assembler.publishing.supplies import PIECES, supply_rows
from assembler.publishing.tables import hardware_csv

DAY_MIN = 1440.0
HOURS = "#cfccc4"
"""Colour of the lines of the hours."""


def stretches(source: Source) -> list[tuple[str, float, float, bool]]:
    """What the chart shows: bench, from, to in minutes since midnight before day 1, and whether it is a hold."""
    found = []
    for chart in days_page(source).charts:
        for panel in ElementTree.fromstring(f"<g>{chart.body_svg}</g>"):
            texts = [(float(text.get("x", 0)), float(text.get("y", 0)), text.text or "") for text in panel.iter("text")]
            day = next(int(text.split()[-1]) for x, _, text in texts if x == 0 and re.fullmatch(r"Day \d+", text))
            lines = sorted(float(line.get("x1", 0)) for line in panel.iter("line") if line.get("stroke") == HOURS)
            first = int(min(text for _, _, text in texts if re.fullmatch(r"\d\d", text)))
            hour_mm = (lines[-1] - lines[0]) / (len(lines) - 1)
            benches = sorted((y, text) for x, y, text in texts if x == 0 and re.fullmatch(r"B\d+", text))
            for bar in panel.iter("rect"):
                x, y, wide = (float(bar.get(name, 0)) for name in ("x", "y", "width"))
                # A name stands beside the first bar of its row, the hold runs below it.
                bench = next(text for at, text in reversed(benches) if at - 4.7 <= y)
                since, until = (
                    (day - 1) * DAY_MIN + 60.0 * (first + (mm - lines[0]) / hour_mm) for mm in (x, x + wide)
                )
                found.append((bench, since, until, bar.get("fill") == GLUE))
    return found


def in_hours(source: Source, start: float, end: float) -> list[tuple[float, float]]:
    """What of a stretch of time lies in the hours of the days: what the chart has room for."""
    opens, closes = 60.0 * source.settings.crew.day_start_h, 60.0 * source.settings.crew.day_end_h
    days = range(int(start // DAY_MIN), int(end // DAY_MIN) + 1)
    cut = [(max(start, day * DAY_MIN + opens), min(end, day * DAY_MIN + closes)) for day in days]
    return [(since, until) for since, until in cut if until > since]


def shown(rows: list[tuple[str, float, float, bool]], bench: str, start: float, end: float, is_hold: bool) -> bool:
    return any(
        (name, hold) == (bench, is_hold) and abs(since - start) < 1.0 and abs(until - end) < 1.0
        for name, since, until, hold in rows
    )


def last_worked(record: dict[str, Any]) -> float:
    return float(max(step["end_minutes"] for step in record["steps"]))


def test_the_chart_shows_the_minutes_of_plan_json_and_nothing_else(source: Source) -> None:
    record, rows = plan_record(source.plan), stretches(source)
    asked = 0
    for step in record["steps"]:
        for start, end in in_hours(source, step["start_minutes"], step["end_minutes"]):
            assert shown(rows, step["bench"], start, end, False), step["number"]
            asked += 1
        if step["hold"]:
            for start, end in in_hours(source, step["end_minutes"], step["free_minutes"]):
                if start // DAY_MIN <= (last_worked(record) - 1) // DAY_MIN and end - start > 1.0:
                    assert shown(rows, step["bench"], start, end, True), step["number"]
                    asked += 1
    assert asked == len([row for row in rows if row[2] - row[1] > 1.0])
    assert any(row[3] for row in rows)


def test_a_chart_of_another_calendar_is_told(source: Source) -> None:
    step = plan_record(source.plan)["steps"][0]
    rows = stretches(source)
    assert not shown(rows, step["bench"], step["start_minutes"] + 5.0, step["end_minutes"] + 5.0, False)


def test_local_times_on_pages_are_those_of_plan_json(source: Source) -> None:
    calendar = plan_record(source.plan)["calendar"]
    said = " ".join(value for _, value in days_page(source).dates)
    for name in ("start", "built", "full_cure", "end"):
        assert not calendar[name] or calendar[name] in said, name
    besides = " ".join(days_page(source).besides)
    for row in calendar["errands"]:
        if row["people"] and row["about"]:
            assert row["starts"] in besides
            assert row["ends"] in besides


def test_steps_print_the_work_and_the_clocks_of_plan_json(source: Source, book: Book) -> None:
    record = {step["number"]: step for step in plan_record(source.plan)["steps"]}
    glued = 0
    for page in book.steps:
        step = record[str(page.number)]
        assert (source.words("cell.work"), quantities.duration(step["minutes"])) in page.cells
        for row in page.glue.rows if page.glue else ():
            minutes = next(one["handling_minutes"] for one in step["adhesive"] if one["joint"] == row.joint)
            assert row.free_after == quantities.duration(minutes)
            assert row.ring.alt == source.words("ring.alt", joint=row.joint, time=quantities.duration(minutes))
            # The stroke at the end of the arc points where the time is.
            ends = re.search(r'M([\d.]+) ([\d.]+) L([\d.]+) ([\d.]+)"', row.ring.body_svg)
            if minutes < DAY_MIN:
                assert ends is not None
                x, y, to_x, to_y = map(float, ends.groups())
                turned = math.atan2(to_x - x, y - to_y) % (2.0 * math.pi) / (2.0 * math.pi)
                assert abs(turned * DAY_MIN - minutes) < 5.0
            glued += 1
    assert glued == sum(len(step["adhesive"]) for step in record.values()) > 0


def test_lists_of_hardware_hold_what_the_steps_hold(source: Source, book: Book) -> None:
    lines = [line for step in plan_record(source.plan)["steps"] for line in step["hardware"]]
    steps = Counter((line["joint"], line["item"]) for line in lines for _ in range(line["count"]))
    bags = Counter((line.joint, str(line.item)) for line in source.hardware if line.joint for _ in range(line.count))
    assert steps == bags
    pieces = [(row.joint, int(piece.count)) for page in book.steps for row in page.bolts for piece in row.pieces]
    rows = csv.DictReader(io.StringIO(hardware_csv(supply_rows(source))))
    table = [(row["joint"], int(float(row["count"]))) for row in rows if row["unit"] == PIECES and row["joint"]]
    by_joint = summed((line["joint"], line["count"]) for line in lines)
    assert summed(pieces) == summed(table) == by_joint
    assert sum(by_joint.values()) > 0


def summed(rows: Iterable[tuple[str, int]]) -> dict[str, int]:
    found: dict[str, int] = {}
    for name, count in rows:
        found[name] = found.get(name, 0) + count
    return found
