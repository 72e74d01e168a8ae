"""Published tables, looked up by size, standard or name: what the standards say, as typed records with their source.

Goes in: the CSV files in `data/`, packaged with the wheel. Comes out: frozen records (`assembler.catalogue.records`).
Every lookup of something the tables do not have raises `KeyError` with the choices in its text.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import fields
from functools import cache
from pathlib import Path
from typing import TypeVar

from assembler.catalogue.records import (
    AdhesiveFamily,
    BearingDiameter,
    BodyMeasure,
    ClearanceHole,
    FrequencyMultiplier,
    Length,
    Nut,
    Opening,
    PrevailingTorque,
    Reference,
    RouteOperation,
    Row,
    Screw,
    Strength,
    Sureness,
    TeamShare,
    Thread,
    Tool,
    TransportAcceleration,
    TypicalMaterial,
    Washer,
)

R = TypeVar("R", bound=Row)


def _lines(name: str) -> list[dict[str, str]]:
    text = (Path(__file__).parent / "data" / name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def references() -> tuple[Reference, ...]:
    """Every source of tables, rules and checks."""
    return tuple(Reference(**{**line, "how": Sureness(line["how"])}) for line in _lines("sources.csv"))  # type: ignore[arg-type]


@cache
def sources() -> dict[str, str]:
    """Text of every source by its key in the data files. Do not change the returned mapping."""
    return {row.key: row.text for row in references()}


def _table(name: str, record: type[R]) -> tuple[R, ...]:
    """Rows of one data file as records; text, float and int by the type of the field."""
    kinds = {field.name: str(field.type) for field in fields(record)}
    convert = {"str": str, "float": float, "int": int}
    rows = []
    for line in _lines(name):
        values: dict[str, object] = {
            key: convert[kind](line[key]) for key, kind in kinds.items() if key not in ("how", "source")
        }
        values["how"] = Sureness(line["how"])
        values["source"] = sources()[line["source"]]
        rows.append(record(**values))  # type: ignore[arg-type]
    return tuple(rows)


@cache
def surenesses(name: str) -> tuple[Sureness, ...]:
    """How sure the rows of a data file ('materials') are: each way in it once."""
    return tuple(sorted({Sureness(line["how"]) for line in _lines(f"{name}.csv")}))


class NotListedError(KeyError):
    """A table has no row of what was asked for.

    Parameters
    ----------
    what
        What kind of thing.
    asked
        By which values it was looked for.
    choices
        Values that the table has.
    """

    def __init__(self, what: str, asked: str, choices: str) -> None:
        super().__init__(f"no {what} for {asked}; the table has {choices}")
        self.what, self.asked = what, asked


def _one(rows: Iterable[R], what: str, **wanted: object) -> R:
    rows = tuple(rows)
    for row in rows:
        if all(getattr(row, key) == value for key, value in wanted.items()):
            return row
    choices = sorted({", ".join(str(getattr(row, key)) for key in wanted) for row in rows})
    asked = ", ".join(str(value) for value in wanted.values())
    raise NotListedError(what, asked, "; ".join(choices))


@cache
def threads() -> tuple[Thread, ...]:
    """Coarse metric threads, smallest first."""
    return _table("threads.csv", Thread)


def thread(size: str) -> Thread:
    """Coarse thread of a size ('M8').

    Raises
    ------
    KeyError
        If the table does not have the size.
    """
    return _one(threads(), "thread", size=size)


@cache
def _strengths() -> tuple[Strength, ...]:
    return _table("strength.csv", Strength)


def strength(property_class: str, size: str) -> Strength:
    """Proof and ultimate load of a size in a property class ('8.8', 'M8').

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    return _one(_strengths(), "property class", property_class=property_class, size=size)


@cache
def clearance_holes() -> tuple[ClearanceHole, ...]:
    """Metric clearance holes, smallest first."""
    return _table("clearance_holes.csv", ClearanceHole)


@cache
def inch_holes() -> tuple[ClearanceHole, ...]:
    """Clearance holes of inch bolts, smallest first: to recognise them, not to use them."""
    return _table("inch_holes.csv", ClearanceHole)


@cache
def screws() -> tuple[Screw, ...]:
    """All screws, by standard and size."""
    return _table("screws.csv", Screw)


