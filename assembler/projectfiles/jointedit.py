"""joints.toml edited in place: what did not change keeps its text and its comments."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from assembler.errors import ProjectFileError
from assembler.figure.joints import Joint, Origin
from assembler.filegate import is_there, read_text
from assembler.projectfiles.jointrecords import joint_record
from assembler.projectfiles.jointstext import joint_text, joints_toml, spoken_bolt
from assembler.projectfiles.toml import new_tables, open_document
from assembler.projectfiles.writing import write_whole


def write_joints(path: Path, joints: Sequence[Joint]) -> None:
    """Bring joints.toml to the given joints.

    Parameters
    ----------
    path
        joints.toml; a missing file is written anew.
    joints
        In the order of their ids.

    Raises
    ------
    ProjectFileError
        If the file is there and is no TOML.
    """
    if not is_there(path):
        write_whole(path, joints_toml(joints))
        return
    before = read_text(path, root=path.parent, error=ProjectFileError)
    if before == joints_toml(joints):
        # Just as it would be written anew: taking it apart for editing takes a second for 90 joints.
        return
    document = open_document(path)
    tables: Any = document.get("joint")
    wanted = {str(joint.id): joint for joint in joints}
    present: set[str] = set()
    if tables is not None:
        for index in reversed(range(len(tables))):
            name = str(tables[index]["id"])
            if name in wanted:
                present.add(name)
                _edit_joint(tables[index], wanted[name])
            else:
                del tables[index]
        if not tables:
            # An empty list would be written as a plain value, and no joint could follow it.
            del document["joint"]
    text = document.as_string()
    fresh = [joint_text(joint) for joint in joints if str(joint.id) not in present]
    if fresh:
        text = text.rstrip("\n") + "\n\n" + "\n".join(fresh)
    if text != before:
        write_whole(path, text)


def _edit_joint(table: Any, joint: Joint) -> None:
    record = joint_record(joint)
    bolts = record.pop("bolt")
    assumed = sorted(key for key, origin in record.pop("origins").items() if origin == Origin.ASSUMED.value)
    _edit_values(table, record)
    if assumed or "assumed" in table:
        _edit_values(table, {"assumed": assumed})
    wanted = {bolt["id"]: spoken_bolt(bolt) for bolt in bolts}
    tables = table.get("bolt")
    present: set[str] = set()
    for index in reversed(range(len(tables or ()))):
        name = str(tables[index]["id"])
        if name in wanted:
            present.add(name)
            _edit_values(tables[index], wanted[name])
        else:
            del tables[index]
    fresh = [bolt for name, bolt in wanted.items() if name not in present]
    if fresh:
        if tables is None:
            table["bolt"] = new_tables(fresh)
        else:
            for entry in new_tables(fresh):
                tables.append(entry)


def _edit_values(table: Any, values: dict[str, Any]) -> None:
    """Set what differs; a value that is the same keeps its way of writing and its comment."""
    plain = table.unwrap()
    for key, value in values.items():
        if key not in plain or not _is_equal(plain[key], value):
            table[key] = value


def _is_equal(written: Any, value: Any) -> bool:
    if isinstance(value, list) and isinstance(written, list):
        return len(value) == len(written) and all(map(_is_equal, written, value))
    if isinstance(value, float) and isinstance(written, int | float):
        return abs(written - value) < 1e-9
    return bool(written == value)
