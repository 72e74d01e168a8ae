"""figure.toml: what the shop decides. Written once by the tool, from then on owned by hand."""

from __future__ import annotations

import datetime
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from assembler.catalogue import tables
from assembler.errors import Fault, ProjectFileError
from assembler.figure.ids import PartId
from assembler.figure.parts import Vector
from assembler.figure.records import read_as
from assembler.figure.settings import (
    Adhesive,
    Assumed,
    Base,
    Climate,
    Crew,
    Envelopes,
    FinishOperation,
    HardwareChoice,
    Logo,
    Material,
    Name,
    OwnSection,
    PartRule,
    Passage,
    Pins,
    Positive,
    Settings,
    Vehicle,
    Wishes,
)
from assembler.figure.sides import STEEP, usual_front
from assembler.figure.tolerances import Tolerances
from assembler.projectfiles.builtlog import FIRST_YEAR, LAST_YEAR
from assembler.projectfiles.logofile import read_logo
from assembler.projectfiles.toml import Table, check_table, read_plain

SHORTEST_SHIFT_H = 0.25
"""No work fits into less: a moment as a shift is a slip."""
UNITS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


class _Figure(Table):
    """The figure itself.

    Parameters
    ----------
    name
        On every page.
    client
        On the cover.
    revision
        Letter of the next issued book.
    date
        On the cover, year-month-day; empty: a field to fill in.
    unit
        Of mesh files that state none (STL, OBJ, PLY, OFF).
    up
        The axis of the mesh files that points up when the figure stands.
    front
        The axis that the figure faces: left and right in the book are its own. Empty: what is usual for `up`.
    moved_mm
        A shift of all mesh files against the first export that is meant, and is taken back.
    assumed
        What the first survey assumed and nobody has decided; take a word out once its values are what you decided.

    Notes
    -----
    Effect: covers and heads of pages; unit and up decide every size, mass and order.
    Source: the first survey.
    """

    name: Name
    client: str = ""
    revision: Annotated[str, Field(pattern=r"^[A-Z]{1,2}$")] = "A"
    date: Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    unit: Literal["mm", "cm", "m", "in", ""] = ""
    up: Vector = (0.0, 0.0, 1.0)
    front: Literal["", "+x", "-x", "+y", "-y", "+z", "-z"] = ""
    moved_mm: Vector = (0.0, 0.0, 0.0)
    assumed: tuple[Assumed, ...] = ()


class _Shop(Table):
    """The shop, and how it prints.

    Parameters
    ----------
    name
        On the cover.
    contact
        Whom the crew calls.
    sheet
        Size of paper.
    labels
        Stock labels by their size in mm; empty: a usual size for the sheet.
    cautions
        Your own cautions, printed after the general ones.
    inches
        Whether inch, pound and degree Fahrenheit stand beside the metric values.
    logo
        An SVG or PNG file in the project folder, printed on the cover.

    Notes
    -----
    Effect: the look of the books only.
    Source: common practice, no source.
    """

    name: str = ""
    contact: str = ""
    sheet: Literal["A4", "Letter"] = "A4"
    labels: Literal["", "99.1 x 57", "99.1 x 67.7", "105 x 74", "101.6 x 84.7"] = ""
    cautions: tuple[str, ...] = ()
    inches: bool = False
    logo: str = ""


class _Finish(Table):
    """What is done after the last joint.

    Parameters
    ----------
    route
        Name of a built-in list of operations, or of your own; empty: the finish is left out of the book.
    seam_step_mm
        Greatest step across a closed seam that filler and sanding take up.
    operation
        The operations, in order, each under [[finish.operation]].

    Notes
    -----
    Effect: pages, products and days of the finish; the check of each seam.
    Source: typical values from memory.
    """

    route: str = ""
    seam_step_mm: Positive = 0.5
    operation: tuple[FinishOperation, ...] = ()


class _Order(Table):
    """Your wishes for the order.

    Parameters
    ----------
    after
        Pairs [later, earlier] of parts.
    apart
        Groups of parts to build apart and bring in as one.
    work_on_bolts
        Whether a fresh joint may be loaded where the engineering shows that the bolts alone carry it.

    Notes
    -----
    Effect: the order of the steps.
    Source: nothing is wished until you do.
    """

    after: tuple[tuple[str, str], ...] = ()
    apart: tuple[tuple[str, ...], ...] = ()
    work_on_bolts: bool = False


