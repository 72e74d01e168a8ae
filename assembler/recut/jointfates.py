"""What became of joints and bolt axes: unchanged, moved, changed, new or gone, and in which ways.

Two plans go in. Ids carry over (ids.toml sees to that), so joints and bolts are compared by
id.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assembler.figure.ids import BoltId, JointId, natural_key
from assembler.figure.joints import Bolt, Joint
from assembler.figure.plan import Plan
from assembler.recut.changes import BoltChange, Fate, JointChange
from assembler.recut.likeness import SAME, Sameness, distance, is_near, tilt_deg


@dataclass(frozen=True, slots=True, kw_only=True)
class JointsCompared:
    """What became of all joints and bolts."""

    joints: tuple[JointChange, ...]
    bolts: tuple[BoltChange, ...]
    same_joints: tuple[JointId, ...]
    same_bolts: tuple[BoltId, ...]


def compare_joints(old: Plan, new: Plan, same: Sameness = SAME) -> JointsCompared:
    """What became of joints and bolts.

    Parameters
    ----------
    old, new
        The plans of two books.
    same
        Tolerances.

    Returns
    -------
    JointsCompared
        A joint whose own values are the same counts as unchanged even if bolts in it changed; those are listed.
    """
    before, after = ({str(joint.id): joint for joint in plan.joints} for plan in (old, new))
    joints: list[JointChange] = []
    same_joints: list[JointId] = []
    for name in sorted({*before, *after}, key=natural_key):
        change = _joint_change(name, before, after, same)
        if change is None:
            same_joints.append(JointId(name))
        else:
            joints.append(change)
    bolts, same_bolts = _compare_bolts(before, after, same)
    return JointsCompared(joints=tuple(joints), bolts=bolts, same_joints=tuple(same_joints), same_bolts=same_bolts)


def _joint_change(
    name: str, before: Mapping[str, Joint], after: Mapping[str, Joint], same: Sameness
) -> JointChange | None:
    joint = JointId(name)
    if name not in after:
        heir = _heir(before[name], [after[other] for other in after if other not in before], same)
        return JointChange(joint=joint, fate=Fate.GONE, words=(_pair_words(before[name]), *heir))
    if name not in before:
        heir = _heir(after[name], [before[other] for other in before if other not in after], same)
        return JointChange(joint=joint, fate=Fate.NEW, words=(_pair_words(after[name]), *heir))
    where, what = _place_words(before[name], after[name], same), _value_words(before[name], after[name], same)
    if not where and not what:
        return None
    return JointChange(joint=joint, fate=Fate.CHANGED if what else Fate.MOVED, words=(*where, *what))


def _pair_words(joint: Joint) -> str:
    count = len(joint.bolts)
    bolts = f", {count} bolt{'' if count == 1 else 's'}" if count else ""
    return f"between {joint.parts[0]} and {joint.parts[1]}, {joint.method}, {joint.made}{bolts}"


def _heir(joint: Joint, others: Sequence[Joint], same: Sameness) -> tuple[str, ...]:
    """Which other joint has the same axes, now that its number is no longer in use (or not yet)."""
    lines = []
    for other in sorted(others, key=lambda other: natural_key(other.id)):
        common = [bolt for bolt in joint.bolts if any(_is_same_axis(bolt, twin, same) for twin in other.bolts)]
        if common:
            lines.append(f"{len(common)} of its axes are those of {other.id}")
    return tuple(lines)


def _place_words(old: Joint, new: Joint, same: Sameness) -> list[str]:
    words: list[str] = []
    if not any(old.normal):
        # A book of a version that did not write where a joint lies.
        return words
    if distance(old.centre_mm, new.centre_mm) > same.axis_mm:
        words.append(f"its middle moved by ({_gap(old.centre_mm, new.centre_mm)}) mm")
    turned = tilt_deg(old.normal, new.normal)
    if turned > same.tilt_deg:
        words.append(f"its faces turned by {turned:.1f} degrees")
    return words


def _gap(old: Sequence[float], new: Sequence[float]) -> str:
    return ", ".join(f"{round(b - a, 2) + 0.0:.2f}" for a, b in zip(old, new, strict=True))


def _value_words(old: Joint, new: Joint, same: Sameness) -> list[str]:
    words = []
    if set(old.parts) != set(new.parts):
        words.append(f"joins {' and '.join(new.parts)} (was {' and '.join(old.parts)})")
    elif old.parts != new.parts:
        words.append(f"head side preferred on {new.parts[0]} (was {old.parts[0]})")
    said = (("method", old.method, new.method), ("made", old.made, new.made))
    words += [f"{name} is {now} (was {was})" for name, was, now in said if was != now]
    for name, was, now, unit, scale in (
        ("bond area", old.bond_area_mm2, new.bond_area_mm2, "cm2", 100.0),
        ("seam", old.seam_mm, new.seam_mm, "mm", 1.0),
    ):
        if not is_near(was, now, same.share, floor=1.0):
            words.append(f"{name} {now / scale:.1f} {unit} (was {was / scale:.1f})")
    if abs(new.gap_mm - old.gap_mm) > same.axis_mm:
        words.append(f"gap {new.gap_mm:.2f} mm (was {old.gap_mm:.2f})")
    return words


def _bolts_of(joints: Mapping[str, Joint]) -> dict[str, tuple[str, Bolt]]:
    return {bolt.id: (name, bolt) for name, joint in joints.items() for bolt in joint.bolts}


def _compare_bolts(
    before: Mapping[str, Joint], after: Mapping[str, Joint], same: Sameness
) -> tuple[tuple[BoltChange, ...], tuple[BoltId, ...]]:
    old, new = _bolts_of(before), _bolts_of(after)
    changes: list[BoltChange] = []
    unchanged: list[BoltId] = []
    for name in sorted({*old, *new}, key=natural_key):
        bolt = BoltId(name)
        if name not in new:
            joint, record = old[name]
            changes.append(BoltChange(bolt=bolt, joint=JointId(joint), fate=Fate.GONE, words=_axis_words(record)))
            continue
        joint, record = new[name]
        if name not in old:
            changes.append(BoltChange(bolt=bolt, joint=JointId(joint), fate=Fate.NEW, words=_axis_words(record)))
            continue
        where, what = _bolt_place(old[name][1], record, same), _bolt_values(old[name][1], record, same)
        if where or what:
            fate = Fate.CHANGED if what else Fate.MOVED
            changes.append(BoltChange(bolt=bolt, joint=JointId(joint), fate=fate, words=(*where, *what)))
        else:
            unchanged.append(bolt)
    return tuple(changes), tuple(unchanged)


def _axis_words(bolt: Bolt) -> tuple[str, ...]:
    at = ", ".join(f"{value:.1f}" for value in bolt.at_mm)
    return (f"hole {bolt.hole_mm:.1f} mm, grip {bolt.grip_mm:.1f} mm, at ({at})",)


def _bolt_place(old: Bolt, new: Bolt, same: Sameness) -> list[str]:
    words = []
    if distance(old.at_mm, new.at_mm) > same.axis_mm:
        words.append(f"moved by ({_gap(old.at_mm, new.at_mm)}) mm")
    turned = tilt_deg(old.axis, new.axis)
    # An axis has no sense of direction: which end is which is told by `through`.
    turned = min(turned, 180.0 - turned)
    if turned > same.tilt_deg:
        words.append(f"turned by {turned:.1f} degrees")
    return words


def _is_same_axis(first: Bolt, second: Bolt, same: Sameness) -> bool:
    return not _bolt_place(first, second, same) and abs(first.hole_mm - second.hole_mm) <= same.hole_mm


def _bolt_values(old: Bolt, new: Bolt, same: Sameness) -> list[str]:
    words = []
    for name, was, now, slack in (
        ("hole", old.hole_mm, new.hole_mm, same.hole_mm),
        ("grip", old.grip_mm, new.grip_mm, same.grip_mm),
    ):
        if abs(now - was) > slack:
            words.append(f"{name} {now:.1f} mm (was {was:.1f})")
    if set(old.through) != set(new.through):
        words.append(f"through {', '.join(new.through)} (was {', '.join(old.through)})")
    elif _ends(old) != _ends(new):
        words.append(f"seats {', '.join(new.seats)} (was {', '.join(old.seats)})")
    if set(old.also) != set(new.also):
        words.append(f"closes also {', '.join(new.also) or 'nothing'} (was {', '.join(old.also) or 'nothing'})")
    return words


def _ends(bolt: Bolt) -> set[tuple[str, str]]:
    """What carries each end; the same set whichever way the axis is written."""
    return {(bolt.through[0], bolt.seats[0]), (bolt.through[-1], bolt.seats[1])}
