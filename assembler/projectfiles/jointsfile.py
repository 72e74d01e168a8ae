"""joints.toml: what joins what, read with readable faults; a value knows whether a hand has changed it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from assembler.errors import Fault, ProjectFileError
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint, Origin
from assembler.projectfiles.jointrecords import BoltTable, JointTable, joint_from_table, rounded_joint
from assembler.projectfiles.toml import Table, read_table

_Report = Callable[[str, str, str], None]
JOINT_KEYS = ("parts", "method", "made", "bond_area_mm2", "seam_mm", "normal", "centre_mm", "gap_mm")


class _File(Table):
    joint: tuple[JointTable, ...] = ()


def read_joints(path: Path, known_parts: Iterable[PartId], surveyed: Sequence[Joint] = ()) -> tuple[Joint, ...]:
    """The joints as they stand in the file.

    Parameters
    ----------
    path
        joints.toml.
    known_parts
        Ids of the parts there are.
    surveyed
        What the last survey wrote: a value that differs from it was stated by hand.

    Raises
    ------
    ProjectFileError
        If the file is missing, no TOML, names an unknown part, or holds values that cannot be used; all faults at once.
    """
    content = read_table(path, _File)
    faults = _faults(path, content, tuple(known_parts))
    if faults:
        raise ProjectFileError(*faults)
    before = {joint.id: joint for joint in surveyed}
    joints = [_with_origins(entry, joint_from_table(entry), before.get(JointId(entry.id))) for entry in content.joint]
    return tuple(sorted(joints, key=lambda joint: natural_key(joint.id)))


def _faults(path: Path, content: _File, known: tuple[PartId, ...]) -> list[Fault]:
    faults: list[Fault] = []

    def report(place: str, wrong: str, right: str) -> None:
        faults.append(Fault(file=str(path), place=place, wrong=wrong, right=right))

    _check_ids(content, report)
    _check_places(content, report)
    for joint in content.joint:
        place = f"joint[{joint.id}]"
        _check_parts(f"{place}.parts", joint.parts, known, report)
        if joint.parts[0] == joint.parts[1]:
            report(f"{place}.parts", f"{joint.parts[0]!r} is joined to itself", "name two parts")
        if joint.normal is not None and math.hypot(*joint.normal) < 1e-9:
            report(f"{place}.normal", "got a zero vector", "give a direction, or take the line out")
        for bolt in joint.bolt:
            _check_bolt(f"{place}.bolt[{bolt.id}]", bolt, joint, known, report)
    return faults


def _check_ids(content: _File, report: _Report) -> None:
    seen: set[str] = set()
    for joint in content.joint:
        for name, place in [(joint.id, f"joint[{joint.id}]")] + [
            (bolt.id, f"joint[{joint.id}].bolt[{bolt.id}]") for bolt in joint.bolt
        ]:
            if name in seen:
                report(place, f"the id {name!r} is used twice", "give each joint and bolt an id of its own")
            seen.add(name)
    joints = {joint.id for joint in content.joint}
    for joint in content.joint:
        for bolt in joint.bolt:
            for other in bolt.also:
                if other not in joints:
                    report(f"joint[{joint.id}].bolt[{bolt.id}].also", f"there is no joint {other!r}", "mend the id")


def _check_places(content: _File, report: _Report) -> None:
    """One hole takes one bolt: a joint that was copied by hand still has the places of the first.

    Between other parts it may be the same place: where a part lies in the folder twice, the survey finds it so.
    """
    taken: dict[tuple[object, ...], str] = {}
    for joint in content.joint:
        for bolt in joint.bolt:
            at = (*sorted(joint.parts), *(round(value, 2) + 0.0 for value in bolt.at))
            if at in taken:
                wrong = f"{taken[at]} stands at the same place"
                report(f"joint[{joint.id}].bolt[{bolt.id}].at", wrong, "give the place of its own hole, or take it out")
            taken.setdefault(at, bolt.id)


def _check_parts(place: str, parts: Iterable[str], known: tuple[PartId, ...], report: _Report) -> None:
    for part in parts:
        if part not in known:
            choice = ", ".join(sorted(known, key=natural_key))
            report(place, f"there is no part {part!r}", f"use one of: {choice}")


def _check_bolt(place: str, bolt: BoltTable, joint: JointTable, known: tuple[PartId, ...], report: _Report) -> None:
    if math.hypot(*bolt.axis) < 1e-9:
        report(f"{place}.axis", "got a zero vector", "give the direction of the bolt")
    if bolt.through:
        _check_parts(f"{place}.through", bolt.through, known, report)
        if not set(joint.parts) <= set(bolt.through):
            pair = " and ".join(joint.parts)
            report(f"{place}.through", f"it leaves out {pair}", "list every part the bolt goes through, in order")


def _with_origins(entry: JointTable, joint: Joint, surveyed: Joint | None) -> Joint:
    """The joint with the origin of each value, told by what the last survey wrote."""
    if surveyed is None:
        stated = {key: Origin.STATED for key in (*JOINT_KEYS, "bolts")}
        bolts = tuple(replace(bolt, origin=Origin.STATED) for bolt in joint.bolts)
        return replace(joint, origins=stated, bolts=bolts)
    reference = rounded_joint(surveyed)
    origins: dict[str, Origin] = {}
    for key in JOINT_KEYS:
        if not is_same_value(getattr(rounded_joint(joint), key), getattr(reference, key)):
            origins[key] = Origin.STATED
        else:
            origins[key] = Origin.ASSUMED if key in entry.assumed else Origin.SURVEYED
    known = {bolt.id: bolt for bolt in surveyed.bolts}
    bolts = tuple(replace(bolt, origin=_bolt_origin(bolt, known.get(bolt.id))) for bolt in joint.bolts)
    is_complete = {bolt.id for bolt in bolts} == set(known)
    is_as_found = is_complete and all(bolt.origin is not Origin.STATED for bolt in bolts)
    origins["bolts"] = Origin.SURVEYED if is_as_found else Origin.STATED
    return replace(joint, origins=origins, bolts=bolts)


def _bolt_origin(bolt: Bolt, known: Bolt | None) -> Origin:
    return known.origin if known is not None and is_same_bolt(bolt, known) else Origin.STATED


def is_same_bolt(first: Bolt, second: Bolt) -> bool:
    """Whether two bolts agree in everything that the file carries."""
    keys = ("at_mm", "axis", "hole_mm", "grip_mm", "through", "seats", "also")
    return all(is_same_value(getattr(first, key), getattr(second, key)) for key in keys)


def is_same_value(first: object, second: object) -> bool:
    """Whether two values of a joint or bolt agree to the digits that the file carries."""
    if isinstance(first, float) and isinstance(second, float):
        return abs(first - second) < 6e-4
    if isinstance(first, tuple) and isinstance(second, tuple):
        return len(first) == len(second) and all(map(is_same_value, first, second))
    return first == second
