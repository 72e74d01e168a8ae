"""The days: the chart, what can be done while something cures, and the chain that sets the end."""

from __future__ import annotations

from assembler.engineering.worktimes import preparing_minutes
from assembler.figure.plan import Step
from assembler.publishing import quantities
from assembler.publishing.dayschart import day_charts
from assembler.publishing.pages import DaysPage, Pair
from assembler.publishing.source import Source
from assembler.publishing.wording import ranges
from assembler.publishing.workdays import clock_text, cured_at, day_and_hour, days_of


def days_page(source: Source) -> DaysPage:
    """The calendar of the plan as pages."""
    words, plan = source.words, source.plan
    critical = [step.number for step in plan.steps if step.is_critical]
    return DaysPage(
        charts=day_charts(plan, source.shifts, source.settings.crew, words),
        facts=(
            (words("days.length"), words.count("before.days_value", days_of(source.shifts))),
            *_afterwards(source),
            (words("days.work"), quantities.duration(sum(step.minutes for step in plan.steps))),
            *_preparing(source),
            (words("days.people"), str(source.settings.crew.people)),
            (
                words("days.hours"),
                words(
                    "days.hours_value",
                    start=clock_text(source.settings.crew.day_start_h),
                    end=clock_text(source.settings.crew.day_end_h),
                ),
            ),
        ),
        meanwhile=tuple(line for step in plan.steps for line in _meanwhile(source, step)),
        critical=words("days.critical_value", steps=ranges(critical)) if critical else "",
    )


def _preparing(source: Source) -> list[Pair]:
    """Dry fits, abrading, degreasing and masking: work that is done before anything is mixed."""
    crew = source.settings.crew
    minutes = sum(
        preparing_minutes([source.joint(row.joint) for row in step.adhesive], crew) for step in source.plan.steps
    )
    return [(source.words("days.preparing"), quantities.duration(minutes))] if minutes else []


def _afterwards(source: Source) -> list[Pair]:
    """When the last joint is cured, and when the finish that waits for it is dry; its work is not counted."""
    words = source.words
    cured = cured_at(source.plan, source.shifts)
    if cured is None:
        return []
    rows = [(words("days.cured"), words("days.day_value", day=day_and_hour(cured)[0]))]
    waits_min = sum(row.coats * row.wait_min for row in source.settings.finish)
    if source.settings.finish:
        rows.append((words("days.finished"), words("days.day_value", day=day_and_hour(cured + waits_min)[0])))
    return rows


def _meanwhile(source: Source, step: Step) -> list[str]:
    """What other steps start while the hold of a step runs."""
    if step.hold is None:
        return []
    shift = source.shifts[step.number]
    others = [number for number, other in source.shifts.items() if shift.end <= other.start < shift.free]
    if not others:
        return []
    words = source.words
    day, hour = day_and_hour(shift.free)
    return [
        words(
            "days.meanwhile_value",
            joints=ranges(step.hold.joints),
            step=step.number,
            others=ranges(others),
            day=day,
            clock=clock_text(hour),
        )
    ]
