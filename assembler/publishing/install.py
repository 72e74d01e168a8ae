"""The install book: everything that the crew on site needs, and nothing of the shop. Source in, page records out.

What arrives in which crate, the way in, base and anchors, the sections in order, care. Steps on site are pages of the
crew book, word for word: two descriptions of one step would drift apart.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from assembler.figure.consignment import Consignment, Crate, Stowed
from assembler.figure.joints import Joint, Place
from assembler.publishing import quantities
from assembler.publishing.baseplan import Ground, Tile, ground_of, plan_view, tiles
from assembler.publishing.cautions import base_cautions, protection_rows, tool_rows
from assembler.publishing.cratedrawings import crate_views, floor_plan
from assembler.publishing.endpages import base_facts
from assembler.publishing.engineer import push_rows
from assembler.publishing.frontpages import lines_of
from assembler.publishing.installmarks import MARKS, mark
from assembler.publishing.pages import Caution, CheckRow, Diagram, Pair, PictureBox, StepPage
from assembler.publishing.source import Source, part_name, picture_box, piece_name, sorted_lines

CARE = ("week", "month", "year", "storm")
WRONG = ("crate", "hole", "seam", "wind", "missing", "fall")


@dataclass(frozen=True, slots=True, kw_only=True)
class PackedRow:
    """One thing in a crate."""

    what: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CratePage:
    """A crate: to be read in the shop, and to be stuck on it.

    Parameters
    ----------
    id, title, facts
        Of the crate.
    picture
        Of the section.
    views, marks
        Drawings.
    rows
        What is in it.
    """

    id: str
    title: str
    facts: tuple[Pair, ...]
    picture: PictureBox | None
    views: Diagram
    marks: tuple[Diagram, ...]
    rows: tuple[PackedRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TripPage:
    """One load of the vehicle: drawing, and for each crate where it stands, where it tips, how many straps."""

    title: str
    floor: Diagram
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InstallBook:
    """The book page by page.

    Parameters
    ----------
    facts, lead
        What arrives, and what the numbers are not.
    picture
        The figure.
    arrives
        Crate, section, size, mass, who lifts it.
    trips, road_notes
        Loads of the vehicle.
    way
        Section, passage, how it is carried, how large it is then.
    ground
        Plan of the base; None where no anchor is placed.
    steps, elsewhere
        Steps on site; where links to those of the shop lead in the crew book: here to the first page of the steps.
    """

    facts: tuple[Pair, ...]
    lead: tuple[str, ...]
    picture: PictureBox | None
    arrives: tuple[tuple[str, ...], ...]
    crates: tuple[CratePage, ...]
    crate_notes: tuple[str, ...]
    trips: tuple[TripPage, ...]
    road_notes: tuple[str, ...]
    way: tuple[tuple[str, ...], ...]
    base: tuple[Pair, ...]
    ground: Diagram | None
    anchors: tuple[tuple[str, str, str], ...]
    pushes: tuple[tuple[str, ...], ...]
    push_notes: tuple[str, ...]
    questions: tuple[str, ...]
    cautions: tuple[Caution, ...]
    tools: tuple[Pair, ...]
    protection: tuple[Pair, ...]
    weather: tuple[Pair, ...]
    steps: tuple[StepPage, ...]
    elsewhere: tuple[str, ...]
    seams: tuple[str, ...]
    wrong: tuple[Pair, ...]
    checks: tuple[CheckRow, ...]
    care: tuple[tuple[str, str], ...]
    tiles: tuple[Tile, ...]
    signs: tuple[str, ...]


def install_book(source: Source, steps: tuple[StepPage, ...], consignment: Consignment) -> InstallBook:
    """Every page of the install book.

    Parameters
    ----------
    source
        What its pages are composed from.
    steps
        Pages of all steps, as the crew book has them.
    consignment
        Crates and loads.
    """
    words = source.words
    site = on_site(source)
    numbers = {step.number for step in site.plan.steps}
    ground = ground_of(source)
    pushes, push_notes = push_rows(source)
    return InstallBook(
        facts=_facts(source, consignment),
        lead=lines_of(source, "install.lead"),
        picture=picture_box(source.pictures.cover, words),
        arrives=tuple(_arrives(source, crate) for crate in consignment.crates),
        crates=tuple(_crate_page(source, crate, consignment) for crate in consignment.crates),
        crate_notes=lines_of(source, "install.crate_notes"),
        trips=tuple(_trips(source, consignment)),
        road_notes=lines_of(source, "install.road_notes"),
        way=tuple(_way(source)),
        base=base_facts(source),
        ground=plan_view(ground, words) if ground.anchors else None,
        anchors=_anchor_rows(source, ground),
        pushes=pushes,
        push_notes=push_notes,
        questions=lines_of(source, "install.questions"),
        cautions=base_cautions(words),
        tools=tool_rows(site),
        protection=protection_rows(site),
        weather=_weather(source, site),
        steps=tuple(step for step in steps if step.number in numbers),
        elsewhere=tuple(step.anchor for step in steps if step.number not in numbers),
        seams=tuple(
            words("install.seam", joint=joint.id, seam=source.units.length(joint.seam_mm)) for joint in _cuts(source)
        ),
        wrong=tuple((words(f"install.wrong.{name}.if"), words(f"install.wrong.{name}.then")) for name in WRONG),
        checks=tuple(
            CheckRow(what=words(f"final.{name}.what"), accept=words(f"final.{name}.accept"))
            for name in ("bolts", "seams", "stands", "anchors", "parts")
        ),
        care=tuple((words(f"install.care.{name}.when"), _care(source, name)) for name in CARE),
        tiles=tiles(ground, words),
        signs=tuple(words(f"base.sign.{name}") for name in ("lead", "client", "when")),
    )


def on_site(source: Source) -> Source:
    """The source with the steps, bolts and bonds of the site alone."""
    steps = tuple(step for step in source.plan.steps if step.place is Place.SITE)
    joints = {joint for step in steps for joint in step.joints}
    return replace(
        source,
        plan=replace(source.plan, steps=steps),
        stacks=[stack for stack in source.stacks if stack.joint in joints],
        bondings=[bonding for bonding in source.bondings if bonding.joint in joints],
    )


def _cuts(source: Source) -> list[Joint]:
    return [joint for joint in source.plan.joints if joint.made is Place.SITE]


def _facts(source: Source, consignment: Consignment) -> tuple[Pair, ...]:
    words, units = source.words, source.units
    gross = sum(crate.gross_kg for crate in consignment.crates)
    heaviest = max(consignment.crates, key=lambda crate: crate.gross_kg)
    rows = [
        (words("install.sections"), str(len(consignment.crates))),
        (words("install.gross"), units.mass(gross)),
        (words("install.heaviest"), f"{heaviest.id}, {units.mass(heaviest.gross_kg)}"),
        (words("install.site_joints"), words.listed([joint.id for joint in _cuts(source)])),
    ]
    if consignment.trips:
        rows.append((words("install.trips"), str(len(consignment.trips))))
    rows.append((words("cover.contact"), source.settings.shop_contact))
    return tuple((label, value) for label, value in rows if value)


def _arrives(source: Source, crate: Crate) -> tuple[str, ...]:
    words, units = source.words, source.units
    return (
        crate.id,
        f"{crate.section} · {_lies(source, crate)}",
        units.size(crate.outer_mm),
        units.mass(crate.gross_kg),
        words.text(crate.lift),
    )


def _lies(source: Source, crate: Crate) -> str:
    return source.words("install.standing" if crate.bed.is_standing else "install.lying")


def _crate_page(source: Source, crate: Crate, consignment: Consignment) -> CratePage:
    words, units = source.words, source.units
    x, y, z = crate.centre_mm
    first, second = crate.bed.shares
    forward, rear, side = (quantities.force(force) for force in crate.forces_n)
    return CratePage(
        id=crate.id,
        title=words("install.crate_title", crate=crate.id, section=crate.section),
        facts=(
            (words("install.inside"), units.size(crate.inner_mm)),
            (words("install.outside"), units.size(crate.outer_mm)),
            (words("install.net_gross"), f"{units.mass(crate.net_kg)} / {units.mass(crate.gross_kg)}"),
            (words("install.centre"), units.size((x, y, z))),
            (words("install.lies"), _lies(source, crate)),
            (
                words("install.cradles"),
                words(
                    "install.cradles_value",
                    first=units.length(crate.bed.cradles_mm[0]),
                    second=units.length(crate.bed.cradles_mm[1]),
                    mass=f"{units.mass(first * crate.net_kg)} / {units.mass(second * crate.net_kg)}",
                ),
            ),
            (words("install.block"), words("road.forces", forward=forward, side=side, rear=rear)),
            (words("install.lifted"), words.text(crate.lift)),
        ),
        picture=picture_box(source.pictures.sections.get(crate.section), words),
        views=crate_views(crate, words),
        marks=tuple(mark(name, words) for name in MARKS),
        rows=tuple(packed(source, crate, consignment)),
    )


def packed(source: Source, crate: Crate, consignment: Consignment) -> Iterator[PackedRow]:
    """What lies in a crate: parts, bags of the site joints that its section closes, and in the first one the kit."""
    words = source.words
    for name in (*crate.parts, *crate.loose):
        part = source.part(name)
        yield PackedRow(what=words("install.packed.part"), name=f"{part.id} · {part_name(part)}")
    for joint in _bags_of(source, crate, consignment):
        lines = sorted_lines(line for line in source.hardware if line.joint == joint)
        if not lines:
            # Glued without bolts: the adhesive is among the tools.
            continue
        pieces = words.listed([f"{line.count} {piece_name(words, line)}" for line in lines])
        yield PackedRow(what=words("install.packed.bag"), name=f"{joint} · {pieces}")
    if crate is consignment.crates[0]:
        for label, value in tool_rows(on_site(source)):
            yield PackedRow(what=words("install.packed.tool"), name=f"{label}: {value}")
        for line in lines_of(source, "install.kit"):
            yield PackedRow(what=words("install.packed.kit"), name=line)


def packing_rows(source: Source) -> tuple[tuple[str, str, str], ...]:
    """Crate, kind and name of all that is packed; none where the figure does not travel."""
    consignment = source.consignment
    if consignment is None:
        return ()
    return tuple(
        (crate.id, row.what, row.name) for crate in consignment.crates for row in packed(source, crate, consignment)
    )


def _bags_of(source: Source, crate: Crate, consignment: Consignment) -> list[str]:
    """Site joints whose bag travels with a section: the later one of the two that meet there."""
    crates = enumerate(consignment.crates)
    owner = {part: place for place, one in crates for part in (*one.parts, *one.loose)}
    place = consignment.crates.index(crate)
    return [joint.id for joint in _cuts(source) if max(owner[part] for part in joint.parts) == place]


def _trips(source: Source, consignment: Consignment) -> Iterator[TripPage]:
    vehicle, words = source.settings.vehicle, source.words
    if vehicle is None:
        return
    crates = {crate.id: crate for crate in consignment.crates}
    for number, trip in enumerate(consignment.trips, 1):
        yield TripPage(
            title=words("install.trip", number=str(number), mass=source.units.mass(trip.mass_kg)),
            floor=floor_plan(trip, vehicle, crates, words),
            rows=tuple(_stowed(source, one) for one in trip.stowed),
        )


def _stowed(source: Source, one: Stowed) -> tuple[str, ...]:
    words, units = source.words, source.units
    tips = [words(f"install.direction.{row.direction}") for row in one.tipping if not row.is_safe]
    straps = one.straps
    return (
        one.crate,
        units.length(one.at_mm[0]),
        units.length(one.at_mm[1]),
        words.listed(tips) or words("install.nowhere"),
        str(straps.blocked),
        str(max(straps.sliding_forward, straps.tipping)),
    )


def _way(source: Source) -> Iterator[tuple[str, ...]]:
    division, words = source.plan.division, source.words
    if division is None:
        return
    ids = {section.parts: section.id for section in source.plan.sections}
    for way in division.sections:
        for passing in way.passings:
            carried = words("install.standing" if passing.is_standing else "install.lying")
            yield (ids.get(way.parts, way.name), words.text(passing.place), carried, source.units.size(passing.size_mm))


def _anchor_rows(source: Source, ground: Ground) -> tuple[tuple[str, str, str], ...]:
    units = source.units
    return tuple((one.name, units.length(one.left_mm), units.length(one.front_mm)) for one in ground.anchors)


def _weather(source: Source, site: Source) -> tuple[Pair, ...]:
    words, climate, glue = source.words, source.settings.climate, source.settings.adhesive
    rows = [(words("install.weather.planned"), source.units.temperature(climate.site_c))]
    if site.bondings:
        low, high = source.units.temperature(glue.lowest_c), source.units.temperature(glue.highest_c)
        rows.append((words("install.weather.glue"), words("tools.range", low=low, high=high)))
    rows += [
        (words(f"install.weather.{name}.what"), words(f"install.weather.{name}.limit"))
        for name in ("wind", "rain", "night")
    ]
    return tuple(rows)


def _care(source: Source, name: str) -> str:
    cuts = _cuts(source)
    bolts = sum(len(joint.bolts) for joint in cuts)
    seam = source.units.length(sum(joint.seam_mm for joint in cuts))
    return source.words(
        f"install.care.{name}.what",
        joints=source.words.listed([joint.id for joint in cuts]),
        bolts=bolts,
        seam=seam,
        anchors=source.settings.base.anchors,
    )
