"""changes.json: what differs from the book before, for other programs and for the books after it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator

from assembler.figure.records import read_as, record_of
from assembler.projectfiles.jsonfile import read_json
from assembler.recut.changes import Changes

SCHEMA_NAME = "assembler/changes/1"

# Where each value of `Changes` stands, grouped as a reader asks.
_PLACES = {
    "figure_name": ("figure",),
    "old_revision": ("since",),
    "new_revision": ("revision",),
    "is_empty": ("is_empty",),
    "motion": ("figure_moved",),
    "same_parts": ("parts", "unchanged"),
    "parts": ("parts", "changed"),
    "same_joints": ("joints", "unchanged"),
    "joints": ("joints", "changed"),
    "same_bolts": ("bolts", "unchanged"),
    "bolts": ("bolts", "changed"),
    "same_steps": ("steps", "unchanged"),
    "background_steps": ("steps", "background_only"),
    "steps": ("steps", "changed"),
    "untold": ("not_told",),
    "buy": ("hardware", "buy"),
    "give_back": ("hardware", "give_back"),
    "adhesive_more": ("adhesive_ml", "more"),
    "adhesive_less": ("adhesive_ml", "less"),
    "bags": ("bags",),
    "labels": ("labels",),
    "pages_out": ("pages", "take_out"),
    "pages_in": ("pages", "put_in"),
    "effective_pages": ("pages", "effective"),
    "extra_work_min": ("extra_work_minutes",),
    "extra_total_min": ("extra_total_minutes",),
    "extra_mass_kg": ("extra_mass_kg",),
    "findings_new": ("findings", "new"),
    "findings_solved": ("findings", "solved"),
}


_MISSING = object()


def changes_record(changes: Changes) -> dict[str, Any]:
    """The changes as plain values, ready for JSON."""
    flat = {**record_of(changes), "is_empty": changes.is_empty}
    if changes.motion is not None:
        flat["motion"] = {**flat["motion"], "words": changes.motion.words()}
    record: dict[str, Any] = {"schema": SCHEMA_NAME}
    for name, (*groups, last) in _PLACES.items():
        group = record
        for each in groups:
            group = group.setdefault(each, {})
        group[last] = flat[name]
    return record


def changes_of(record: Mapping[str, Any]) -> Changes:
    """The changes that plain values describe.

    Raises
    ------
    pydantic.ValidationError
        If they do not fit.
    """
    changes: Changes = read_as(_READ, record)
    return changes


def _flat(record: Any) -> Any:
    """The values of a changes.json by their names in `Changes`; what is not there is left to the reader to miss."""
    if isinstance(record, Mapping) and record.get("schema") != SCHEMA_NAME:
        raise ValueError(f"got schema {record.get('schema')!r}")
    flat = {}
    for name, places in _PLACES.items():
        value: Any = record
        for place in places:
            value = value.get(place, _MISSING) if isinstance(value, Mapping) else _MISSING
        if value is not _MISSING:
            flat[name] = value
    return flat


_READ: Any = Annotated[Changes, BeforeValidator(_flat)]


def read_changes(path: Path) -> Changes:
    """What a book said that it changes.

    Raises
    ------
    BookFolderError
        If the file is damaged or of another schema.
    """
    changes: Changes = read_json(path, _READ, right=f"use a book of schema {SCHEMA_NAME}")
    return changes
