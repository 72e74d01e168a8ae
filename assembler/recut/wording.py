"""The changes as plain sentences for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assembler.figure.findings import Finding
from assembler.recut.changes import Changes, Fate, JointChange, PartChange, StepChange
from assembler.words import Text


def change_lines(changes: Changes) -> tuple[str, ...]:
    """The changes in plain words, one line each, in the order in which people need them."""
    head = f"{changes.figure_name}: revision {changes.new_revision} against {changes.old_revision}"
    if changes.is_empty:
        return (head, "Nothing has changed.")
    lines = [head]
    if changes.motion is not None:
        lines.append(f"The whole figure is {changes.motion.words()!s}; the rest is told as if it were not.")
    lines += _section("Parts", [_part_line(part) for part in changes.parts], len(changes.same_parts))
    lines += _section("Joints", [_joint_line(joint) for joint in changes.joints], len(changes.same_joints))
    lines += _section("Bolts", _bolt_lines(changes), len(changes.same_bolts))
    lines += _section("Steps", [_step_line(step) for step in changes.steps], len(changes.same_steps))
    if changes.background_steps:
        numbers = ", ".join(changes.background_steps)
        lines.append(f"  Same work, but what stands behind it in the picture was cut again: {numbers}")
    lines += _listed("Not told from numbers", map(str, changes.untold))
    lines += _listed("Buy (without spares)", [f"{line.amount:g} x {line.item!s}" for line in changes.buy])
    lines += _listed("Give back", [f"{line.amount:g} x {line.item!s}" for line in changes.give_back])
    lines += _listed("Adhesive, more", [f"{line.amount:g} ml of {line.item!s}" for line in changes.adhesive_more])
    lines += _listed("Adhesive, less", [f"{line.amount:g} ml of {line.item!s}" for line in changes.adhesive_less])
    lines += _listed("Bags", [f"{bag.joint}: {bag.action}: " + _lines(bag.words) for bag in changes.bags])
    lines += _listed(
        "Labels", [f"{label.kind} {label.about}: {label.action} ({label.why!s})" for label in changes.labels]
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


def _lines(texts: Iterable[Text]) -> str:
    return "; ".join(str(text) for text in texts)


def _names(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def _part_line(part: PartChange) -> str:
    before, after = _names(part.before), _names(part.after)
    if not part.before:
        return f"{after}: new ({part.words!s})"
    if not part.after:
        return f"{before}: gone ({part.words!s})"
    if before == after:
        return f"{after}: {part.fate.value}: {part.words!s}"
    return f"{before}: {part.fate.value} into {after}: {part.words!s}"


def _joint_line(joint: JointChange) -> str:
    return f"{joint.joint}: {joint.fate.value}: " + _lines(joint.words)


def _bolt_lines(changes: Changes) -> list[str]:
    """A line for all bolts with the same story; those of a joint that is itself new or gone are told there."""
    lone = {joint.joint for joint in changes.joints if joint.fate in (Fate.NEW, Fate.GONE)}
    told = [bolt for bolt in changes.bolts if bolt.joint not in lone]
    groups: dict[tuple[str, tuple[Text, ...]], list[str]] = {}
    for bolt in told:
        groups.setdefault((bolt.fate.value, bolt.words), []).append(bolt.bolt)
    lines = [f"{_names(bolts)}: {fate}: " + _lines(words) for (fate, words), bolts in groups.items()]
    left = len(changes.bolts) - len(told)
    if left:
        lines.append(f"{left} bolt{'' if left == 1 else 's'} of joints that are new or gone")
    return lines


def _step_line(step: StepChange) -> str:
    fate = "dropped" if step.fate is Fate.GONE else step.fate.value
    was = f", was step {step.was}" if step.was and step.was != step.number else ""
    detail = ": " + _lines(step.words) if step.words else ""
    return f"{step.number} ({step.title!s}{was}): {fate}{detail}"


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
    message = str(finding.message)
    return f"{finding.level.value} {about}: {message}" if about else f"{finding.level.value} {message}"
