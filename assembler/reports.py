"""What each command hands back to the command line: records that can be said in words or as JSON."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assembler.engineering.holes import size_from_hole
from assembler.engineering.questions import Decision
from assembler.engineering.worksheet import WorksheetRow
from assembler.figure.calendar import Calendar
from assembler.figure.consignment import Consignment
from assembler.figure.findings import Finding
from assembler.figure.joints import Joint
from assembler.figure.parts import Part
from assembler.figure.plan import Plan, Step
from assembler.figure.records import record_of
from assembler.projectfiles.planfile import plan_record
from assembler.words import Text


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyReport:
    """What a survey found.

    Parameters
    ----------
    parts, joints
        Everything found.
    sizes
        Bolts by size, in words where the size is not known.
    healed
        What was mended in the meshes, one line a part.
    findings, questions
        What a person has to know, and to decide.
    contact_sheet
        Every joint face-on, to check the survey by.
    """

    parts: Sequence[Part]
    joints: Sequence[Joint]
    sizes: Mapping[str, int]
    healed: Sequence[str]
    findings: Sequence[Finding]
    questions: Sequence[Decision]
    contact_sheet: Path | None = None

    def table(self) -> tuple[str, ...]:
        """The short table a survey ends with."""
        methods: dict[str, int] = {}
        for joint in self.joints:
            methods[joint.method.value] = methods.get(joint.method.value, 0) + 1
        kinds = ", ".join(f"{count} {method}" for method, count in sorted(methods.items())) or "none"
        sizes = ", ".join(f"{count} x {size}" for size, count in self.sizes.items()) or "none"
        mass = sum(part.mass_kg for part in self.parts)
        triangles = sum(part.triangles for part in self.parts)
        return (
            f"parts    {len(self.parts)}, {mass:.1f} kg, {triangles} triangles",
            f"joints   {len(self.joints)}: {kinds}",
            f"bolts    {sum(self.sizes.values())}: {sizes}",
            f"mended   {len(self.healed)} parts" + ("" if not self.healed else ": " + "; ".join(self.healed[:4])),
        )

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "parts": len(self.parts),
            "joints": [{"id": joint.id, "parts": joint.parts, "bolts": len(joint.bolts)} for joint in self.joints],
            "bolts": dict(self.sizes),
            "healed": list(self.healed),
            "findings": [record_of(finding, {}) for finding in self.findings],
            "questions": [record_of(question, {}) for question in self.questions],
            "contact_sheet": str(self.contact_sheet) if self.contact_sheet else None,
        }


def bolts_by_size(joints: Sequence[Joint]) -> dict[str, int]:
    """Bolts by thread size, in words where a hole fits no size, smallest first."""
    counts: dict[str, int] = {}
    for _, size in sorted((bolt.hole_mm, _size_word(bolt.hole_mm)) for joint in joints for bolt in joint.bolts):
        counts[size] = counts.get(size, 0) + 1
    return counts


def _size_word(hole_mm: float) -> str:
    match = size_from_hole(hole_mm)
    return match.size if match else f"hole {hole_mm:.1f} mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport:
    """A plan, with what forced each of the steps asked for."""

    plan: Plan
    steps: Sequence[Step]
    reasons: Mapping[str, Sequence[Text]]
    consignment: Consignment | None = None

    def lines(self) -> tuple[str, ...]:
        """Steps with their reasons, then the calendar on one screen."""
        lines: list[str] = []
        for step in self.steps:
            lines += ["", f"Step {step.number}, bench {step.bench}: {step.title!s}"]
            lines += [f"   {reason!s}" for reason in self.reasons[step.number]]
        return (*section_lines(self.plan), *crate_lines(self.consignment), *lines, *calendar_lines(self.plan))

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        record = plan_record(self.plan)
        return {
            "figure": record["figure"],
            "findings": record["findings"],
            "costs": record["costs"],
            "total_minutes": record["total_minutes"],
            "calendar": record.get("calendar"),
            "division": record.get("division"),
            "steps": [
                {
                    "number": step.number,
                    "title": str(step.title),
                    "bench": step.bench,
                    "why": [str(reason) for reason in self.reasons[step.number]],
                }
                for step in self.steps
            ],
        }


def section_lines(plan: Plan) -> tuple[str, ...]:
    """The sections that travel, how each passes, and where they are joined on site."""
    division = plan.division
    if division is None:
        return ()
    count = len(division.sections)
    sure = "as figure.toml states them" if division.is_stated else "fewer are impossible"
    if not division.is_fewest:
        sure = f"no fewer found; {division.least} at least"
    lines = ["", f"Sections: {count} ({sure}; {division.weighed} sets of parts held against the way)"]
    for number, way in enumerate(division.sections, 1):
        name = f" {way.name}" if way.name else ""
        lines.append(f"   {number}.{name} {', '.join(way.parts)}: {way.mass_kg:.1f} kg")
        for passing in way.passings:
            size = " x ".join(f"{edge:.0f}" for edge in passing.size_mm)
            lines.append(f"      {passing.place!s}: {'standing' if passing.is_standing else 'lying'}, {size} mm")
    if division.cuts:
        lines.append(f"   joined on site: {', '.join(division.cuts)}")
    reasons: dict[str, list[str]] = {}
    for joint, reason in division.blocked:
        reasons.setdefault(str(reason), []).append(joint)
    lines += [f"   no place to part it: {', '.join(joints)}: {reason}" for reason, joints in reasons.items()]
    return tuple(lines)


def crate_lines(consignment: Consignment | None) -> tuple[str, ...]:
    """Crates, and how they stand on the vehicle."""
    if consignment is None:
        return ()
    lines = ["", f"Crates: {len(consignment.crates)}"]
    for crate in consignment.crates:
        outside = " x ".join(f"{edge:.0f}" for edge in crate.outer_mm)
        lies = "standing" if crate.bed.is_standing else "lying"
        lines.append(f"   {crate.id} with {crate.section}, {lies}: {outside} mm outside, {crate.gross_kg:.0f} kg gross")
        lines.append(f"      {crate.lift!s}")
    for number, trip in enumerate(consignment.trips, 1):
        lines.append(
            f"   trip {number}: {trip.mass_kg:.0f} kg, its middle {trip.centre_mm[0]:.0f} mm from the front wall"
        )
        for one in trip.stowed:
            tips = ", ".join(row.direction for row in one.tipping if not row.is_safe) or "nowhere"
            place = f"{one.at_mm[0]:.0f} mm from the front, {one.at_mm[1]:.0f} mm from the left"
            across = ", across" if one.is_turned else ""
            lines.append(f"      {one.crate} {place}{across}; tips by itself: {tips}; straps: {one.straps.blocked}")
    return tuple(lines)


def calendar_lines(plan: Plan) -> tuple[str, ...]:
    """The calendar on one screen: its ends, a line for each working day, what would shorten it."""
    calendar = plan.calendar
    if calendar is None:
        return ()
    sure = "proven shortest" if calendar.is_proven else f"within {calendar.within_percent():.0f} % of the shortest"
    days = f"{calendar.days} working day{'' if calendar.days == 1 else 's'} of building"
    lines = ["", f"Calendar ({sure}): {days}, {len(calendar.floor)} benches on {_spots(calendar)} places"]
    cured = str(calendar.full_cure) or "at once"
    lines.append(f"   start {calendar.start!s}, built {calendar.built!s}, all joints cured {cured}")
    lines.append(f"   finished {str(calendar.finished) or 'no finish stated'}, end {calendar.end!s}")
    by_day: dict[str, list[str]] = {}
    for step in sorted(plan.steps, key=lambda step: (step.start_min, step.end_min)):
        by_day.setdefault(str(calendar.day(step.start_min)), []).append(
            f"{calendar.clock(step.start_min)} {step.number}"
        )
    lines += [f"   {day}: {', '.join(steps)}" for day, steps in by_day.items()]
    lines += [f"   {row.what!s} {', '.join(row.about)}: {row.starts!s} to {row.ends!s}" for row in calendar.errands]
    for row in calendar.shortenings:
        gain = f"{row.days} days, built {row.built!s}, finished {row.finished!s}"
        lines.append(f"   shorter? {row.what!s}: {gain}")
    if calendar.in_the_way:
        lines.append(f"   deadline: {calendar.in_the_way!s}")
    return tuple(lines)


def _spots(calendar: Calendar) -> int:
    return max((row.spot for row in calendar.floor), default=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentReport:
    """A document of a book, with its pages and its size."""

    pdf: Path
    pages: int
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BookReport:
    """Where a book was written, its documents, and what its cover says."""

    folder: Path
    pdf: Path
    documents: Sequence[DocumentReport]
    is_unchanged: bool
    findings: Sequence[Finding]

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "folder": str(self.folder),
            "pdf": str(self.pdf),
            "documents": [{"pdf": str(one.pdf), "pages": one.pages, "bytes": one.size_bytes} for one in self.documents],
            "unchanged": self.is_unchanged,
            "findings": [record_of(finding, {}) for finding in self.findings],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeReport:
    """What differs from an earlier book."""

    words: Sequence[str]
    record: Mapping[str, Any]
    sheet: Path | None
    findings: Sequence[Finding]

    def lines(self) -> tuple[str, ...]:
        """The change sheet in words."""
        tail = (f"Change sheet: {self.sheet}",) if self.sheet else ()
        return (*self.words, *tail)

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        return dict(self.record)


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltReport:
    """A step that was recorded.

    Parameters
    ----------
    step, joints
        What was closed.
    free_at
        When the slowest joint may be loaded; None when nothing cures.
    waiting
        Steps that wait for it.
    temperature_c
        That the hold was computed for.
    warning
        Why no time can be given; empty otherwise.
    deviations
        What speaks against the entry and was recorded all the same.
    """

    step: str
    joints: Sequence[str]
    free_at: datetime.datetime | None
    waiting: Sequence[str]
    temperature_c: float
    warning: str = ""
    deviations: Sequence[str] = ()

    def lines(self) -> tuple[str, ...]:
        """In words."""
        against = tuple(f"Recorded as a deviation: {one}." for one in self.deviations)
        if self.warning:
            return (f"Step {self.step} recorded.", *against, self.warning)
        if self.free_at is None:
            return (f"Step {self.step} recorded; nothing cures in it.", *against)
        joints = ", ".join(self.joints)
        lines = (
            f"Step {self.step} recorded.",
            *against,
            f"{joints}: free to load at {self.free_at:%Y-%m-%d %H:%M}, if the parts stay at {self.temperature_c:g} C "
            "or warmer. The data sheet rules.",
        )
        return (*lines, f"Waiting for it: step {', '.join(self.waiting)}") if self.waiting else lines

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "step": self.step,
            "joints": list(self.joints),
            "free_at": self.free_at.isoformat() if self.free_at else None,
            "waiting": list(self.waiting),
            "deviations": list(self.deviations),
            "warning": self.warning,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class JointSheet:
    """The whole calculation of one joint."""

    joint: str
    rows: Sequence[WorksheetRow]

    def lines(self) -> tuple[str, ...]:
        """As a shop engineer would write it on paper."""
        lines = [f"Joint {self.joint}"]
        for row in self.rows:
            lines.append(f"  {row.quantity!s}: {row.result!s} {row.unit}".rstrip())
            lines.append(
                f"      {row.formula!s}   with {row.inputs!s}" if str(row.inputs) else f"      {row.formula!s}"
            )
            lines.append(f"      source: {row.source!s}")
        return tuple(lines)

    def as_record(self) -> dict[str, Any]:
        """For JSON."""
        keys = ("quantity", "formula", "inputs", "result", "unit", "source")
        return {"joint": self.joint, "rows": [{key: str(getattr(row, key)) for key in keys} for row in self.rows]}