class _Tolerances(Table):
    """How far meshes may be from the ideal.

    Parameters
    ----------
    gap_mm
        Largest distance between two faces that still mate.
    overlap_mm
        Deepest overlap of two mating faces that is still noise; more is a collision.
    angle_deg
        Largest angle between opposed mating faces.
    joint_area_mm2
        Facing area from which a contact is a joint.

    Notes
    -----
    Effect: which joints the survey finds; what counts as a collision.
    Source: measured on generated part sets.
    """

    gap_mm: Annotated[float, Field(gt=0, le=1000)] = Tolerances().gap_mm
    overlap_mm: Annotated[float, Field(gt=0, le=1000)] = Tolerances().overlap_mm
    angle_deg: Annotated[float, Field(gt=0, lt=45)] = Tolerances().angle_deg
    joint_area_mm2: Positive = Tolerances().joint_area_mm2


def _named(tables: Any) -> Any:
    """Each material with the name that its table has."""
    if not isinstance(tables, dict):
        return tables
    return {name: {**table, "name": name} if isinstance(table, dict) else table for name, table in tables.items()}


class _File(Table):
    figure: _Figure
    shop: _Shop = _Shop()
    materials: Annotated[dict[str, Material], BeforeValidator(_named)]
    parts: dict[str, PartRule | str]
    hardware: HardwareChoice = HardwareChoice()
    adhesive: Adhesive
    crew: Crew = Crew()
    calendar: Wishes = Wishes()
    temperature: Climate = Climate()
    envelopes: Envelopes = Envelopes()
    passage: tuple[Passage, ...] = ()
    vehicle: Vehicle | None = None
    section: tuple[OwnSection, ...] = ()
    base: Base = Base()
    finish: _Finish = _Finish()
    order: _Order = _Order()
    tolerances: _Tolerances = _Tolerances()


def settings_schema() -> dict[str, Any]:
    """What figure.toml may hold, as JSON Schema with the words of the records."""
    return _File.model_json_schema()


def read_settings(path: Path) -> Settings:
    """What the shop decided.

    Parameters
    ----------
    path
        figure.toml.

    Returns
    -------
    Settings
        Ids of parts are not yet held against the parts folder; see `check_part_ids`.

    Raises
    ------
    ProjectFileError
        If the file is missing, no TOML, or holds values that cannot be used.
    """
    return settings_of(read_plain(path), path)


def settings_of(table: dict[str, Any], path: Path) -> Settings:
    """What the shop decided, from a figure.toml that may not be written yet; as `read_settings`."""
    _refuse_replaced(table, path)
    content = check_table(table, _File, path)
    faults = _material_faults(path, content)
    length = sum(value * value for value in content.figure.up) ** 0.5
    if length < 1e-9:
        faults.append(
            Fault(file=str(path), place="figure.up", wrong="got a zero vector", right="give the axis that points up")
        )
    elif (
        content.figure.front
        and not abs(_unit_vector(content.figure.up, length)["xyz".index(content.figure.front[1])]) < STEEP
    ):
        faults.append(
            Fault(
                file=str(path),
                place="figure.front",
                wrong=f"got {content.figure.front!r}, which is the way that points up or down",
                right='give the axis of the mesh files that the front of the figure faces, such as "-y"',
            )
        )
    faults += _clock_faults(path, content) + _shift_faults(path, content.crew) + _date_faults(path, content.calendar)
    faults += _section_faults(path, content.section)
    faults += _anchor_faults(path, content.base) + _route_faults(path, content.finish)
    logo = read_logo(path, content.shop.logo) if content.shop.logo else None
    if isinstance(logo, Fault):
        faults.append(logo)
    if faults:
        raise ProjectFileError(*faults)
    settings = _settings(content, _unit_vector(content.figure.up, length))
    return replace(settings, logo=logo) if isinstance(logo, Logo) else settings


def _material_faults(path: Path, content: _File) -> list[Fault]:
    known = ", ".join(sorted(repr(name) for name in content.materials)) or "none"
    uses = [("parts.material", content.parts.get("material", ""))]
    uses += [
        (f"parts.{part}.material", rule.material)
        for part, rule in sorted(content.parts.items())
        if isinstance(rule, PartRule) and rule.material is not None
    ]
    return [
        Fault(
            file=str(path),
            place=place,
            wrong=f"material {name!r} is not defined",
            right=f"define it under [materials] or use one of: {known}",
        )
        for place, name in uses
        if name not in content.materials
    ]


def _clock_faults(path: Path, content: _File) -> list[Fault]:
    """Times and temperatures that contradict each other."""
    glue, crew = content.adhesive, content.crew
    checks = (
        (
            glue.fixture_min <= glue.handling_min <= glue.full_cure_min,
            "adhesive",
            f"got {glue.fixture_min:g}, {glue.handling_min:g} and {glue.full_cure_min:g} minutes",
            "fixture_min, handling_min and full_cure_min must not fall",
        ),
        (
            not glue.strength_mpa or glue.handling_mpa <= glue.strength_mpa,
            "adhesive",
            f"got {glue.handling_mpa:g} and {glue.strength_mpa:g} MPa",
            "handling_mpa must not be above strength_mpa",
        ),
        (
            glue.lowest_c < glue.highest_c,
            "adhesive",
            f"got {glue.lowest_c:g} to {glue.highest_c:g} C",
            "lowest_c must be below highest_c",
        ),
        (
            crew.day_start_h < crew.day_end_h,
            "crew",
            f"got {crew.day_start_h:g} to {crew.day_end_h:g} o'clock",
            "day_start_h must be before day_end_h",
        ),
    )
    return [
        Fault(file=str(path), place=place, wrong=wrong, right=right) for fits, place, wrong, right in checks if not fits
    ]


