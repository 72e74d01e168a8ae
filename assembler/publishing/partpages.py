"""What goes where: the parts list, the sections, the overall view and the order."""

from __future__ import annotations

import math

from assembler.engineering.transport import (
    asked_in_transport_g,
    stands_in_transport,
    tips_at_g,
    transport_forces,
)
from assembler.figure.ids import SectionId, natural_key
from assembler.figure.parts import Part
from assembler.figure.plan import Section
from assembler.publishing import quantities
from assembler.publishing.ordergraph import order_diagrams
from assembler.publishing.pages import PartRow, PartsPage, SectionRow
from assembler.publishing.source import Source, picture_box, step_anchor


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
