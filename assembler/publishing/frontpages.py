"""Cover, before you start, findings; what goes where: parts, sections, the overall view and the order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from assembler.engineering.transport import asked_in_transport_g, stands_in_transport, tips_at_g, transport_forces
from assembler.figure.findings import Finding, Level
from assembler.figure.frames import upright_box
from assembler.figure.ids import SectionId, natural_key
from assembler.figure.parts import Part
from assembler.figure.plan import Section
from assembler.publishing import quantities
from assembler.publishing.cautions import book_cautions, protection_rows, tool_rows
from assembler.publishing.days import calendar_row
from assembler.publishing.ordergraph import order_diagrams
from assembler.publishing.pages import (
    BeforePage,
    CoverPage,
    FindingRow,
    Pair,
    PartRow,
    PartsPage,
    PictureBox,
    SectionRow,
)
from assembler.publishing.source import Source, picture_box, step_anchor
from assembler.publishing.wording import merged, pattern, ranges

ABOUT_LETTERS = 48
"""Length from which bolts are named by their joints."""
STEPS_LINKED = 6
"""Steps of a finding that are links one by one."""
PICTURES = 3
"""Parts of a finding that are shown."""
AT_A_GLANCE = 4
"""Findings named on the cover; the others are counted."""


def cover_page(source: Source) -> CoverPage:
    """The cover: the figure, who it is for, how far it can be trusted."""
    words, plan, settings = source.words, source.plan, source.settings
    counts = {level: sum(1 for row in plan.findings if row.level is level) for level in Level}
    worst = next((level for level in (Level.STOP, Level.WARN) if counts[level]), Level.NOTE)
    named = [] if worst is Level.NOTE else alike([row for row in plan.findings if row.level is worst])
    lines = [merged([row.message for row in group]) for group in named[:AT_A_GLANCE]]
    if len(named) > AT_A_GLANCE:
        lines.append(words("cover.more", count=len(named) - AT_A_GLANCE))
    boxes = [upright_box(part.low_mm, part.high_mm, settings.up) for part in plan.parts]
    height = max((high[2] for _, high in boxes), default=0.0) - min((low[2] for low, _ in boxes), default=0.0)
    bolts = sum(len(joint.bolts) for joint in plan.joints)
    facts = [
        (words("cover.client"), settings.client),
        (words("cover.revision"), words("book.draft") if source.is_draft else plan.revision),
        (words("cover.date"), settings.date),
        (words("cover.parts"), str(len(plan.parts))),
        (words("cover.joints"), words("cover.joints_value", joints=len(plan.joints), bolts=bolts)),
        (words("cover.size"), words("cover.size_value", height=source.units.length(height), mass=_total_mass(source))),
        (words("cover.shop"), settings.shop_name),
        (words("cover.contact"), settings.shop_contact),
    ]
    return CoverPage(
        picture=picture_box(source.pictures.cover),
        verdict=words.count(f"cover.verdict.{worst}", counts[worst])
        if worst is not Level.NOTE
        else words("cover.verdict.none"),
        verdict_level=worst.value,
        findings=tuple(lines),
        facts=tuple((label, value) for label, value in facts if value),
        fields=tuple(words(f"cover.call.{name}") for name in ("lead", "engineer", "first_aid")),
    )


def _total_mass(source: Source) -> str:
    return source.units.mass(sum(part.mass_kg for part in source.plan.parts))


def before_page(source: Source) -> BeforePage:
    """Before you start: the job, who and what it takes, what is dangerous, how to read a step."""
    words, plan = source.words, source.plan
    job = (
        words(
            "before.job",
            figure=plan.figure_name,
            parts=len(plan.parts),
            joints=len(plan.joints),
            steps=len(plan.steps),
        ),
        words("before.rule"),
        words("before.glue") if source.bondings else words("before.no_glue"),
    )
    return BeforePage(
        job=job,
        facts=_people_and_time(source),
        conditions=_conditions(source),
        tools=tool_rows(source),
        protection=protection_rows(source),
        cautions=book_cautions(source),
        deciding=_lines(source, "before.deciding"),
        limits=_lines(source, "before.limits"),
        reading=tuple((words(f"reading.{name}.what"), words(f"reading.{name}.how")) for name in _READING),
        glossary=tuple((words(f"glossary.{name}.term"), words(f"glossary.{name}.means")) for name in _GLOSSARY),
    )


_READING = ("gate", "number", "picture", "orders", "ticks", "clock", "sign")
_GLOSSARY = (
    "joint",
    "flange",
    "dry_fit",
    "open_time",
    "working_life",
    "handling",
    "full_cure",
    "hold",
    "prop",
    "section",
    "seam",
)


def _lines(source: Source, key: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in source.words(key).splitlines() if line.strip())


def _people_and_time(source: Source) -> tuple[Pair, ...]:
    words, plan, crew = source.words, source.plan, source.settings.crew
    needed = max((step.lift.people for step in plan.steps if step.lift), default=0)
    heaviest = max((step.lift.mass_kg for step in plan.steps if step.lift), default=0.0)
    work = sum(step.minutes for step in plan.steps)
    benches = sorted({step.bench for step in plan.steps})
    return (
        (words("before.people"), words("before.people_value", count=max(crew.people, needed))),
        (words("before.work"), quantities.duration(work)),
        *calendar_row(source),
        (words("before.benches"), words("before.benches_value", count=len(benches), names=", ".join(benches))),
        (words("before.heaviest"), source.units.mass(heaviest)),
    )


def _conditions(source: Source) -> tuple[Pair, ...]:
    words, steps = source.words, source.plan.steps
    rows = [(words("before.temperature"), _temperatures(source))]
    hoists = [step.number for step in steps if step.lift and step.lift.people == 0]
    if hoists:
        rows.append((words("before.hoist"), words("before.hoist_value", steps=words.listed(hoists))))
    return tuple(rows)


def _temperatures(source: Source) -> str:
    climate = source.settings.climate
    return source.words(
        "before.temperature_value",
        shop=source.units.temperature(climate.shop_c),
        night=source.units.temperature(climate.night_min_c),
        site=source.units.temperature(climate.site_c),
    )


def finding_rows(source: Source) -> tuple[FindingRow, ...]:
    """Findings, heaviest first, each with the steps it touches; those that differ in numbers only are one row."""
    rows = []
    for number, group in enumerate(alike(source.plan.findings), start=1):
        first = group[0]
        about = tuple(dict.fromkeys(name for finding in group for name in finding.about))
        whole = replace(first, about=about, message=merged([finding.message for finding in group]))
        steps = touched_steps(source, whole)
        is_long = len(steps) > STEPS_LINKED
        rows.append(
            FindingRow(
                number=str(number),
                level=first.level.value,
                word=source.words(f"findings.level.{first.level}"),
                about=about_text(about),
                message=whole.message,
                remedy=first.remedy,
                steps=() if is_long else steps,
                where=ranges(name for _, name in steps),
                pictures=_pictures(source, whole),
            )
        )
    return tuple(rows)


def about_text(names: Sequence[str]) -> str:
    """Ids of parts, joints and bolts; bolts are named by their joints when they are many. Steps are printed apart."""
    things = [name for name in names if not name.startswith("step ")]
    text = ranges(things)
    return text if len(text) <= ABOUT_LETTERS else ranges(name.split(".")[0] for name in things)


def alike(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Findings grouped by level, kind, remedy and wording, numbers left out, in the order of their first ones."""
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        key = (finding.level.value, finding.code, finding.remedy, pattern(finding.message))
        groups.setdefault(key, []).append(finding)
    return list(groups.values())