def _shift_faults(path: Path, crew: Crew) -> list[Fault]:
    """Shifts that end before they begin, are too short for any work, or reach into each other."""
    faults = []
    for first_h, last_h in crew.shifts:
        if 0.0 < last_h - first_h < SHORTEST_SHIFT_H:
            wrong = f"got a shift from {first_h:g} to {last_h:g} o'clock"
            right = f"hours of the day, {60 * SHORTEST_SHIFT_H:g} minutes apart at least"
            faults.append(Fault(file=str(path), place="crew", wrong=wrong, right=right))
    for first_h, last_h in crew.shifts_h:
        if first_h >= last_h:
            wrong = f"got a shift from {first_h:g} to {last_h:g} o'clock"
            right = "a shift begins before it ends; split one over midnight in two"
            faults.append(Fault(file=str(path), place="crew.shifts_h", wrong=wrong, right=right))
    for (first_h, last_h), (next_h, end_h) in pairwise(sorted(crew.shifts_h)):
        if next_h < last_h:
            wrong = f"the shifts {first_h:g} to {last_h:g} and {next_h:g} to {end_h:g} o'clock overlap"
            right = f"let the later begin at {last_h:g} or after"
            faults.append(Fault(file=str(path), place="crew.shifts_h", wrong=wrong, right=right))
    return faults


def _date_faults(path: Path, wishes: Wishes) -> list[Fault]:
    """Dates that do not exist, need a day 1, or lie before it."""
    named = [("first_day", wishes.first_day), ("deadline", wishes.deadline)]
    named += [("days_off", date) for date in wishes.days_off]
    named += [("not_before", date) for _, date in wishes.not_before]
    faults = []
    for key, text in named:
        if text and not _is_date(text):
            right = f"a day of the years {FIRST_YEAR} to {LAST_YEAR} as year-month-day, such as 2031-04-07"
            wrong = f"got {text!r}"
            faults.append(Fault(file=str(path), place=f"calendar.{key}", wrong=wrong, right=right))
    if faults:
        return faults
    dated = [name for name, text in named if text and name != "first_day"]
    if dated and not wishes.first_day:
        wrong = f"{dated[0]} is stated, but not the date of day 1"
        faults.append(Fault(file=str(path), place="calendar.first_day", wrong=wrong, right="state first_day as well"))
    elif wishes.deadline and wishes.deadline < wishes.first_day:
        wrong = f"the deadline {wishes.deadline} is before day 1, {wishes.first_day}"
        right = "a deadline on day 1 or later, or none"
        faults.append(Fault(file=str(path), place="calendar.deadline", wrong=wrong, right=right))
    return faults


def _is_date(text: str) -> bool:
    try:
        return FIRST_YEAR <= datetime.date.fromisoformat(text).year <= LAST_YEAR
    except ValueError:
        return False


_REPLACED = {
    "door_mm": "[[passage]] with name, width_mm and height_mm",
    "crate_mm": "[vehicle] with length_mm, width_mm, height_mm and payload_kg; crates are made to measure",
}
"""Keys of [envelopes] of earlier versions, which nothing read, and what is asked for in their place."""


def _refuse_replaced(table: dict[str, Any], path: Path) -> None:
    boxes = table.get("envelopes")
    faults = [
        Fault(
            file=str(path),
            place=f"envelopes.{name}",
            wrong="this key had no effect and is gone",
            right=f"state {right}",
        )
        for name, right in _REPLACED.items()
        if isinstance(boxes, dict) and name in boxes
    ]
    if faults:
        raise ProjectFileError(*faults)


def _section_faults(path: Path, sections: tuple[OwnSection, ...]) -> list[Fault]:
    """Sections of one name, and parts that two of them have."""
    faults = []
    names: set[str] = set()
    owner: dict[str, str] = {}
    for number, section in enumerate(sections, 1):
        if section.name in names:
            wrong, right = f"two sections are called {section.name!r}", "give each a name of its own"
            faults.append(Fault(file=str(path), place=f"section {number}.name", wrong=wrong, right=right))
        names.add(section.name)
        for part in section.parts:
            if part in owner:
                wrong = f"part {part!r} is listed twice, in {owner[part]!r} and in {section.name!r}"
                right = "name each part in one section, once"
                faults.append(Fault(file=str(path), place=f"section {number}.parts", wrong=wrong, right=right))
            owner[part] = section.name
    return faults


