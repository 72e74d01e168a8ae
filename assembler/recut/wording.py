"""The changes as JSON values for programs and as plain sentences for people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import Any

from assembler.errors import BookFolderError, Fault
from assembler.figure.findings import Finding
from assembler.figure.ids import StepNumber
from assembler.recut.changes import Changes, EffectivePage, Fate, JointChange, PartChange, StepChange

SCHEMA_NAME = "assembler/changes/1"


def changes_record(changes: Changes) -> dict[str, Any]:
    """The changes as plain values, ready for JSON; keys are the names of `Changes`, grouped as a reader asks."""
    return {
        "schema": SCHEMA_NAME,
        "figure": changes.figure_name,
        "since": changes.old_revision,
        "revision": changes.new_revision,
        "is_empty": changes.is_empty,
        "figure_moved": _motion_record(changes),
        "parts": {"unchanged": list(changes.same_parts), "changed": [_part_record(part) for part in changes.parts]},
        "joints": {"unchanged": list(changes.same_joints), "changed": [_plain(joint) for joint in changes.joints]},
        "bolts": {"unchanged": list(changes.same_bolts), "changed": [_plain(bolt) for bolt in changes.bolts]},
        "steps": {
            "unchanged": list(changes.same_steps),
            "background_only": list(changes.background_steps),
            "changed": [_plain(step) for step in changes.steps],
        },
        "not_told": list(changes.untold),
        "hardware": {
            "buy": [_plain(line) for line in changes.buy],
            "give_back": [_plain(line) for line in changes.give_back],
        },
        "adhesive_ml": {
            "more": [_plain(line) for line in changes.adhesive_more],
            "less": [_plain(line) for line in changes.adhesive_less],
        },
        "bags": [_plain(bag) for bag in changes.bags],
        "labels": [_plain(label) for label in changes.labels],
        "pages": {
            "take_out": list(changes.pages_out),
            "put_in": list(changes.pages_in),
            "effective": [_plain(page) for page in changes.effective_pages],
        },
        "extra_work_minutes": changes.extra_work_min,
        "extra_total_minutes": changes.extra_total_min,
        "extra_mass_kg": changes.extra_mass_kg,
        "findings": {
            "new": [_plain(finding) for finding in changes.findings_new],
            "solved": [_plain(finding) for finding in changes.findings_solved],
        },
    }


def _motion_record(changes: Changes) -> dict[str, Any] | None:
    motion = changes.motion
    if motion is None:
        return None
    return {**_plain(motion), "words": motion.words()}


def _part_record(part: PartChange) -> dict[str, Any]:
    record = _plain(part)
    if part.offset_mm is not None:
        record["offset_mm"] = [round(value, 3) + 0.0 for value in part.offset_mm]
    return record


def _plain(record: Any) -> dict[str, Any]:
    """A frozen record as JSON values: enumerations as their words, tuples as lists."""
    return {key: _plain_value(value) for key, value in asdict(record).items()}


def _plain_value(value: Any) -> Any:
    if isinstance(value, str):
        return str(value)
    if isinstance(value, tuple):
        return [_plain_value(item) for item in value]
    return value


def effective_pages(record: Mapping[str, Any]) -> tuple[EffectivePage, ...]:
    """The list of effective pages that an earlier changes.json carries.

    Raises
    ------
    BookFolderError
        If the record is no changes.json of this schema.
    """
    if record.get("schema") != SCHEMA_NAME:
        raise BookFolderError(
            Fault(
                file="changes.json",
                place="schema",
                wrong=f"got {record.get('schema')!r}",
                right=f"use a book of schema {SCHEMA_NAME}",
            )
        )
    return tuple(
        EffectivePage(number=StepNumber(page["number"]), revision=page["revision"])
        for page in record["pages"]["effective"]
    )


def change_lines(changes: Changes) -> tuple[str, ...]:
    """The changes in plain words, one line each, in the order in which people need them."""
    head = f"{changes.figure_name}: revision {changes.new_revision} against {changes.old_revision}"
    if changes.is_empty:
        return (head, "Nothing has changed.")
    lines = [head]
    if changes.motion is not None:
        lines.append(f"The whole figure is {changes.motion.words()}; the rest is told as if it were not.")
    lines += _section("Parts", [_part_line(part) for part in changes.parts], len(changes.same_parts))
    lines += _section("Joints", [_joint_line(joint) for joint in changes.joints], len(changes.same_joints))
    lines += _section("Bolts", _bolt_lines(changes), len(changes.same_bolts))
    lines += _section("Steps", [_step_line(step) for step in changes.steps], len(changes.same_steps))
    if changes.background_steps:
        numbers = ", ".join(changes.background_steps)
        lines.append(f"  Same work, but what stands behind it in the picture was cut again: {numbers}")
    lines += _listed("Not told from numbers", changes.untold)
    lines += _listed("Buy (without spares)", [f"{line.amount:g} x {line.item}" for line in changes.buy])
    lines += _listed("Give back", [f"{line.amount:g} x {line.item}" for line in changes.give_back])
    lines += _listed("Adhesive, more", [f"{line.amount:g} ml of {line.item}" for line in changes.adhesive_more])
    lines += _listed("Adhesive, less", [f"{line.amount:g} ml of {line.item}" for line in changes.adhesive_less])
    lines += _listed("Bags", [f"{bag.joint}: {bag.action}: " + "; ".join(bag.words) for bag in changes.bags])
    lines += _listed(
        "Labels", [f"{label.kind} {label.about}: {label.action} ({label.why})" for label in changes.labels]
    )
    lines += _page_lines(changes)
    lines += _time_lines(changes)
    lines += _listed("New findings", [_finding_line(finding) for finding in changes.findings_new])
    lines += _listed("Findings solved", [_finding_line(finding) for finding in changes.findings_solved])
    return tuple(lines)


def _section(name: str, lines: Sequence[str], same: int) -> list[str]:
    if not lines:
        return [f"{name}: {same} unchanged." if same else f"{name}: none."]
    return [f"{name} ({same} unchanged):", *(f"  {line}" for line in lines)]


def _listed(name: str, lines: Iterable[str]) -> list[str]:
    found = [f"  {line}" for line in lines]
    return [f"{name}:", *found] if found else []


def _names(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def _part_line(part: PartChange) -> str:
    before, after = _names(part.before), _names(part.after)
    if not part.before:
        return f"{after}: new ({part.words})"
    if not part.after:
        return f"{before}: gone ({part.words})"
    if before == after:
        return f"{after}: {part.fate.value}: {part.words}"
    return f"{before}: {part.fate.value} into {after}: {part.words}"


def _joint_line(joint: JointChange) -> str:
    return f"{joint.joint}: {joint.fate.value}: " + "; ".join(joint.words)


def _bolt_lines(changes: Changes) -> list[str]:
    """A line for all bolts with the same story; those of a joint that is itself new or gone are told there."""
    lone = {joint.joint for joint in changes.joints if joint.fate in (Fate.NEW, Fate.GONE)}
    told = [bolt for bolt in changes.bolts if bolt.joint not in lone]
    groups: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for bolt in told:
        groups.setdefault((bolt.fate.value, bolt.words), []).append(bolt.bolt)
    lines = [f"{_names(bolts)}: {fate}: " + "; ".join(words) for (fate, words), bolts in groups.items()]
    left = len(changes.bolts) - len(told)
    if left:
        lines.append(f"{left} bolt{'' if left == 1 else 's'} of joints that are new or gone")
    return lines


def _step_line(step: StepChange) -> str:
    fate = "dropped" if step.fate is Fate.GONE else step.fate.value
    was = f", was step {step.was}" if step.was and step.was != step.number else ""
    detail = ": " + "; ".join(step.words) if step.words else ""
    return f"{step.number} ({step.title}{was}): {fate}{detail}"


def _page_lines(changes: Changes) -> list[str]:
    lines = []
    if changes.pages_out:
        lines.append("Take out of the binder: steps " + ", ".join(changes.pages_out))
    if changes.pages_in:
        lines.append("Put into the binder: steps " + ", ".join(changes.pages_in))
    lines.append("Pages that are not steps (cover, lists, order, appendix): put in those of the new book")
    return lines


def _time_lines(changes: Changes) -> list[str]:
    lines = []
    if changes.extra_work_min:
        lines.append(f"Working time: {changes.extra_work_min:+.0f} min")
    if changes.extra_total_min:
        lines.append(f"Plan with holds: {changes.extra_total_min:+.0f} min")
    if changes.extra_mass_kg:
        lines.append(f"Mass of the figure: {changes.extra_mass_kg:+.3f} kg")
    return lines


def _finding_line(finding: Finding) -> str:
    about = ", ".join(finding.about)
    return f"{finding.level.value} {about}: {finding.message}" if about else f"{finding.level.value} {finding.message}"
