"""A new survey meets joints.toml: numbers are kept, hand edits win, and every conflict is said."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import BoltId, JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint, Origin
from assembler.projectfiles.heirs import inherited
from assembler.projectfiles.idledger import JointEntry, Ledger, next_joint_id
from assembler.projectfiles.jointrecords import rounded_joint
from assembler.projectfiles.jointsfile import JOINT_KEYS, is_same_bolt, is_same_value
from assembler.words import Said, Text, Value, both, say

# A hole that moved less than this is the same hole re-cut; neighbouring holes are at least three diameters apart.
_SAME_BOLT_MM = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """What comes of a survey and a file.

    Parameters
    ----------
    joints
        Content of joints.toml from now on.
    surveyed
        What the survey says, with the numbers of this project: to be kept beside the file.
    ledger
        With the joint numbers that were given out.
    findings
        Every hand edit that the survey no longer bears out.
    names
        Number in this project of every joint and bolt that the survey found, by the survey's own number.
    """

    joints: tuple[Joint, ...]
    surveyed: tuple[Joint, ...]
    ledger: Ledger
    findings: tuple[Finding, ...]
    names: Mapping[str, str]


def merge_survey(
    found: Sequence[Joint], *, last: Sequence[Joint], in_file: Sequence[Joint] | None, ledger: Ledger
) -> Merged:
    """Bring a new survey and a file that a hand may have edited together.

    Parameters
    ----------
    found
        What the survey found, with numbers of its own.
    last
        What the last survey found, with the numbers of this project.
    in_file
        What joints.toml says; None when there is no file yet.
    ledger
        Numbers given out so far.

    Returns
    -------
    Merged
        Nothing that a hand stated is lost.
    """
    # Compared as the file carries them, or a rounded digit would look like a hand edit.
    found, last = tuple(map(rounded_joint, found)), tuple(map(rounded_joint, last))
    numbered, ledger, names = number_joints(found, last, in_file or (), ledger)
    if in_file is None:
        return Merged(joints=numbered, surveyed=numbered, ledger=ledger, findings=(), names=names)
    findings: list[Finding] = []
    numbered_ids = {joint.id for joint in numbered}
    heirs = inherited(numbered, [joint for joint in in_file if joint.id not in numbered_ids], last)
    findings += [heir.finding() for heir in heirs]
    old, new, kept = ({joint.id: joint for joint in joints} for joints in (last, numbered, in_file))
    new.update({heir.joint.id: heir.joint for heir in heirs})
    gone = {entry.id for entry in ledger.parts if entry.is_retired}
    # What took over all that was stated of a joint stands for it, once a part of that joint is no more.
    replaced = {heir.before for heir in heirs if heir.is_all_carried and gone & set(kept[heir.before].parts)}
    kept = {name: joint for name, joint in kept.items() if name not in replaced}
    old = {name: joint for name, joint in old.items() if name not in replaced}
    joints: list[Joint] = []
    for name in sorted({*old, *new, *kept}, key=natural_key):
        joint = _merge_joint(name, old.get(name), new.get(name), kept.get(name), findings.append)
        if joint is not None:
            joints.append(joint)
    present = {joint.id for joint in (*joints, *numbered)}
    entries = tuple(replace(entry, is_retired=entry.id not in present) for entry in ledger.joints)
    return Merged(
        joints=tuple(joints),
        surveyed=numbered,
        ledger=replace(ledger, joints=entries),
        findings=tuple(findings),
        names=names,
    )


def number_joints(
    found: Sequence[Joint], last: Sequence[Joint], in_file: Sequence[Joint], ledger: Ledger
) -> tuple[tuple[Joint, ...], Ledger, dict[str, str]]:
    """The surveyed joints with the numbers of this project: old ones where pair and axis are known, else new ones.

    Returns
    -------
    joints
        In the order of their ids.
    ledger
        With the numbers given out.
    names
        Number in this project of every joint and bolt, by the survey's own number.
    """
    entries = {entry.id: entry for entry in ledger.joints}
    for joint in (*last, *in_file):
        entries.setdefault(joint.id, JointEntry(id=joint.id, parts=joint.parts, bolts_issued=0))
    ids = _joint_ids(found, entries)
    known: dict[JointId, dict[BoltId, Bolt]] = {}
    for joint in (*last, *in_file):
        known.setdefault(joint.id, {}).update({bolt.id: bolt for bolt in joint.bolts})
    numbered: list[Joint] = []
    names: dict[str, str] = {str(old): str(new) for old, new in ids.items()}
    for joint in found:
        name = ids[joint.id]
        issued = max([entries[name].bolts_issued, *map(_bolt_number, known.get(name, {}))])
        bolts, issued = _number_bolts(name, joint.bolts, tuple(known.get(name, {}).values()), issued)
        names.update({str(old.id): str(new.id) for old, new in zip(joint.bolts, bolts, strict=True)})
        bolts = tuple(
            replace(bolt, also=tuple(sorted((ids[other] for other in bolt.also), key=natural_key))) for bolt in bolts
        )
        entries[name] = JointEntry(id=name, parts=joint.parts, bolts_issued=issued)
        numbered.append(replace(joint, id=name, bolts=tuple(sorted(bolts, key=lambda bolt: natural_key(bolt.id)))))
    ordered = tuple(entries[name] for name in sorted(entries, key=natural_key))
    numbered.sort(key=lambda joint: natural_key(joint.id))
    return tuple(numbered), replace(ledger, joints=ordered), names


def _joint_ids(found: Sequence[Joint], entries: dict[JointId, JointEntry]) -> dict[JointId, JointId]:
    """Number of each found joint; `entries` gains the new ones."""
    by_pair: dict[frozenset[PartId], JointId] = {}
    for entry in sorted(entries.values(), key=lambda entry: (entry.is_retired, natural_key(entry.id))):
        by_pair.setdefault(frozenset(entry.parts), entry.id)
    ids: dict[JointId, JointId] = {}
    for joint in sorted(found, key=lambda joint: natural_key(joint.id)):
        pair = frozenset(joint.parts)
        if pair not in by_pair:
            by_pair[pair] = next_joint_id(entries)
            entries[by_pair[pair]] = JointEntry(id=by_pair[pair], parts=joint.parts, bolts_issued=0)
        ids[joint.id] = by_pair[pair]
    return ids


def _bolt_number(name: BoltId) -> int:
    tail = name.rpartition(".")[2]
    return int(tail) if tail.isdigit() else 0


def _number_bolts(
    joint: JointId, bolts: Sequence[Bolt], known: Sequence[Bolt], issued: int
) -> tuple[tuple[Bolt, ...], int]:
    """Bolts with old numbers for axes that were there before (nearest pairs first), new numbers for the others."""
    pairs = sorted(
        (_axis_distance_mm(bolt, other), natural_key(other.id), index, other.id)
        for index, bolt in enumerate(bolts)
        for other in known
    )
    names: dict[int, BoltId] = {}
    for distance, _, index, name in pairs:
        if distance <= _SAME_BOLT_MM and index not in names and name not in names.values():
            names[index] = name
    for index in range(len(bolts)):
        if index not in names:
            issued += 1
            names[index] = BoltId(f"{joint}.{issued}")
    return tuple(replace(bolt, id=names[index]) for index, bolt in enumerate(bolts)), issued


def _axis_distance_mm(first: Bolt, second: Bolt) -> float:
    gap = [a - b for a, b in zip(first.at_mm, second.at_mm, strict=True)]
    along = math.fsum(a * b for a, b in zip(gap, second.axis, strict=True))
    across = math.sqrt(max(math.fsum(a * a for a in gap) - along * along, 0.0))
    tilt = abs(math.fsum(a * b for a, b in zip(first.axis, second.axis, strict=True)))
    return across if tilt > 0.9 else math.inf


_Report = Callable[[Finding], None]


def _merge_joint(
    name: JointId, old: Joint | None, new: Joint | None, kept: Joint | None, report: _Report
) -> Joint | None:
    if kept is None:
        if new is None:
            return None
        if old is None:
            return new
        report(_note(name, say("finding.stays-out", name=name), say("remedy.stays-out-joint")))
        return None
    if new is None:
        return _without_survey(name, old, kept, report)
    return replace(
        kept,
        **_merge_values(name, old, new, kept, report),
        bolts=_merge_bolts(old, new, kept, report),
    )


def _without_survey(name: JointId, old: Joint | None, kept: Joint, report: _Report) -> Joint | None:
    """A joint in the file that the survey does not find: dropped if the tool wrote it, kept if a hand did."""
    is_untouched = old is not None and not any(
        origin is Origin.STATED for origin in (*kept.origins.values(), *(bolt.origin for bolt in kept.bolts))
    )
    pair = both(kept.parts)
    if is_untouched:
        report(_note(name, say("finding.joint-gone", name=name, pair=pair), ""))
        return None
    report(
        Finding(
            level=Level.WARN,
            code="joint-not-in-meshes",
            about=(name, *kept.parts),
            message=say("finding.joint-not-in-meshes", name=name, pair=pair),
            remedy=say("remedy.joint-not-in-meshes"),
        )
    )
    return kept


def _merge_values(name: JointId, old: Joint | None, new: Joint, kept: Joint, report: _Report) -> dict[str, Any]:
    values: dict[str, Any] = {}
    origins = dict(kept.origins)
    for key in JOINT_KEYS:
        stated, surveyed = getattr(kept, key), getattr(new, key)
        before = getattr(old, key) if old is not None else None
        if old is not None and is_same_value(stated, before):
            values[key] = surveyed
            origins[key] = new.origins.get(key, Origin.SURVEYED)
            continue
        origins[key] = Origin.STATED
        if not is_same_value(stated, surveyed) and not is_same_value(surveyed, before):
            report(_conflict(name, (name,), key, *map(_valued, (stated, surveyed))))
    values["origins"] = origins
    return values


def _merge_bolts(old: Joint | None, new: Joint, kept: Joint, report: _Report) -> tuple[Bolt, ...]:
    before: Mapping[BoltId, Bolt] = {bolt.id: bolt for bolt in old.bolts} if old is not None else {}
    found = {bolt.id: bolt for bolt in new.bolts}
    stated = {bolt.id: bolt for bolt in kept.bolts}
    bolts: list[Bolt] = []
    for name in sorted({*found, *stated}, key=natural_key):
        if name not in stated:
            if name in before:
                report(_note(name, say("finding.stays-out", name=name), say("remedy.stays-out-bolt")))
            else:
                bolts.append(found[name])
            continue
        bolt, last, now = stated[name], before.get(name), found.get(name)
        if last is not None and is_same_bolt(bolt, last):
            if now is not None:
                bolts.append(now)
            continue
        bolts.append(replace(bolt, origin=Origin.STATED))
        is_news = now is not None and (last is None or not is_same_bolt(now, last)) and not is_same_bolt(now, bolt)
        if now is not None and is_news:
            report(_conflict(name, (kept.id, name), say("word.axis_or_hole"), _spoken(bolt), _spoken(now)))
        elif now is None and last is not None:
            report(_conflict(name, (kept.id, name), say("word.bolt"), _spoken(bolt), say("word.no_hole")))
    return tuple(bolts)


def _spoken(bolt: Bolt) -> Said:
    at = ", ".join(f"{value:.1f}" for value in bolt.at_mm)
    return say("finding.edit-kept-bolt", hole_mm=bolt.hole_mm, grip_mm=bolt.grip_mm, at=at)


def _valued(value: object) -> Value:
    return value if isinstance(value, int | float) else str(value)


def _note(name: str, message: Text, remedy: Text) -> Finding:
    return Finding(level=Level.NOTE, code="survey-differs", about=(name,), message=message, remedy=remedy)


def _conflict(name: str, about: tuple[str, ...], key: Text, stated: Value, surveyed: Value) -> Finding:
    return Finding(
        level=Level.WARN,
        code="edit-kept",
        about=about,
        message=say("finding.edit-kept", name=name, key=key, stated=stated, surveyed=surveyed),
        remedy=say("remedy.edit-kept"),
    )
