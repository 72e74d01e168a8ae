"""Cover, before you start, bonding, findings; what goes where: parts, sections, bolts, overall view and order."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from assembler.engineering.bonding import PREPARED_H
from assembler.engineering.fastening import LEAST_WRENCH_NM
from assembler.engineering.transport import asked_in_transport_g, stands_in_transport, tips_at_g, transport_forces
from assembler.figure.findings import Finding, Level
from assembler.figure.frames import upright_box
from assembler.figure.ids import SectionId, natural_key
from assembler.figure.parts import Part
from assembler.figure.pictures import Picture
from assembler.figure.plan import Section
from assembler.publishing import quantities
from assembler.publishing.cautions import book_cautions, protection_rows, tool_rows
from assembler.publishing.days import calendar_row
from assembler.publishing.nuts import captive_nuts, pocket_pictures
from assembler.publishing.ordergraph import order_diagrams
from assembler.publishing.pages import (
    BeforePage,
    BondingPage,
    CoverPage,
    FindingRow,
    FreeRow,
    Pair,
    PartRow,
    PartsPage,
    PictureBox,
    SectionRow,
    TemperatureRow,
)
from assembler.publishing.rings import clock_ring
from assembler.publishing.source import STACK_PICTURE, Source, part_name, picture_box, seen_from, step_anchor
from assembler.publishing.wording import merged, pattern, ranges
from assembler.words import Words

ABOUT_LETTERS = 48
"""Length from which bolts are named by their joints."""
DOCUMENTS = ("crew", "engineer", "shop", "cards", "install")
"""What is written for whom; the install book where the figure travels."""
AT_A_GLANCE = 4
"""Findings named on the cover; the others are counted."""


def cover_page(source: Source) -> CoverPage:
    """The cover: the figure, who it is for, and what stops the work."""
    words, plan, settings = source.words, source.plan, source.settings
    stops = [row for row in plan.findings if row.level is Level.STOP]
    named = alike(stops, words)
    lines = [merged([words.text(row.message) for row in group]) for group in named[:AT_A_GLANCE]]
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
    documents = [name for name in DOCUMENTS if name != "install" or source.consignment is not None]
    return CoverPage(
        picture=picture_box(source.pictures.cover, words),
        verdict=words.count("cover.verdict.stop", len(stops)) if stops else words("cover.verdict.none"),
        verdict_level=(Level.STOP if stops else Level.NOTE).value,
        findings=tuple(lines),
        facts=tuple((label, value) for label, value in facts if value),
        fields=tuple(words(f"cover.call.{name}") for name in ("lead", "engineer", "first_aid")),
        documents=tuple((words(f"document.{name}.title"), words(f"document.{name}.whose")) for name in documents),
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
        deciding=lines_of(source, "before.deciding"),
        limits=lines_of(source, "before.limits"),
        reading=_reading(source),
        glossary=tuple((words(f"glossary.{name}.term"), words(f"glossary.{name}.means")) for name in _GLOSSARY),
    )


def _reading(source: Source) -> tuple[Pair, ...]:
    """How to read a step; left and right are told by what the cover shows, where it has a picture."""
    words, cover = source.words, source.pictures.cover
    side = seen_from(source, cover.view.eye, source.settings.up) if cover else ""
    return tuple(
        (words(f"reading.{name}.what"), words(f"reading.{name}.how", side=side))
        for name in _READING
        if side or name != "left"
    )


WRONG_BONDED = ("late", "cold", "wrong_part", "glue_eye", "spill")
WRONG = ("hole", "step", "nut", "torque", "late", "cold", "wrong_part", "fall", "glue_eye", "spill")
"""What can go wrong; the ones above only where something is bonded."""
RING_MM = 30.0
_READING = ("gate", "number", "picture", "orders", "ticks", "clock", "sign", "left", "sheet")
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


def lines_of(source: Source, key: str, **gaps: object) -> tuple[str, ...]:
    """The lines of a string of several."""
    return tuple(line.strip() for line in source.words(key, **gaps).splitlines() if line.strip())


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


def bonding_page(source: Source) -> BondingPage:
    """What is done at every bonded joint, so that no step repeats it; and what to do if something goes wrong."""
    words, adhesive = source.words, source.settings.adhesive
    names = [name for name in WRONG if source.bondings or name not in WRONG_BONDED]
    wrong = tuple((words(f"wrong.{name}.if"), words(f"wrong.{name}.then")) for name in names)
    has_pockets = any(captive_nuts(source, step) for step in source.plan.steps)
    dry_checks = _checks(source, ["by_hand", "thread", *(["pockets"] if has_pockets else []), "seam"])
    if not source.bondings:
        return BondingPage(
            lines=(), notes=(), checks=(), dry_checks=dry_checks, ring=None, temperatures=(), free=(), wrong=wrong
        )
    hold_min = max(row.handling_min for row in source.bondings)
    longest = min(
        (row for row in source.bondings if row.handling_min == hold_min), key=lambda row: natural_key(row.joint)
    )
    return BondingPage(
        lines=(
            *(lines_of(source, "pocket.lines") if has_pockets else ()),
            *lines_of(source, "bonding.lines", hours=PREPARED_H),
        ),
        notes=(
            words("bonding.name", name=adhesive.name),
            *_low_torque(source),
            *([words("glue.spacer", spacer=adhesive.spacer)] if adhesive.spacer else []),
        ),
        checks=_checks(source, ["seam", "squeeze", "open_time"]),
        dry_checks=dry_checks,
        ring=clock_ring(longest.joint, hold_min, RING_MM, words),
        temperatures=temperature_rows(source),
        free=tuple(_free_rows(source)),
        wrong=wrong,
    )


def _checks(source: Source, names: Sequence[str]) -> tuple[str, ...]:
    return tuple(source.words(f"check.{name}", **_check_gaps(source, name)) for name in names)


def _free_rows(source: Source) -> Iterator[FreeRow]:
    """Each hold of the book once, the shortest first: no page of a step hangs on the hour at which it is planned."""
    holds = {(hold.minutes, hold.reason, hold.clocks) for step in source.plan.steps if (hold := step.hold)}
    for minutes, reason, clocks in sorted(holds, key=lambda hold: (hold[0], str(hold[1]), hold[2])):
        yield FreeRow(after=quantities.duration(minutes), clocks=clocks, reason=source.words.text(reason))


def _low_torque(source: Source) -> list[str]:
    """How screws are turned that no common wrench can be set to."""
    if not any(0 < row.torque_nm < LEAST_WRENCH_NM for row in source.stacks):
        return []
    return [source.words("tighten.low", least=source.units.torque(LEAST_WRENCH_NM))]


def _check_gaps(source: Source, name: str) -> dict[str, str]:
    return {"seam": f"{source.settings.seam_step_mm:g}"} if name == "seam" else {}


def temperature_rows(source: Source) -> tuple[TemperatureRow, ...]:
    """Times of the adhesive, coldest first."""
    return tuple(
        TemperatureRow(
            temperature=source.units.temperature(row.temp_c),
            open=quantities.span(row.open_min),
            working_life=quantities.span(row.working_life_min),
            handling=quantities.duration(row.handling_min),
            full_cure=quantities.duration(row.full_cure_min),
        )
        for row in sorted(source.temperatures, key=lambda row: row.temp_c)
    )


def finding_rows(source: Source) -> tuple[FindingRow, ...]:
    """Findings, heaviest first, each with the steps it touches; those that differ in numbers only are one row."""
    rows, words = [], source.words
    for number, group in enumerate(alike(source.plan.findings, words), start=1):
        first = group[0]
        about = tuple(dict.fromkeys(name for finding in group for name in finding.about))
        whole = replace(first, about=about, message=merged([words.text(finding.message) for finding in group]))
        rows.append(
            FindingRow(
                number=str(number),
                level=first.level.value,
                word=words(f"findings.level.{first.level}"),
                about=about_text(about),
                message=words.text(whole.message),
                remedy=words.text(first.remedy),
                where=ranges(name for _, name in touched_steps(source, whole)),
            )
        )
    return tuple(rows)


def about_text(names: Sequence[str]) -> str:
    """Ids of parts, joints and bolts; bolts are named by their joints when they are many. Steps are printed apart."""
    things = [name for name in names if not name.startswith("step ")]
    text = ranges(things)
    return text if len(text) <= ABOUT_LETTERS else ranges(name.split(".")[0] for name in things)


def alike(findings: Sequence[Finding], words: Words) -> list[list[Finding]]:
    """Findings grouped by level, kind, remedy and wording, numbers left out, in the order of their first ones."""
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        remedy, message = words.text(finding.remedy), words.text(finding.message)
        key = (finding.level.value, finding.code, remedy, pattern(message))
        groups.setdefault(key, []).append(finding)
    return list(groups.values())


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
        name=part_name(part),
        material=part.material,
        mass=source.units.mass(part.mass_kg),
        size=source.units.size(part.size_mm),
        section=_section_of(source, part),
        step=step.number if step else "",
        step_anchor=step_anchor(step.number) if step else "",
        thumbnail=picture_box(source.pictures.thumbnails.get(part.id), source.words),
    )


def _section_of(source: Source, part: Part) -> SectionId | str:
    return next((section.id for section in source.plan.sections if part.id in section.parts), "")


def road_facts(source: Source, section: Section) -> tuple[str, str, str, str]:
    """A section as it travels: name, mass, size, and what it has to stand on the road."""
    return (
        section.id,
        source.units.mass(section.mass_kg),
        source.units.size(section.size_mm),
        _on_the_road(source, section),
    )


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
        overview=picture_box(source.pictures.overview, source.words),
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
                picture=picture_box(source.pictures.sections.get(section.id), source.words),
            )
            for section in plan.sections
        ),
        order=order_diagrams(plan, source.pictures.thumbnails, words),
        stacks=_stacks(source),
        pockets=tuple(box for row in pocket_pictures(source) if (box := picture_box(row, source.words)) is not None),
    )


def _stacks(source: Source) -> tuple[PictureBox, ...]:
    """The drawing of each kind of bolt, once: it is the same wherever that kind is fitted."""
    found: dict[tuple[str, str, float, str, str, int], Picture] = {}
    for step in source.plan.steps:
        drawn = [row for row in source.pictures.steps.get(step.number, ()) if STACK_PICTURE in row.file]
        kinds = dict.fromkeys(
            (row.screw, row.size, row.length_mm, row.washer, row.nut, row.washers) for row in step.stacks
        )
        for kind, picture in zip(kinds, drawn, strict=False):
            found.setdefault(kind, picture)
    ordered = sorted(found.items(), key=lambda item: (natural_key(item[0][1]), item[0][2], repr(item[0])))
    return tuple(box for _, picture in ordered if (box := picture_box(picture, source.words)) is not None)
