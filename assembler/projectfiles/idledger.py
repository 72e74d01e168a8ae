"""ids.toml: which number was given to what. A printed number is never used for something else."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

from pydantic import Field

from assembler.figure.ids import ID, JointId, PartId, natural_key
from assembler.figure.parts import Fingerprint
from assembler.figure.records import key
from assembler.filegate import is_there
from assembler.projectfiles.toml import Table, quoted, read_table
from assembler.projectfiles.writing import write_whole

_VALID_ID = re.compile(ID)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartEntry:
    """One part id that was given out."""

    id: PartId
    file: str
    fingerprint: Fingerprint
    is_retired: Annotated[bool, key("retired")] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class JointEntry:
    """One joint id that was given out."""

    id: JointId
    parts: tuple[PartId, PartId]
    bolts_issued: Annotated[int, Field(ge=0, le=9999)]
    is_retired: Annotated[bool, key("retired")] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ledger:
    """All ids that were ever given out in this project.

    Parameters
    ----------
    parts, joints
        One entry an id.
    unit_mm
        Length of one unit of the files that state none, when the fingerprints were taken; None: not known.
    """

    parts: tuple[PartEntry, ...] = ()
    joints: tuple[JointEntry, ...] = ()
    unit_mm: float | None = None


class _File(Table):
    unit_mm: Annotated[float, Field(gt=0, le=1e6)] | None = None
    part: tuple[PartEntry, ...] = ()
    joint: tuple[JointEntry, ...] = ()


def read_ledger(path: Path) -> Ledger:
    """The ledger; empty for a new project.

    Raises
    ------
    ProjectFileError
        If the file is there and cannot be used.
    """
    if not is_there(path):
        return Ledger()
    content = read_table(path, _File)
    return Ledger(parts=content.part, joints=content.joint, unit_mm=content.unit_mm)


def write_ledger(path: Path, ledger: Ledger) -> None:
    """Write the ledger whole."""
    lines = ["# ids.toml: the program's own ledger of the numbers it has given out. Please do not edit.", ""]
    if ledger.unit_mm is not None:
        lines += [f"unit_mm = {ledger.unit_mm!r}", ""]
    for part in sorted(ledger.parts, key=lambda entry: natural_key(entry.id)):
        mark = part.fingerprint
        lines += [
            "[[part]]",
            f"id = {quoted(part.id)}",
            f"file = {quoted(part.file)}",
            f"retired = {_truth(part.is_retired)}",
            "  [part.fingerprint]",
            f"  volume_mm3 = {mark.volume_mm3!r}",
            f"  area_mm2 = {mark.area_mm2!r}",
            f"  centre_mm = {list(mark.centre_mm)}",
            f"  inertia_mm5 = {list(mark.inertia_mm5)}",
            f"  skew_mm6 = {mark.skew_mm6!r}",
            f"  low_mm = {list(mark.low_mm)}",
            f"  high_mm = {list(mark.high_mm)}",
            "",
        ]
    for joint in sorted(ledger.joints, key=lambda entry: natural_key(entry.id)):
        lines += [
            "[[joint]]",
            f"id = {quoted(joint.id)}",
            f"parts = [{quoted(joint.parts[0])}, {quoted(joint.parts[1])}]",
            f"bolts_issued = {joint.bolts_issued}",
            f"retired = {_truth(joint.is_retired)}",
            "",
        ]
    write_whole(path, "\n".join(lines))


def _truth(value: bool) -> str:
    return "true" if value else "false"


def issue_part_ids(
    ledger: Ledger, fingerprints: Mapping[str, Fingerprint], renamed: Mapping[str, PartId]
) -> tuple[Ledger, dict[str, PartId]]:
    """Ids for all files: the old one for a known file, a new one otherwise.

    Parameters
    ----------
    ledger
        What was given out so far.
    fingerprints
        Fingerprint of every file there is now, by file name.
    renamed
        Files that geometry recognises as another known part than their name says; each id occurs once.

    Returns
    -------
    Ledger
        With new entries, and with the entries of files that are gone marked as retired.
    dict
        Id of every file.
    """
    by_file = {entry.file: entry.id for entry in ledger.parts}
    used = {entry.id for entry in ledger.parts}
    ids: dict[str, PartId] = {}
    files = sorted(fingerprints, key=natural_key)
    # Geometry goes before the name: a label sticks to the printed part, not to its file.
    claimed = set(renamed.values())
    for file in files:
        known = renamed.get(file) or by_file.get(file)
        if known and (file in renamed or known not in claimed):
            ids[file] = known
    # A stem may only claim its own id if no other file and no earlier part has it.
    for file in files:
        stem = PartId(Path(file).stem)
        if file not in ids and _VALID_ID.fullmatch(stem) and stem not in used:
            ids[file] = stem
            used.add(stem)
    for file in files:
        if file not in ids:
            ids[file] = PartId(_next_id("P", used))
            used.add(ids[file])
    return replace(ledger, parts=_entries(ledger, fingerprints, ids)), ids


def _entries(
    ledger: Ledger, fingerprints: Mapping[str, Fingerprint], ids: Mapping[str, PartId]
) -> tuple[PartEntry, ...]:
    present = {part: file for file, part in ids.items()}
    kept = [replace(entry, is_retired=True) for entry in ledger.parts if entry.id not in present]
    now = [PartEntry(id=part, file=file, fingerprint=fingerprints[file]) for part, file in present.items()]
    return tuple(sorted(kept + now, key=lambda entry: natural_key(entry.id)))


def next_joint_id(taken: Iterable[str]) -> JointId:
    """The next free joint id above all that were ever given out."""
    return JointId(_next_id("J", set(taken)))


def _next_id(letter: str, used: set[PartId] | set[str]) -> str:
    numbers = [int(match.group(1)) for name in used if (match := re.match(rf"{letter}(\d+)", name))]
    return f"{letter}{max(numbers, default=0) + 1:02d}"
