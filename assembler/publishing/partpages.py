"""What goes where: the parts list, the sections, the overall view and the order."""

from __future__ import annotations

from assembler.engineering.transport import is_stable_in_transport, transport_forces
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
    words, settings = source.words, source.settings
    if section.mass_kg <= 0:
        return ""
    forces = {row.direction: quantities.force(row.force_n) for row in transport_forces(section.mass_kg)}
    upright = max(range(3), key=lambda axis: abs(settings.up[axis]))
    bodies = [source.part(name) for name in section.parts]
    lower_mm = min(part.low_mm[upright] for part in bodies)
    if settings.up[upright] < 0:
        lower_mm = max(part.high_mm[upright] for part in bodies)
    width_mm, length_mm = sorted(section.size_mm[axis] for axis in range(3) if axis != upright)
    stands = is_stable_in_transport(length_mm, width_mm, abs(section.centre_mm[upright] - lower_mm))
    return " ".join(
        (
            words("road.forces", forward=forces["forward"], side=forces["side"], rear=forces["rear"]),
            words("road.stands" if stands else "road.tips"),
        )
    )


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
