"""plan.json: the plan for other programs and for later comparison, with a published schema.

Names, digits and order of the keys follow from the records in `figure`; here is only the frame round them. After a
change of those records, `python -m assembler.projectfiles.planfile` writes the published schema anew.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator

from assembler.figure.calendar import Calendar
from assembler.figure.division import Division
from assembler.figure.findings import Finding
from assembler.figure.joints import Joint
from assembler.figure.parts import Part, Vector
from assembler.figure.plan import Plan, Section, StatedBase, Step
from assembler.figure.records import NOT_NEGATIVE, SPOKEN, Sayings, adapter, digits, read_as, record_of
from assembler.projectfiles.jsonfile import read_json

SCHEMA_NAME: Final = "assembler/plan/1"
SCHEMA_FILE = Path(__file__).with_name("plan.schema.json")

_ALWAYS = (
    *("after", "up", "moves", "onto", "direction", "travel_mm", "joints", "hardware", "adhesive", "hold", "lift"),
    *("stability", "access", "view", "image"),
)
"""Keys of a step that every book has: a step without movement or hardware says so."""
_OLDER_ROWS: Mapping[str, Mapping[str, Any]] = {
    "hardware": {"kind": ""},
    "adhesive": dict.fromkeys(
        ("area_mm2", "temperature_c", "fixture_minutes", "handling_minutes", "full_cure_minutes"), 0.0
    ),
    "access": {"head_end": 0},
}
"""What rows of a step lack in books of earlier versions."""


def _whole_step(record: Any) -> Any:
    """A step with its path: of one leg the file has direction and travel only."""
    if not isinstance(record, Mapping):
        return record
    missing = [name for name in _ALWAYS if name not in record]
    if missing:
        raise ValueError(f"it has no {' and no '.join(missing)}")
    leg = {"direction": record["direction"], "travel_mm": record["travel_mm"]}
    whole = {"path": [leg] if record["direction"] is not None else [], **record}
    for name, defaults in _OLDER_ROWS.items():
        if isinstance(whole[name], list):
            whole[name] = [{**defaults, **row} if isinstance(row, Mapping) else row for row in whole[name]]
    return whole


def _older(defaults: Mapping[str, Any]) -> BeforeValidator:
    """Values that books of earlier versions leave out."""
    return BeforeValidator(lambda record: {**defaults, **record} if isinstance(record, Mapping) else record)


_OLDER_PART = _older(
    {"material": "", "printed": True, "area_mm2": 0.0, "centre_mm": (0.0, 0.0, 0.0), "watertight": True}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Head:
    """What plan.json says of the figure as a whole."""

    name: str
    up: Vector = (0.0, 0.0, 1.0)
    revision: str
    parts: int
    joints: int
    bolts: int
    mass_kg: Annotated[float, NOT_NEGATIVE, digits(3)]
    base: Annotated[StatedBase | None, SPOKEN] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _File:
    """plan.json of a build book: mm, kg, degrees, minutes."""

    schema: Literal["assembler/plan/1"]
    figure: _Head
    steps: tuple[Annotated[Step, BeforeValidator(_whole_step)], ...]
    sections: tuple[Section, ...]
    parts: tuple[Annotated[Part, _OLDER_PART], ...]
    joints: tuple[Annotated[Joint, _older({"normal": (0.0, 0.0, 0.0), "centre_mm": (0.0, 0.0, 0.0)})], ...]
    findings: tuple[Finding, ...]
    total_minutes: Annotated[float, NOT_NEGATIVE, digits(1)] = 0.0
    costs: dict[str, Annotated[float, digits(3)]] = field(default_factory=dict)
    calendar: Annotated[Calendar | None, SPOKEN] = None
    division: Annotated[Division | None, SPOKEN] = None
    sayings: dict[str, Any] = field(default_factory=dict)
    """Code and values of every text that the program made, by that text."""


def plan_record(plan: Plan) -> dict[str, Any]:
    """The plan as plain values, ready for JSON; lengths rounded to 0.001 mm so that bytes do not hang on rounding."""
    head = _Head(
        name=plan.figure_name,
        up=plan.up,
        revision=plan.revision,
        parts=len(plan.parts),
        joints=len(plan.joints),
        bolts=sum(len(joint.bolts) for joint in plan.joints),
        mass_kg=sum(part.mass_kg for part in plan.parts),
        base=plan.base,
    )
    sayings: Sayings = {}
    record = record_of(
        _File(
            schema=SCHEMA_NAME,
            figure=head,
            steps=plan.steps,
            sections=plan.sections,
            parts=plan.parts,
            joints=plan.joints,
            findings=plan.findings,
            total_minutes=plan.total_min,
            costs=dict(sorted(plan.costs.items())),
            calendar=plan.calendar,
            division=plan.division,
        ),
        sayings,
    )
    record["sayings"] = dict(sorted(sayings.items()))
    record["steps"] = [_behind(_behind(step, "travel_mm", "onto"), "direction", "onto") for step in record["steps"]]
    record["parts"] = [_behind(part, "size_mm", "area_mm2") for part in record["parts"]]
    return record


def _behind(record: Mapping[str, Any], name: str, other: str) -> dict[str, Any]:
    """The record with one key right behind another: what is computed comes last by itself."""
    moved: dict[str, Any] = {}
    for each, value in record.items():
        if each != name:
            moved[each] = value
        if each == other:
            moved[name] = record[name]
    return moved


def plan_of(record: Mapping[str, Any]) -> Plan:
    """The plan that plain values describe; what no file keeps has its default (see `UNWRITTEN`).

    Raises
    ------
    pydantic.ValidationError
        If they do not fit.
    """
    return _plan(read_as(_File, record))


def _plan(read: _File) -> Plan:
    return Plan(
        figure_name=read.figure.name,
        revision=read.figure.revision,
        up=read.figure.up,
        parts=read.parts,
        joints=read.joints,
        steps=read.steps,
        sections=read.sections,
        findings=read.findings,
        base=read.figure.base,
        total_min=read.total_minutes,
        costs=read.costs,
        calendar=read.calendar,
        division=read.division,
    )


def as_written(plan: Plan) -> Plan:
    """The plan as it would be read back, to be held against an issued one."""
    return plan_of(plan_record(plan))


def plan_schema() -> dict[str, Any]:
    """The JSON Schema of plan.json, as it follows from the records."""
    schema = _plainer(adapter(_File).json_schema(mode="serialization"))
    schema["$defs"]["Step"]["required"] = sorted({*schema["$defs"]["Step"]["required"], *_ALWAYS})
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "$id": SCHEMA_NAME}
    return {**head, **schema, "title": "plan.json of a build book: mm, kg, degrees, minutes"}


def _plainer(schema: Any) -> Any:
    """The schema without names that only repeat the key, and with the first line of each description."""
    if isinstance(schema, list):
        return [_plainer(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    kept = {name: _plainer(value) for name, value in schema.items() if name != "title" or isinstance(value, dict)}
    if isinstance(kept.get("description"), str):
        kept["description"] = kept["description"].split("\n")[0]
    return kept


def schema_text() -> str:
    """Text of the published schema."""
    return json.dumps(plan_schema(), indent=1) + "\n"


def plan_json(plan: Plan) -> str:
    """Text of plan.json.

    Raises
    ------
    pydantic.ValidationError
        If the program itself is wrong: a plan that does not read back is never written.
    """
    record = plan_record(plan)
    plan_of(record)
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_plan(path: Path) -> Plan:
    """The plan of an issued book.

    Parameters
    ----------
    path
        plan.json.

    Raises
    ------
    BookFolderError
        If it is missing, damaged or does not fit.
    """
    return _plan(read_json(path, _File, right=f"use a book of schema {SCHEMA_NAME}"))


if __name__ == "__main__":
    SCHEMA_FILE.write_text(schema_text(), encoding="utf-8")
