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
from assembler.words import Said, both, counted, say


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


def _pair_words(joint: Joint) -> Said:
    first, second = joint.parts
    pair = say("change.pair", first=first, second=second, method=_method(joint), made=say(f"word.{joint.made}"))
    return counted("change.pair_bolts", len(joint.bolts), pair=pair) if joint.bolts else pair


def _method(joint: Joint) -> Said:
    return say(f"method.{joint.method.name.lower()}")


def _heir(joint: Joint, others: Sequence[Joint], same: Sameness) -> tuple[Said, ...]:
    """Which other joint has the same axes, now that its number is no longer in use (or not yet)."""
    lines = []
    for other in sorted(others, key=lambda other: natural_key(other.id)):
        common = [bolt for bolt in joint.bolts if any(_is_same_axis(bolt, twin, same) for twin in other.bolts)]
        if common:
            lines.append(say("change.heir", count=len(common), joint=other.id))
    return tuple(lines)


def _place_words(old: Joint, new: Joint, same: Sameness) -> list[Said]:
    words: list[Said] = []
    if not any(old.normal):
        # A book of a version that did not write where a joint lies.
        return words
    if distance(old.centre_mm, new.centre_mm) > same.axis_mm:
        words.append(say("change.middle_moved", offset=_gap(old.centre_mm, new.centre_mm)))
    turned = tilt_deg(old.normal, new.normal)
    if turned > same.tilt_deg:
        words.append(say("change.faces_turned", turned_deg=turned))
    return words


def _gap(old: Sequence[float], new: Sequence[float]) -> str:
    return ", ".join(f"{round(b - a, 2) + 0.0:.2f}" for a, b in zip(old, new, strict=True))


def _value_words(old: Joint, new: Joint, same: Sameness) -> list[Said]:
    words = []
    if set(old.parts) != set(new.parts):
        words.append(say("change.joins", now=both(new.parts), was=both(old.parts)))
    elif old.parts != new.parts:
        words.append(say("change.head_side", now=new.parts[0], was=old.parts[0]))
    if old.method is not new.method:
        words.append(say("change.method", now=_method(new), was=_method(old)))
    if old.made is not new.made:
        words.append(say("change.made", now=say(f"word.{new.made}"), was=say(f"word.{old.made}")))
    if not is_near(old.bond_area_mm2, new.bond_area_mm2, same.share, floor=1.0):
        words.append(say("change.bond_area", now_cm2=new.bond_area_mm2 / 100.0, was_cm2=old.bond_area_mm2 / 100.0))
    if not is_near(old.seam_mm, new.seam_mm, same.share, floor=1.0):
        words.append(say("change.seam", now_mm=new.seam_mm, was_mm=old.seam_mm))
    if abs(new.gap_mm - old.gap_mm) > same.axis_mm:
        words.append(say("change.gap", now_mm=new.gap_mm, was_mm=old.gap_mm))
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


def _axis_words(bolt: Bolt) -> tuple[Said, ...]:
    at = ", ".join(f"{value:.1f}" for value in bolt.at_mm)
    return (say("change.axis", hole_mm=bolt.hole_mm, grip_mm=bolt.grip_mm, at=at),)


def _bolt_place(old: Bolt, new: Bolt, same: Sameness) -> list[Said]:
    words = []
    if distance(old.at_mm, new.at_mm) > same.axis_mm:
        words.append(say("change.moved_by", offset=_gap(old.at_mm, new.at_mm)))
    turned = tilt_deg(old.axis, new.axis)
    # An axis has no sense of direction: which end is which is told by `through`.
    turned = min(turned, 180.0 - turned)
    if turned > same.tilt_deg:
        words.append(say("change.turned_by", turned_deg=turned))
    return words


def _is_same_axis(first: Bolt, second: Bolt, same: Sameness) -> bool:
    return not _bolt_place(first, second, same) and abs(first.hole_mm - second.hole_mm) <= same.hole_mm


def _bolt_values(old: Bolt, new: Bolt, same: Sameness) -> list[Said]:
    words = []
    for name, was, now, slack in (
        ("hole", old.hole_mm, new.hole_mm, same.hole_mm),
        ("grip", old.grip_mm, new.grip_mm, same.grip_mm),
    ):
        if abs(now - was) > slack:
            words.append(say(f"change.{name}", now_mm=now, was_mm=was))
    if set(old.through) != set(new.through):
        words.append(say("change.through", now=new.through, was=old.through))
    elif _ends(old) != _ends(new):
        words.append(say("change.seats", now=_seats(new), was=_seats(old)))
    if set(old.also) != set(new.also):
        nothing = say("change.nothing")
        words.append(say("change.closes_also", now=tuple(new.also) or nothing, was=tuple(old.also) or nothing))
    return words


def _seats(bolt: Bolt) -> tuple[Said, ...]:
    return tuple(say(f"word.{seat}") for seat in bolt.seats)


def _ends(bolt: Bolt) -> set[tuple[str, str]]:
    """What carries each end; the same set whichever way the axis is written."""
    return {(bolt.through[0], bolt.seats[0]), (bolt.through[-1], bolt.seats[1])}