def _anchor_faults(path: Path, base: Base) -> list[Fault]:
    places = len(base.anchors_at_mm)
    if places in (0, base.anchors):
        return []
    wrong = f"{places} places for {base.anchors} anchors"
    right = f"anchors = {places}, or as many places as anchors"
    return [Fault(file=str(path), place="base.anchors_at_mm", wrong=wrong, right=right)]


def _route_faults(path: Path, finish: _Finish) -> list[Fault]:
    """A route without operations has to be one that is known by name."""
    known = sorted({row.route for row in tables.finish_routes()})
    if finish.operation or finish.route in ("", *known):
        return []
    wrong = f"{finish.route!r} has no operations, and no list of them is built in"
    right = f"list them under [[finish.operation]], or use one of: {'; '.join(known)}"
    return [Fault(file=str(path), place="finish.route", wrong=wrong, right=right)]


def _finish_operations(finish: _Finish) -> tuple[FinishOperation, ...]:
    """The operations listed, or those of the route known by name."""
    if finish.operation:
        return finish.operation
    return tuple(read_as(FinishOperation, asdict(row)) for row in tables.finish_routes() if row.route == finish.route)


def _unit_vector(vector: Vector, length: float) -> Vector:
    return (vector[0] / length, vector[1] / length, vector[2] / length)


def _front(axis: str, up: Vector) -> Vector:
    """Where the figure faces; by habit where nothing is stated."""
    if not axis:
        return usual_front(up)
    x, y, z = ((-1.0 if axis[0] == "-" else 1.0) * float(letter == axis[1]) for letter in "xyz")
    return (x, y, z)


def _settings(content: _File, up: Vector) -> Settings:
    figure, shop = content.figure, content.shop
    rules = {PartId(part): rule for part, rule in sorted(content.parts.items()) if isinstance(rule, PartRule)}
    return Settings(
        name=figure.name,
        client=figure.client,
        revision=figure.revision,
        date=figure.date,
        unit_mm=UNITS_MM[figure.unit] if figure.unit else None,
        up=up,
        front=_front(figure.front, up),
        moved_mm=figure.moved_mm,
        shop_name=shop.name,
        shop_contact=shop.contact,
        sheet=shop.sheet,
        labels=shop.labels,
        cautions=shop.cautions,
        has_inches=shop.inches,
        materials=content.materials,
        default_material=str(content.parts.get("material", "")),
        parts=rules,
        adhesive=content.adhesive,
        hardware=content.hardware,
        crew=content.crew,
        wishes=content.calendar,
        climate=content.temperature,
        envelopes=content.envelopes,
        passages=content.passage,
        vehicle=content.vehicle,
        own_sections=content.section,
        base=content.base,
        finish=_finish_operations(content.finish),
        finish_route=content.finish.route,
        seam_step_mm=content.finish.seam_step_mm,
        pins=Pins(
            after=tuple((PartId(later), PartId(earlier)) for later, earlier in content.order.after),
            apart=tuple(tuple(PartId(part) for part in group) for group in content.order.apart),
        ),
        tolerances=Tolerances(**content.tolerances.model_dump()),
        work_on_bolts=content.order.work_on_bolts,
        assumed=figure.assumed,
    )


def check_part_ids(settings: Settings, known: tuple[PartId, ...], path: Path) -> None:
    """Hold every part id in figure.toml against the parts there are.

    Raises
    ------
    ProjectFileError
        If figure.toml names a part that does not exist; every fault at once.
    """
    named = [(f"parts.{part}", part) for part in sorted(settings.parts)]
    if settings.base.part is not None:
        named.append(("base.part", settings.base.part))
    named += [("calendar.not_before", part) for part, _ in settings.wishes.not_before]
    named += [("order.after", part) for pair in settings.pins.after for part in pair]
    named += [("order.apart", part) for group in settings.pins.apart for part in group]
    stated = [part for section in settings.own_sections for part in section.parts]
    named += [("section.parts", part) for part in stated]
    choice = ", ".join(known)
    faults = [
        Fault(file=str(path), place=place, wrong=f"there is no part {part!r}", right=f"use one of: {choice}")
        for place, part in named
        if part not in known
    ]
    left = [part for part in known if part not in stated] if stated else []
    if left:
        wrong = f"no section has {', '.join(left[:6])}" + (f" and {len(left) - 6} more" if len(left) > 6 else "")
        right = "name every part in one [[section]], or leave them all out: then the program finds sections"
        faults.append(Fault(file=str(path), place="section", wrong=wrong, right=right))
    if faults:
        raise ProjectFileError(*faults)