def screw(standard: str, size: str) -> Screw:
    """Head, thread and range of a screw ('ISO 4017', 'M8').

    Raises
    ------
    KeyError
        If the table does not have the pair (ISO 7380-1 has no M14, for one).
    """
    return _one(screws(), "screw", standard=standard, size=size)


@cache
def nuts() -> tuple[Nut, ...]:
    """All nuts, by standard and size."""
    return _table("nuts.csv", Nut)


def nut(standard: str, size: str) -> Nut:
    """A hexagon nut ('ISO 4032', 'M8').

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    return _one(nuts(), "nut", standard=standard, size=size)


@cache
def _bearing_faces() -> tuple[BearingDiameter, ...]:
    return _table("bearing_faces.csv", BearingDiameter)


def bearing_face(standard: str, size: str) -> BearingDiameter:
    """Face that a head or nut presses with ('ISO 4032', 'M8').

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    return _one(_bearing_faces(), "bearing face", standard=standard, size=size)


@cache
def prevailing_torques() -> tuple[PrevailingTorque, ...]:
    """Torques at which new prevailing-torque nuts turn, smallest first."""
    return _table("prevailing_torques.csv", PrevailingTorque)


def prevailing_torque(size: str) -> PrevailingTorque:
    """Greatest torque at which a new prevailing-torque nut turns ('M8').

    Raises
    ------
    KeyError
        If the table does not have the size.
    """
    return _one(prevailing_torques(), "prevailing torque", size=size)


@cache
def washers() -> tuple[Washer, ...]:
    """All washers, by standard and size."""
    return _table("washers.csv", Washer)


def washer(standard: str, size: str) -> Washer:
    """A plain washer ('ISO 7089', 'M8').

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    return _one(washers(), "washer", standard=standard, size=size)


@cache
def _series() -> tuple[Length, ...]:
    return _table("lengths.csv", Length)


def lengths(standard: str, size: str) -> tuple[float, ...]:
    """Lengths in which a screw is standard, mm, shortest first.

    Parameters
    ----------
    standard, size
        'ISO 4017', 'M8'.

    Returns
    -------
    tuple
        The standard's series within the range of the size.

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    row = screw(standard, size)
    series = (item.length_mm for item in _series() if item.standard == standard)
    return tuple(sorted(length for length in series if row.shortest_mm <= length <= row.longest_mm))


@cache
def _tools() -> tuple[Tool, ...]:
    return _table("tools.csv", Tool)


def tool(kind: str, across_flats_mm: float) -> Tool:
    """Room that a tool takes ('socket', 13.0).

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    return _one(_tools(), "tool", kind=kind, across_flats_mm=across_flats_mm)


@cache
def _openings() -> tuple[Opening, ...]:
    return _table("openings.csv", Opening)


def opening(measure: str, glove: str) -> Opening:
    """Opening that a part of the body passes ('hand', 'bare or light').

    Raises
    ------
    KeyError
        If the table does not have the pair.
    """
    return _one(_openings(), "opening", measure=measure, glove=glove)


@cache
def _body() -> tuple[BodyMeasure, ...]:
    return _table("body.csv", BodyMeasure)


def body_measure(measure: str) -> BodyMeasure:
    """A measure of small and large people ('functional reach').

    Raises
    ------
    KeyError
        If the table does not have it.
    """
    return _one(_body(), "body measure", measure=measure)


@cache
def typical_materials() -> tuple[TypicalMaterial, ...]:
    """Typical materials: defaults for figure.toml."""
    return _table("materials.csv", TypicalMaterial)


@cache
def adhesive_families() -> tuple[AdhesiveFamily, ...]:
    """Typical adhesive families: defaults for figure.toml."""
    return _table("adhesives.csv", AdhesiveFamily)


@cache
def transport_accelerations() -> tuple[TransportAcceleration, ...]:
    """Accelerations on the road."""
    return _table("transport.csv", TransportAcceleration)


@cache
def team_shares() -> tuple[TeamShare, ...]:
    """Shares for teams of one, two and three."""
    return _table("team_lifting.csv", TeamShare)


@cache
def frequency_multipliers() -> tuple[FrequencyMultiplier, ...]:
    """The frequency table of the lifting equation."""
    return _table("lifting_frequency.csv", FrequencyMultiplier)


@cache
def finish_routes() -> tuple[RouteOperation, ...]:
    """Operations of the finish routes known by name, each route in the order of the work."""
    return _table("finish_routes.csv", RouteOperation)
