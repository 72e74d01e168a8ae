"""plan.json: the plan for other programs and for later comparison, with a published schema."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema

from assembler.errors import BookFolderError, Fault
from assembler.figure.findings import Finding
from assembler.figure.hardware import Bonding, HardwareLine, Stack
from assembler.figure.parts import Part, Vector
from assembler.figure.plan import Access, Plan, Section, Step
from assembler.figure.shelf import NoShelf, Shelf
from assembler.projectfiles.cachefolder import content_key
from assembler.projectfiles.jointrecords import joint_record

SCHEMA_NAME = "assembler/plan/1"


def plan_record(plan: Plan) -> dict[str, Any]:
    """The plan as plain values, ready for JSON; lengths rounded to 0.001 mm so that bytes do not hang on rounding."""
    bolts = sum(len(joint.bolts) for joint in plan.joints)
    return {
        "schema": SCHEMA_NAME,
        "figure": {
            "name": plan.figure_name,
            "up": list(plan.up),
            "revision": plan.revision,
            "parts": len(plan.parts),
            "joints": len(plan.joints),
            "bolts": bolts,
            "mass_kg": _mass(sum(part.mass_kg for part in plan.parts)),
        },
        "steps": [_step(step) for step in plan.steps],
        "sections": [_section(section) for section in plan.sections],
        "parts": [_part(part) for part in plan.parts],
        "joints": [joint_record(joint) for joint in plan.joints],
        "findings": [finding_record(finding) for finding in plan.findings],
        "total_minutes": round(plan.total_min, 1),
        "costs": {name: round(value, 3) for name, value in sorted(plan.costs.items())},
    }


def _mass(kg: float) -> float:
    return round(kg, 3)


def _safety(value: float) -> float | None:
    """A safety; None where nothing loads the joint that way."""
    return round(value, 2) if math.isfinite(value) else None


def _vector(vector: Vector, digits: int = 3) -> list[float]:
    return [round(value, digits) + 0.0 for value in vector]


def _step(step: Step) -> dict[str, Any]:
    last = step.path[-1] if step.path else None
    record: dict[str, Any] = {
        "number": str(step.number),
        "title": step.title,
        "kind": step.kind.value,
        "place": step.place.value,
        "bench": str(step.bench),
        "section": str(step.section),
        "after": [str(number) for number in step.after],
        "up": _vector(step.up, 6),
        "moves": [str(part) for part in step.moves],
        "onto": [str(part) for part in step.onto],
        "direction": _vector(last.direction, 9) if last else None,
        "travel_mm": round(last.travel_mm, 3) if last else 0.0,
        "joints": [str(joint) for joint in step.joints],
        "hardware": [_hardware(line) for line in step.hardware],
        "stacks": [_stack(stack) for stack in step.stacks],
        "adhesive": [_bonding(bonding) for bonding in step.adhesive],
        "hold": None,
        "gates": [{"joint": str(gate.joint), "step": str(gate.step)} for gate in step.gates],
        "on_bolts": [
            {"joint": str(one.joint), "slip_safety": _safety(one.slip_safety), "gap_safety": _safety(one.gap_safety)}
            for one in step.on_bolts
        ],
        "lift": None,
        "stability": None,
        "access": [_access(access) for access in step.access],
        "carried_by": step.carried_by.value if step.carried_by else None,
        "costs": {name: round(value, 3) for name, value in step.costs},
        "instead": [
            {"moves": [str(part) for part in moves], "minutes": round(minutes, 1)} for moves, minutes in step.instead
        ],
        "minutes": round(step.minutes, 1),
        "start_minutes": round(step.start_min, 1),
        "end_minutes": round(step.end_min, 1),
        "critical": step.is_critical,
        "why": list(step.why),
        "notes": list(step.notes),
        "view": {
            "eye": _vector(step.view.eye, 6),
            "up": _vector(step.view.up, 6),
            "explode_mm": round(step.view.explode_mm, 1),
            "new_visible": round(step.view.new_visible, 4),
            "mating_visible": round(step.view.mating_visible, 4),
            "mating_searched": round(step.view.mating_searched, 4),
            "label_overlaps": step.view.label_overlaps,
            "turned_deg": round(step.view.turned_deg, 2),
        },
        "image": step.image,
    }
    if len(step.path) > 1:
        record["path"] = [
            {"direction": _vector(move.direction, 9), "travel_mm": round(move.travel_mm, 3)} for move in step.path
        ]
    if step.swing:
        record["swing"] = {
            "axis": _vector(step.swing.axis, 9),
            "at_mm": _vector(step.swing.at_mm),
            "degrees": round(step.swing.degrees, 3),
        }
    if step.hold:
        record["hold"] = {
            "minutes": round(step.hold.minutes, 1),
            "joints": [str(joint) for joint in step.hold.joints],
            "before": [str(number) for number in step.hold.before],
            "reason": step.hold.reason,
        }
    if step.lift:
        record["lift"] = {
            "mass_kg": _mass(step.lift.mass_kg),
            "people": step.lift.people,
            "centre_mm": _vector(step.lift.centre_mm, 1),
            "rule": step.lift.rule,
            "parts": [str(part) for part in step.lift.parts],
            "by": step.lift.by.value,
            "height_mm": round(step.lift.height_mm, 1),
        }
    if step.stability:
        record["stability"] = {
            "tip_deg": round(step.stability.tip_deg, 2),
            "needs_prop": step.stability.needs_prop,
            "reason": step.stability.reason,
            "prop_kept": step.stability.is_prop_kept,
            "overhang_mm": round(step.stability.overhang_mm, 1),
            "toward": _vector(step.stability.toward, 6),
            "moment_nm": round(step.stability.moment_nm, 3),
        }
    return record


def _hardware(line: HardwareLine) -> dict[str, Any]:
    return {
        "joint": str(line.joint),
        "item": line.item,
        "kind": line.kind,
        "size": line.size,
        "length_mm": line.length_mm,
        "count": line.count,
        "torque_nm": round(line.torque_nm, 2),
    }


def _stack(stack: Stack) -> dict[str, Any]:
    return {
        "bolt": str(stack.bolt),
        "joint": str(stack.joint),
        "size": stack.size,
        "screw": stack.screw,
        "nut": stack.nut,
        "washer": stack.washer,
        "length_mm": stack.length_mm,
        "needed_mm": round(stack.needed_mm, 3),
        "grip_mm": round(stack.grip_mm, 3),
        "washers": stack.washers,
        "protrusion_mm": round(stack.protrusion_mm, 3),
        "torque_nm": round(stack.torque_nm, 2),
        "torque_rule": stack.torque_rule,
    }


def _bonding(bonding: Bonding) -> dict[str, Any]:
    return {
        "joint": str(bonding.joint),
        "name": bonding.name,
        "area_mm2": round(bonding.area_mm2, 1),
        "volume_ml": round(bonding.volume_ml, 2),
        "temperature_c": bonding.temperature_c,
        "open_minutes": round(bonding.open_min, 1),
        "needed_minutes": round(bonding.needed_min, 1),
        "fixture_minutes": round(bonding.fixture_min, 1),
        "handling_minutes": round(bonding.handling_min, 1),
        "full_cure_minutes": round(bonding.full_cure_min, 1),
    }


def _access(access: Access) -> dict[str, Any]:
    return {
        "bolt": str(access.bolt),
        "head_part": str(access.head_part),
        "nut_part": str(access.nut_part),
        "head_end": access.head_end,
        "tool": access.tool,
        "head": access.head,
        "nut": access.nut,
        "reach_mm": round(access.reach_mm, 1),
        "ok": access.is_reachable,
    }


def _section(section: Section) -> dict[str, Any]:
    return {
        "id": str(section.id),
        "parts": [str(part) for part in section.parts],
        "mass_kg": _mass(section.mass_kg),
        "size_mm": _vector(section.size_mm, 1),
        "centre_mm": _vector(section.centre_mm, 1),
    }


def _part(part: Part) -> dict[str, Any]:
    mark = part.fingerprint
    return {
        "id": str(part.id),
        "file": part.file,
        "material": part.material,
        "printed": part.is_printed,
        "mass_kg": _mass(part.mass_kg),
        "volume_mm3": round(part.volume_mm3, 1),
        "area_mm2": round(part.area_mm2, 1),
        "size_mm": _vector(part.size_mm, 2),
        "centre_mm": _vector(part.centre_mm, 2),
        "watertight": part.is_watertight,
        "fingerprint": {
            "volume_mm3": round(mark.volume_mm3, 1),
            "area_mm2": round(mark.area_mm2, 1),
            "centre_mm": _vector(mark.centre_mm),
            "inertia_mm5": [float(f"{value:.6g}") for value in mark.inertia_mm5],
            "skew_mm6": float(f"{mark.skew_mm6:.6g}"),
            "low_mm": _vector(mark.box_mm[0]),
            "high_mm": _vector(mark.box_mm[1]),
        },
    }


def finding_record(finding: Finding) -> dict[str, Any]:
    """Keys and plain values of a finding."""
    return {
        "level": finding.level.value,
        "code": finding.code,
        "about": list(finding.about),
        "message": finding.message,
        "remedy": finding.remedy,
    }


def plan_schema() -> dict[str, Any]:
    """The JSON Schema of plan.json, as published in the package."""
    text = resources.files("assembler.projectfiles").joinpath("plan.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def plan_json(plan: Plan) -> str:
    """Text of plan.json, checked against the schema.

    Raises
    ------
    jsonschema.ValidationError
        If the program itself is wrong: a plan that does not fit its own contract is never written.
    """
    record = plan_record(plan)
    jsonschema.validate(record, plan_schema())
    return json.dumps(record, indent=1, ensure_ascii=False) + "\n"


_FITTING: set[str] = set()
# Contents that fit the schema: one run reads the plan of an issued book several times.


def keep_fitting(text: str, shelf: Shelf) -> None:
    """Remember a text of `plan_json`, so that the next run need not hold it against the schema again."""
    shelf.keep_value(_fitting_key(text), True)


def _fitting_key(text: str) -> str:
    return content_key("fits", json.dumps(plan_schema(), sort_keys=True), text)


def _checked(text: str, shelf: Shelf) -> dict[str, Any]:
    record: dict[str, Any] = json.loads(text)
    key = _fitting_key(text)
    if key not in _FITTING:
        if shelf.value(key) is not True:
            jsonschema.validate(record, plan_schema())
            keep_fitting(text, shelf)
        _FITTING.add(key)
    return record


def read_plan(path: Path, shelf: Shelf | None = None) -> Mapping[str, Any]:
    """Content of a plan.json that fits the schema.

    Parameters
    ----------
    path
        The file.
    shelf
        Remembers which contents fit: holding a long plan against the schema takes a second.

    Raises
    ------
    BookFolderError
        If it is missing, damaged or does not fit.
    """
    try:
        record: dict[str, Any] = _checked(path.read_text(encoding="utf-8"), shelf or NoShelf())
    except FileNotFoundError as exc:
        raise BookFolderError(
            Fault(file=str(path), place="", wrong="there is no plan.json", right="name a complete book folder")
        ) from exc
    except ValueError as exc:
        raise BookFolderError(
            Fault(file=str(path), place="", wrong="it is no JSON", right="name a complete book folder")
        ) from exc
    except jsonschema.ValidationError as exc:
        place = ".".join(str(key) for key in exc.absolute_path)
        raise BookFolderError(
            Fault(file=str(path), place=place, wrong=exc.message, right=f"use a book of schema {SCHEMA_NAME}")
        ) from exc
    return record
