"""figure.toml: what the shop decides. Written once by the tool, from then on owned by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated, Literal

import pydantic
from pydantic import Field

from assembler.catalogue import tables
from assembler.errors import Fault, ProjectFileError
from assembler.figure.ids import PartId
from assembler.figure.parts import Vector
from assembler.figure.settings import (
    Adhesive,
    Base,
    BaseWhen,
    Climate,
    Crew,
    Envelopes,
    FinishOperation,
    Glove,
    HardwareChoice,
    Logo,
    Material,
    PartRule,
    Pins,
    Settings,
)
from assembler.figure.tolerances import Tolerances
from assembler.projectfiles.logofile import read_logo
from assembler.projectfiles.toml import Table, read_table

UNITS_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}

Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Celsius = Annotated[float, Field(ge=-40, le=80)]


class _Figure(Table):
    name: Annotated[str, Field(min_length=1)]
    client: str = ""
    revision: Annotated[str, Field(pattern=r"^[A-Z]{1,2}$")] = "A"
    date: Annotated[str, Field(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    unit: Literal["mm", "cm", "m", "in", ""] = ""
    up: tuple[float, float, float] = (0.0, 0.0, 1.0)
    moved_mm: tuple[Finite, Finite, Finite] = (0.0, 0.0, 0.0)


class _Shop(Table):
    name: str = ""
    contact: str = ""
    sheet: Literal["A4", "Letter"] = "A4"
    cautions: tuple[str, ...] = ()
    inches: bool = False
    logo: str = ""


class _Material(Table):
    density_kg_m3: Positive
    ballast_kg_m3: NotNegative = 0.0
    bearing_mpa: Positive
    source: str = "stated by the shop"


class _PartRule(Table):
    material: str | None = None
    printed: bool | None = None


class _Hardware(Table):
    screw: Literal["ISO 4014", "ISO 4017", "ISO 4762", "ISO 7380-1"] = "ISO 4017"
    nut: Literal["ISO 4032", "ISO 7040"] = "ISO 4032"
    washer: Literal["ISO 7089", "ISO 7093-1"] = "ISO 7089"
    property_class: Literal["8.8", "A2-70"] = "8.8"
    spares_percent: NotNegative = 5.0
    spares_least: Annotated[int, Field(ge=0)] = 2
    pack: Annotated[int, Field(ge=1)] = 50
    stock_lengths_mm: tuple[Positive, ...] = ()
    nut_factor: Annotated[float, Field(gt=0.05, lt=0.5)] = 0.2
    corrosion: str = ""
    locking: str = ""


class _Adhesive(Table):
    name: Annotated[str, Field(min_length=1)]
    bond_line_mm: Positive
    waste: NotNegative
    cartridge_ml: Positive
    open_min: Positive
    working_life_min: Positive
    fixture_min: Positive
    handling_min: Positive
    full_cure_min: Positive
    sheet_c: Celsius = 23.0
    lowest_c: Celsius = 10.0
    highest_c: Celsius = 35.0
    strength_mpa: NotNegative = 0.0
    peel_mpa: NotNegative = 0.0
    handling_mpa: Positive = 0.2
    spacer: str = ""
    source: str = "stated by the shop"

    @pydantic.model_validator(mode="after")
    def _clocks_in_order(self) -> _Adhesive:
        if not self.fixture_min <= self.handling_min <= self.full_cure_min:
            raise ValueError("fixture_min, handling_min and full_cure_min must not fall")
        if self.strength_mpa and self.handling_mpa > self.strength_mpa:
            raise ValueError("handling_mpa must not be above strength_mpa")
        if self.lowest_c >= self.highest_c:
            raise ValueError("lowest_c must be below highest_c")
        return self


class _Crew(Table):
    people: Annotated[int, Field(ge=1, le=20)] = 2
    glove: Glove = Glove.LIGHT
    hand_opening_mm: NotNegative = 0.0
    forearm_opening_mm: NotNegative = 0.0
    reach_mm: Positive = 550.0
    lift_one_kg: NotNegative = 0.0
    bolt_min: Positive = 1.0
    spread_mm2_min: Positive = 15000.0
    prepare_mm2_min: Positive = 1500.0
    dry_fit_min: NotNegative = 10.0
    day_start_h: Annotated[float, Field(ge=0, lt=24)] = 8.0
    day_end_h: Annotated[float, Field(gt=0, le=24)] = 17.0

    @pydantic.model_validator(mode="after")
    def _day_has_hours(self) -> _Crew:
        if self.day_start_h >= self.day_end_h:
            raise ValueError("day_start_h must be before day_end_h")
        return self


class _Temperature(Table):
    shop_c: Celsius = 20.0
    night_min_c: Celsius = 16.0
    site_c: Celsius = 15.0
    night_site_c: Celsius | None = None


Box = tuple[Positive, Positive, Positive]


class _Envelopes(Table):
    printer_mm: Box | None = None
    door_mm: Box | None = None
    crate_mm: Box | None = None


class _Base(Table):
    when: BaseWhen = BaseWhen.FIRST
    part: str = ""
    size_mm: tuple[NotNegative, NotNegative, NotNegative] = (0.0, 0.0, 0.0)
    mass_kg: NotNegative = 0.0
    anchors: Annotated[int, Field(ge=0)] = 0
    anchor_size: str = ""
    anchors_at_mm: tuple[tuple[float, float, float], ...] = ()


class _Operation(Table):
    name: Annotated[str, Field(min_length=1)]
    on: Literal["seams", "surface"]
    coverage_m2_l: NotNegative = 0.0
    groove_mm2: NotNegative = 0.0
    coats: Annotated[int, Field(ge=1)] = 1
    wait_min: NotNegative = 0.0
    note: str = ""


class _Finish(Table):
    route: str = ""
    seam_step_mm: Positive = 0.5
    operation: tuple[_Operation, ...] = ()


class _Order(Table):
    after: tuple[tuple[str, str], ...] = ()
    apart: tuple[tuple[str, ...], ...] = ()
    work_on_bolts: bool = False


class _Tolerances(Table):
    gap_mm: Positive = Tolerances().gap_mm
    overlap_mm: Positive = Tolerances().overlap_mm
    angle_deg: Annotated[float, Field(gt=0, lt=45)] = Tolerances().angle_deg
    joint_area_mm2: Positive = Tolerances().joint_area_mm2


class _File(Table):
    figure: _Figure
    shop: _Shop = _Shop()
    materials: dict[str, _Material]
    parts: dict[str, _PartRule | str]
    hardware: _Hardware = _Hardware()
    adhesive: _Adhesive
    crew: _Crew = _Crew()
    temperature: _Temperature = _Temperature()
    envelopes: _Envelopes = _Envelopes()
    base: _Base = _Base()
    finish: _Finish = _Finish()
    order: _Order = _Order()
    tolerances: _Tolerances = _Tolerances()


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
    content = read_table(path, _File)
    faults = _material_faults(path, content)
    length = sum(value * value for value in content.figure.up) ** 0.5
    if length < 1e-9:
        faults.append(
            Fault(file=str(path), place="figure.up", wrong="got a zero vector", right="give the axis that points up")
        )
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
        if isinstance(rule, _PartRule) and rule.material is not None
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


def _anchor_faults(path: Path, base: _Base) -> list[Fault]:
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
        return tuple(FinishOperation(**operation.model_dump()) for operation in finish.operation)
    return tuple(
        FinishOperation(
            name=row.name,
            on=row.on,
            coverage_m2_l=row.coverage_m2_l,
            groove_mm2=row.groove_mm2,
            coats=row.coats,
            wait_min=row.wait_min,
            note=row.note,
        )
        for row in tables.finish_routes()
        if row.route == finish.route
    )


def _unit_vector(vector: Vector, length: float) -> Vector:
    return (vector[0] / length, vector[1] / length, vector[2] / length)


def _settings(content: _File, up: Vector) -> Settings:
    figure, shop = content.figure, content.shop
    rules = {
        PartId(part): PartRule(material=rule.material, is_printed=rule.printed)
        for part, rule in sorted(content.parts.items())
        if isinstance(rule, _PartRule)
    }
    crew = content.crew.model_dump() | {"glove": content.crew.glove}
    base = content.base.model_dump() | {"part": PartId(content.base.part) if content.base.part else None}
    return Settings(
        name=figure.name,
        client=figure.client,
        revision=figure.revision,
        date=figure.date,
        unit_mm=UNITS_MM[figure.unit] if figure.unit else None,
        up=up,
        moved_mm=figure.moved_mm,
        shop_name=shop.name,
        shop_contact=shop.contact,
        sheet=shop.sheet,
        cautions=shop.cautions,
        has_inches=shop.inches,
        materials={name: Material(name=name, **m.model_dump()) for name, m in content.materials.items()},
        default_material=str(content.parts.get("material", "")),
        parts=rules,
        adhesive=Adhesive(**content.adhesive.model_dump()),
        hardware=HardwareChoice(**content.hardware.model_dump()),
        crew=Crew(**crew),
        climate=Climate(**content.temperature.model_dump()),
        envelopes=Envelopes(**content.envelopes.model_dump()),
        base=Base(**base),
        finish=_finish_operations(content.finish),
        finish_route=content.finish.route,
        seam_step_mm=content.finish.seam_step_mm,
        pins=Pins(
            after=tuple((PartId(later), PartId(earlier)) for later, earlier in content.order.after),
            apart=tuple(tuple(PartId(part) for part in group) for group in content.order.apart),
        ),
        tolerances=Tolerances(**content.tolerances.model_dump()),
        work_on_bolts=content.order.work_on_bolts,
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
    named += [("order.after", part) for pair in settings.pins.after for part in pair]
    named += [("order.apart", part) for group in settings.pins.apart for part in group]
    choice = ", ".join(known)
    faults = [
        Fault(file=str(path), place=place, wrong=f"there is no part {part!r}", right=f"use one of: {choice}")
        for place, part in named
        if part not in known
    ]
    if faults:
        raise ProjectFileError(*faults)