def _pictures(source: Source, finding: Finding) -> tuple[PictureBox, ...]:
    """Thumbnails of the parts a finding is about: named itself, or as part of a joint; none when there are too many."""
    names = set(finding.about)
    joints = [joint for joint in source.plan.joints if joint.id in names]
    pairs = {name for joint in joints for name in joint.parts}
    parts = [part.id for part in source.plan.parts if part.id in names | pairs]
    if len(parts) > PICTURES:
        return ()
    boxes = (picture_box(source.pictures.thumbnails.get(name)) for name in sorted(parts, key=natural_key))
    return tuple(box for box in boxes if box is not None)


def _names_steps(finding: Finding) -> bool:
    return any(name.startswith("step ") for name in finding.about)


def touched_steps(source: Source, finding: Finding) -> tuple[Pair, ...]:
    """Anchor and number of the steps in which something named by a finding is moved or closed."""
    names = {name.removeprefix("step ") for name in finding.about}
    return tuple(
        (step_anchor(step.number), step.number)
        for step in source.plan.steps
        if names & {step.number, *step.joints, *(row.bolt for row in step.stacks)}
        or (names & set(step.moves) and not _names_steps(finding))
    )


def part_row(source: Source, part: Part) -> PartRow:
    """One part with its file, mass, size, and the step in which it first appears."""
    step = source.arrival(part.id)
    return PartRow(
        id=part.id,
        file=part.file,
        material=part.material,
        mass=source.units.mass(part.mass_kg),
        size=source.units.size(part.size_mm),
        section=_section_of(source, part),
        step=step.number if step else "",
        step_anchor=step_anchor(step.number) if step else "",
        thumbnail=picture_box(source.pictures.thumbnails.get(part.id)),
    )


