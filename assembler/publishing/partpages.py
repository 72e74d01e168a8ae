"""What goes where: the parts list, the sections, the overall view and the order."""

from __future__ import annotations

from assembler.figure.ids import SectionId, natural_key
from assembler.figure.parts import Part
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
        mass=quantities.mass(part.mass_kg),
        size=quantities.size(part.size_mm),
        section=_section_of(source, part),
        step=step.number if step else "",
        step_anchor=step_anchor(step.number) if step else "",
        thumbnail=picture_box(source.pictures.thumbnails.get(part.id)),
    )


def _section_of(source: Source, part: Part) -> SectionId | str:
    return next((section.id for section in source.plan.sections if part.id in section.parts), "")


def parts_page(source: Source) -> PartsPage:
    """The parts list in the order of the ids, sections, overall view, order graph."""
    plan, words = source.plan, source.words
    parts = sorted(plan.parts, key=lambda part: natural_key(part.id))
    return PartsPage(
        rows=tuple(part_row(source, part) for part in parts),
        total_mass=quantities.mass(sum(part.mass_kg for part in parts)),
        overview=picture_box(source.pictures.overview),
        sections=tuple(
            SectionRow(
                id=section.id,
                parts=", ".join(section.parts),
                facts=(
                    (words("parts.head.mass"), quantities.mass(section.mass_kg)),
                    (words("parts.head.size"), quantities.size(section.size_mm)),
                    (words("parts.head.crate"), ""),
                ),
                picture=picture_box(source.pictures.sections.get(section.id)),
            )
            for section in plan.sections
        ),
        order=order_diagrams(plan, source.pictures.thumbnails, words),
    )
