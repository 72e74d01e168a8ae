"""The days: the chart of benches, steps and holds, and the chain that sets the end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from xml.sax.saxutils import escape

from assembler.engineering.worktimes import preparing_minutes
from assembler.figure.ids import StepNumber, natural_key
from assembler.figure.plan import Plan
from assembler.figure.settings import Crew
from assembler.publishing import quantities
from assembler.publishing.pages import DaysPage, Diagram, Pair
from assembler.publishing.rings import GLUE
from assembler.publishing.source import Source
from assembler.publishing.wording import ranges
from assembler.publishing.words import Words
from assembler.publishing.workdays import DAY_MIN, Shift, clock_text

WIDTH_MM = 174.0
LABEL_MM = 15.0
ROW_MM, LEAST_ROW_MM = 7.4, 5.4
"""Height of a row of the chart: lower where that brings all days on to one page."""
HEAD_MM = 7.4
DAY_GAP_MM = 2.0
PAGE_MM = 194.0
LETTER_MM, GROUP_MM = 2.4, 12.0
"""Width of a figure of a label; short bars nearer than this share one."""
INK = "#1b1b1b"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bar:
    """A stretch of time on a bench, in minutes since the midnight before the first day."""

    bench: str
    start: float
    end: float
    label: str
    is_hold: bool
    is_critical: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shape:
    """A bar with its ends on the sheet."""

    bar: _Bar
    x1: float
    x2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Day:
    """One day, from 0, and its rows."""

    number: int
    benches: tuple[str, ...]
    row_mm: float = ROW_MM

    @property
    def height(self) -> float:
        return HEAD_MM + self.row_mm * len(self.benches) + DAY_GAP_MM


def day_charts(plan: Plan, shifts: Mapping[StepNumber, Shift], crew: Crew, words: Words) -> tuple[Diagram, ...]:
    """One panel for each day with work or a hold on a bench, as many sheets as it takes; none without steps."""
    bars = _bars(plan, shifts)
    if not bars:
        return ()
    last = max(int((bar.end - 0.001) // DAY_MIN) for bar in bars if not bar.is_hold)
    panels = [panel for day in range(last + 1) if (panel := _day(day, bars, crew)).benches]
    least = (PAGE_MM - len(panels) * (HEAD_MM + DAY_GAP_MM)) / max(sum(len(panel.benches) for panel in panels), 1)
    pages: list[list[_Day]] = [[]]
    row_mm = min(ROW_MM, least) if least >= LEAST_ROW_MM else ROW_MM
    for panel in [replace(panel, row_mm=row_mm) for panel in panels]:
        if pages[-1] and sum(other.height for other in pages[-1]) + panel.height > PAGE_MM:
            pages.append([])
        pages[-1].append(panel)
    return tuple(_page(days, bars, crew, words) for days in pages)


def _day(day: int, bars: Sequence[_Bar], crew: Crew) -> _Day:
    """A day with the benches on which something is worked on or cures within its hours."""
    opening, closing = day * DAY_MIN + crew.day_start_h * 60, day * DAY_MIN + crew.day_end_h * 60
    benches = {bar.bench for bar in bars if bar.start < closing and bar.end > opening}
    return _Day(number=day, benches=tuple(sorted(benches, key=natural_key)))


def _bars(plan: Plan, shifts: Mapping[StepNumber, Shift]) -> list[_Bar]:
    bars = []
    for step in plan.steps:
        shift = shifts[step.number]
        bars.append(
            _Bar(
                bench=step.bench,
                start=shift.start,
                end=shift.end,
                label=step.number,
                is_hold=False,
                is_critical=step.is_critical,
            )
        )
        if shift.free > shift.end and step.hold:
            bars.append(
                _Bar(
                    bench=step.bench,
                    start=shift.end,
                    end=shift.free,
                    label=", ".join(step.hold.joints),
                    is_hold=True,
                    is_critical=step.is_critical,
                )
            )
    return bars


def _page(days: Sequence[_Day], bars: Sequence[_Bar], crew: Crew, words: Words) -> Diagram:
    pieces, top = list[str](), 0.0
    for day in days:
        pieces.append(f'<g transform="translate(0 {top:.2f})">{_panel(day, bars, crew, words)}</g>')
        top += day.height
    benches = sorted({bench for day in days for bench in day.benches}, key=natural_key)
    return Diagram(
        width_mm=WIDTH_MM,
        height_mm=top,
        body_svg="".join(pieces),
        alt=words("days.alt", first=days[0].number + 1, last=days[-1].number + 1, benches=", ".join(benches)),
    )


def _panel(day: _Day, bars: Sequence[_Bar], crew: Crew, words: Words) -> str:
    opening, closing = crew.day_start_h * 60, crew.day_end_h * 60
    scale = (WIDTH_MM - LABEL_MM) / (closing - opening)

    def across(minute: float) -> float:
        return LABEL_MM + (min(max(minute - day.number * DAY_MIN, opening), closing) - opening) * scale

    bottom = HEAD_MM + day.row_mm * len(day.benches)
    pieces = [
        f'<text x="0" y="4.6" font-size="4.4" font-weight="bold" fill="{INK}">'
        f"{escape(words('days.day', day=day.number + 1))}</text>"
    ]
    hour = int(crew.day_start_h)
    while hour <= crew.day_end_h:
        x = across(day.number * DAY_MIN + hour * 60)
        anchor = "end" if hour + 1 > crew.day_end_h else "middle"
        pieces.append(
            f'<line x1="{x:.2f}" y1="{HEAD_MM - 1:.2f}" x2="{x:.2f}" y2="{bottom:.2f}" '
            f'stroke="#cfccc4" stroke-width="0.2"/>'
            f'<text x="{x:.2f}" y="{HEAD_MM - 2:.2f}" font-size="3.3" text-anchor="{anchor}" fill="#55554f">'
            f"{clock_text(hour)[:2]}</text>"
        )
        hour += 1
    for row, bench in enumerate(day.benches):
        y = HEAD_MM + day.row_mm * row
        pieces.append(
            f'<line x1="0" y1="{y:.2f}" x2="{WIDTH_MM}" y2="{y:.2f}" stroke="{INK}" stroke-width="0.25"/>'
            f'<text x="0" y="{y + 4.6:.2f}" font-size="4" font-weight="bold" fill="{INK}">{escape(bench)}</text>'
        )
        mine = [_Shape(bar=bar, x1=across(bar.start), x2=across(bar.end)) for bar in bars if bar.bench == bench]
        mine = [shape for shape in mine if shape.x2 - shape.x1 >= 0.05]
        pieces += [_drawn(shape, y) for shape in mine]
        pieces += _labels([shape for shape in mine if not shape.bar.is_hold], y)
    pieces.append(
        f'<line x1="0" y1="{bottom:.2f}" x2="{WIDTH_MM}" y2="{bottom:.2f}" stroke="{INK}" stroke-width="0.25"/>'
    )
    return "".join(pieces)


def _drawn(shape: _Shape, y: float) -> str:
    width = shape.x2 - shape.x1
    if shape.bar.is_hold:
        return f'<rect x="{shape.x1:.2f}" y="{y + 5.3:.2f}" width="{width:.2f}" height="1.5" fill="{GLUE}"/>'
    fill = INK if shape.bar.is_critical else "#ffffff"
    return (
        f'<rect x="{shape.x1:.2f}" y="{y + 0.6:.2f}" width="{width:.2f}" height="4.5" fill="{fill}" '
        f'stroke="{INK}" stroke-width="0.35"/>'
    )


def _labels(shapes: Sequence[_Shape], y: float) -> list[str]:
    """Step numbers: inside a bar that has room, else behind the last of the short bars that stand together."""
    pieces, short = [], list[_Shape]()
    for place, shape in enumerate(shapes):
        room = shape.x2 - shape.x1 >= LETTER_MM * len(shape.bar.label) + 1.0
        if room:
            ink = "#ffffff" if shape.bar.is_critical else INK
            pieces.append(_label((shape.x1 + shape.x2) / 2, y, shape.bar.label, ink, "middle"))
            continue
        short.append(shape)
        follower = shapes[place + 1] if place + 1 < len(shapes) else None
        if follower is None or follower.x1 - shape.x2 > GROUP_MM:
            pieces.append(_label(shape.x2 + 1.2, y, ranges(one.bar.label for one in short), INK, "start"))
            short = []
    return pieces


def _label(x: float, y: float, text: str, ink: str, anchor: str) -> str:
    return (
        f'<text x="{x:.2f}" y="{y + 4.1:.2f}" font-size="3.6" font-weight="bold" text-anchor="{anchor}" '
        f'fill="{ink}">{escape(text)}</text>'
    )


def days_page(source: Source) -> DaysPage:
    """The calendar of the plan as pages."""
    words, plan = source.words, source.plan
    critical = [step.number for step in plan.steps if step.is_critical]
    return DaysPage(
        charts=day_charts(plan, source.shifts, source.settings.crew, words),
        dates=tuple(calendar_facts(source)),
        facts=(
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
        besides=errands(source, is_at_joints=True),
        critical=words("days.critical_value", steps=ranges(critical)) if critical else "",
    )


def _preparing(source: Source) -> list[Pair]:
    """Dry fits, abrading, degreasing and masking: work that is done before anything is mixed."""
    crew = source.settings.crew
    minutes = sum(
        preparing_minutes([source.joint(row.joint) for row in step.adhesive], crew) for step in source.plan.steps
    )
    return [(source.words("days.preparing"), quantities.duration(minutes))] if minutes else []


def calendar_facts(source: Source) -> list[Pair]:
    """Start, end of building, full cure, end of the finish, end of all, and how sure it is that nothing is sooner."""
    words, calendar = source.words, source.plan.calendar
    if calendar is None:
        return []
    sure = words("days.proven")
    if not calendar.is_proven:
        sure = words("days.within", percent=f"{calendar.within_percent():.0f}")
    days = words.count("before.days_value", calendar.days)
    rows = [(words("days.length"), f"{days}, {calendar.start} \N{EN DASH} {calendar.built}; {sure}")]
    if calendar.full_cure:
        rows.append((words("days.full_cure"), calendar.full_cure))
    ends = dict.fromkeys(moment for moment in (calendar.finished, calendar.end) if moment)
    return [*rows, (words("days.finished"), "; ".join(ends))]


def calendar_row(source: Source) -> list[Pair]:
    """Start, end of building, full cure and end of the finish in one row."""
    rows = calendar_facts(source)
    return [(source.words("before.days"), "; ".join(f"{name.lower()} {value}" for name, value in rows))] if rows else []


def errands(source: Source, *, is_at_joints: bool) -> tuple[str, ...]:
    """What people do besides the steps, and when: at joints, or at the figure as a whole."""
    calendar = source.plan.calendar
    return tuple(
        f"{f'{row.what} {source.words.listed(row.about)}'.strip()}: {row.starts} \N{EN DASH} {row.ends}"
        for row in (calendar.errands if calendar else ())
        if row.people and bool(row.about) == is_at_joints
    )


def shorter(source: Source) -> tuple[tuple[str, str, str], ...]:
    """What would make the building shorter, the end it leads to, and what it asks for; each scheduled again."""
    words, calendar = source.words, source.plan.calendar
    return tuple(
        (
            row.what,
            words(
                "days.shorter_value",
                days=words.count("before.days_value", row.days),
                built=row.built,
                finished=row.finished,
            ),
            row.asks,
        )
        for row in (calendar.shortenings if calendar else ())
    )