def _section_of(source: Source, part: Part) -> SectionId | str:
    return next((section.id for section in source.plan.sections if part.id in section.parts), "")


def _on_the_road(source: Source, section: Section) -> str:
    """What a section has to stand in transport, and whether it stands by itself; empty where its mass is unknown."""
    words = source.words
    if section.mass_kg <= 0:
        return ""
    forces = {row.direction: quantities.force(row.force_n) for row in transport_forces(section.mass_kg)}
    side = forces["side where it may tip"]
    return " ".join(
        (
            words("road.forces", forward=forces["forward"], side=side, rear=forces["rear"]),
            _tips_on_the_road(source, section),
        )
    )


def _tips_on_the_road(source: Source, section: Section) -> str:
    """At which acceleration a section tips by itself, from the tip angle of the step that completes it."""
    words = source.words
    angles = [
        step.stability.tip_deg
        for step in source.plan.steps
        if step.stability and step.up == source.plan.up and {*step.moves, *step.onto} == {*section.parts}
    ]
    if not angles:
        return words("road.unknown")
    key = "road.stands" if stands_in_transport(angles[-1]) else "road.tips"
    # Rounded down: a load that tips just below what is asked must not read as if it stood.
    tips = math.floor(100.0 * tips_at_g(angles[-1]) + 1e-9) / 100.0
    return words(key, tips=f"{tips:.2f}", asked=f"{asked_in_transport_g():g}")


def parts_page(source: Source) -> PartsPage:
    """The parts list in the order of the ids, sections, overall view, order graph."""
    plan, words = source.plan, source.words
    parts = sorted(plan.parts, key=lambda part: natural_key(part.id))
    return PartsPage(
        rows=tuple(part_row(source, part) for part in parts),
        total_mass=source.units.mass(sum(part.mass_kg for part in parts)),
        overview=picture_box(source.pictures.overview),
        sections=tuple(
            SectionRow(
                id=section.id,
                parts=", ".join(section.parts),
                facts=(
                    (words("parts.head.mass"), source.units.mass(section.mass_kg)),
                    (words("parts.head.size"), source.units.size(section.size_mm)),
                    (words("parts.head.crate"), ""),
                ),
                road=_on_the_road(source, section),
                picture=picture_box(source.pictures.sections.get(section.id)),
            )
            for section in plan.sections
        ),
        order=order_diagrams(plan, source.pictures.thumbnails, words),
    )
