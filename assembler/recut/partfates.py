"""What became of the parts: unchanged, moved, reshaped, swapped, renamed, split, merged, new or gone.

Two plans go in, `PartChange` come out. Only numbers are looked at (fingerprints and
joints): where they do not tell how parts were re-cut, that is said instead of guessed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assembler.figure.ids import PartId, natural_key
from assembler.figure.parts import Fingerprint, Part, Vector
from assembler.figure.plan import Plan
from assembler.recut.changes import PartChange, PartFate
from assembler.recut.likeness import (
    SAME,
    Sameness,
    distance_of_boxes,
    is_in_place,
    is_mirror_twin,
    is_same_shape,
    is_unchanged,
)
from assembler.recut.regrouping import Group, find_groups
from assembler.words import Said, Text, also, say


@dataclass(frozen=True, slots=True, kw_only=True)
class PartsCompared:
    """What became of all parts."""

    changes: tuple[PartChange, ...]
    same: tuple[PartId, ...]
    untold: tuple[Text, ...]

    def restless(self) -> dict[PartId, Said]:
        """What a step has to say of each part whose solid is not where and what it was, by id of the new revision."""
        words = {PartFate.MOVED: "has_another_place", PartFate.NEW: "is_new", PartFate.SWAPPED: "is_another_solid"}
        return {
            part: say(f"change.{words.get(change.fate, 'made_again')}")
            for change in self.changes
            if not change.is_name_only
            for part in change.after
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class _Side:
    """Parts of one revision."""

    parts: Mapping[str, Part]
    marks: Mapping[str, Fingerprint]
    pairs: frozenset[frozenset[str]]


def compare_parts(old: Plan, new: Plan, same: Sameness = SAME) -> PartsCompared:
    """What became of the parts.

    Parameters
    ----------
    old, new
        The plans of two books.
    same
        Tolerances.
    """
    before, after = _side(old), _side(new)
    common = sorted(before.marks.keys() & after.marks.keys(), key=natural_key)
    unchanged = {part for part in common if is_unchanged(before.marks[part], after.marks[part], same)}
    swaps = _swaps(before, after, [part for part in common if part not in unchanged], same)
    swapped = {part for change in swaps for part in change.before}
    exchanged = _exchanged_files(before, after, common, same)
    file_swapped = {part for change in exchanged for part in change.before}
    moved = {
        part
        for part in common
        if part not in unchanged | swapped and _is_moved(before.marks[part], after.marks[part], same)
    }
    reshaped = set(common) - unchanged - swapped - moved
    gone, new_ones = before.marks.keys() - after.marks.keys(), after.marks.keys() - before.marks.keys()
    renumbered = _renumbered(before, after, gone, new_ones, same)
    gone, new_ones = gone - set(renumbered), new_ones - set(renumbered.values())
    splits, untold_splits = find_groups(
        _only(before.marks, gone | reshaped), _only(after.marks, new_ones | reshaped), after.pairs
    )
    mergers, untold_mergers = find_groups(
        _only(after.marks, new_ones | reshaped), _only(before.marks, gone | reshaped), before.pairs
    )
    mergers = tuple(merger for merger in mergers if not _overlaps(merger, splits))
    told = {part for group in (*splits, *mergers) for part in (group.whole, *group.pieces)}
    changes = [
        *swaps,
        *exchanged,
        *(_moved(part, before, after) for part in moved),
        *(_split(group, before) for group in splits),
        *(_merged(group, after) for group in mergers),
        *(_reshaped(part, before, after, same) for part in reshaped - told),
        *(_lone(PartFate.GONE, part, before) for part in gone - told),
        *(_lone(PartFate.NEW, part, after) for part in new_ones - told),
        *(
            _renamed(part, renumbered.get(part, part), before, after)
            for part in sorted({*common, *renumbered} - file_swapped)
        ),
        *(_respecified(part, before, after) for part in unchanged | moved | swapped),
    ]
    listed = [change for change in changes if change is not None]
    touched = {part for change in listed for part in (*change.before, *change.after)}
    regrouped = [_in_same_space(before, after, gone - told, new_ones - told)]
    return PartsCompared(
        changes=tuple(sorted(listed, key=_order)),
        same=tuple(PartId(part) for part in sorted(unchanged - touched, key=natural_key)),
        untold=tuple(line for line in (*untold_splits, *untold_mergers, *regrouped) if line),
    )


def _side(plan: Plan) -> _Side:
    return _Side(
        parts={part.id: part for part in plan.parts},
        marks={part.id: part.fingerprint for part in plan.parts},
        pairs=frozenset(frozenset(joint.parts) for joint in plan.joints),
    )


def _order(change: PartChange) -> tuple[object, ...]:
    names = change.after or change.before
    return (natural_key(names[0]), list(PartFate).index(change.fate), tuple(map(natural_key, change.before)))


def _only(marks: Mapping[str, Fingerprint], wanted: Iterable[str]) -> dict[str, Fingerprint]:
    return {part: marks[part] for part in sorted(wanted, key=natural_key)}


def _overlaps(group: Group, others: Iterable[Group]) -> bool:
    taken = {part for other in others for part in (other.whole, *other.pieces)}
    return not taken.isdisjoint({group.whole, *group.pieces})


def _ids(names: Iterable[str]) -> tuple[PartId, ...]:
    return tuple(PartId(name) for name in sorted(names, key=natural_key))


def _swaps(before: _Side, after: _Side, restless: Sequence[str], same: Sameness) -> list[PartChange]:
    """Parts that exchanged solids or files, and parts that became their own mirror twin."""
    changes: list[PartChange] = []
    done: set[str] = set()
    for part in restless:
        for other in restless:
            if part >= other or {part, other} & done:
                continue
            if _is_exchange(before, after, part, other, same):
                is_twin = is_mirror_twin(before.marks[part], before.marks[other], same)
                changes.append(
                    PartChange(
                        fate=PartFate.SWAPPED,
                        before=_ids((part, other)),
                        after=_ids((part, other)),
                        words=say("change.exchanged_twin" if is_twin else "change.exchanged"),
                    )
                )
                done |= {part, other}
    for part in restless:
        if part not in done and is_mirror_twin(before.marks[part], after.marks[part], same):
            changes.append(
                PartChange(
                    fate=PartFate.SWAPPED,
                    before=_ids((part,)),
                    after=_ids((part,)),
                    words=_twin_words(part, before, after, same),
                    is_remade=True,
                )
            )
    return changes


def _is_exchange(before: _Side, after: _Side, part: str, other: str, same: Sameness) -> bool:
    return is_unchanged(before.marks[part], after.marks[other], same) and is_unchanged(
        before.marks[other], after.marks[part], same
    )


def _twin_words(part: str, before: _Side, after: _Side, same: Sameness) -> Said:
    twins = [
        name
        for name in sorted(before.marks, key=natural_key)
        if name != part and is_same_shape(before.marks[name], after.marks[part], same)
    ]
    return say("change.mirrored_like", part=twins[0]) if twins else say("change.mirrored")


def _is_moved(old: Fingerprint, new: Fingerprint, same: Sameness) -> bool:
    """Whether the same solid lies elsewhere; one whose box stayed, though its centre did not, changed inside."""
    return distance_of_boxes(old.box_mm, new.box_mm) > same.box_mm and is_same_shape(old, new, same)


def _moved(part: str, before: _Side, after: _Side) -> PartChange:
    old, new = before.marks[part], after.marks[part]
    offset = _offset(old, new)
    low, high = old.box_mm
    carried = (_shift(low, offset), _shift(high, offset))
    # A turned solid fills another box than the shifted one would.
    is_turned = distance_of_boxes(carried, new.box_mm) > 2 * SAME.box_mm
    words = say("change.part_moved_turned" if is_turned else "change.part_moved", offset=_spoken(offset))
    return PartChange(fate=PartFate.MOVED, before=_ids((part,)), after=_ids((part,)), words=words, offset_mm=offset)


def _offset(old: Fingerprint, new: Fingerprint) -> Vector:
    first, second = old.centre_mm, new.centre_mm
    return (second[0] - first[0], second[1] - first[1], second[2] - first[2])


def _shift(point: Vector, offset: Vector) -> Vector:
    return (point[0] + offset[0], point[1] + offset[1], point[2] + offset[2])


def _spoken(vector: Vector) -> str:
    return ", ".join(f"{value + 0.0:.2f}" for value in (round(part, 2) for part in vector))


def _reshaped(part: str, before: _Side, after: _Side, same: Sameness) -> PartChange:
    old, new = before.marks[part], after.marks[part]
    volume = (new.volume_mm3 - old.volume_mm3) / 1000
    words = [say("change.part_volume", more_cm3=volume) if abs(volume) >= 0.05 else say("change.part_volume_same")]
    sizes = zip("xyz", _size(old), _size(new), strict=True)
    words += [
        say("change.part_size", axis=axis, now_mm=now, was_mm=was)
        for axis, was, now in sizes
        if abs(was - now) > same.box_mm
    ]
    if len(words) == 1 and not is_in_place(old, new, same):
        words.append(say("change.part_size_same"))
    return PartChange(
        fate=PartFate.RESHAPED, before=_ids((part,)), after=_ids((part,)), words=also(words), is_remade=True
    )


def _size(mark: Fingerprint) -> Vector:
    low, high = mark.box_mm
    return (high[0] - low[0], high[1] - low[1], high[2] - low[2])


def _split(group: Group, before: _Side) -> PartChange:
    words = say("change.split", evidence=group.evidence, file=before.parts[group.whole].file)
    return PartChange(
        fate=PartFate.SPLIT, before=_ids((group.whole,)), after=_ids(group.pieces), words=words, is_remade=True
    )


def _merged(group: Group, after: _Side) -> PartChange:
    words = say("change.merged", evidence=group.evidence, file=after.parts[group.whole].file)
    return PartChange(
        fate=PartFate.MERGED, before=_ids(group.pieces), after=_ids((group.whole,)), words=words, is_remade=True
    )


def _lone(fate: PartFate, part: str, side: _Side) -> PartChange:
    names, file = _ids((part,)), side.parts[part].file
    is_new = fate is PartFate.NEW
    return PartChange(
        fate=fate, before=() if is_new else names, after=names if is_new else (), words=file, is_remade=is_new
    )


def _renumbered(
    before: _Side, after: _Side, gone: Iterable[str], new_ones: Iterable[str], same: Sameness
) -> dict[str, str]:
    """Parts that are the same solid in the same place under another id (a lost ledger)."""
    pairs: dict[str, str] = {}
    for part in sorted(gone, key=natural_key):
        for other in sorted(new_ones, key=natural_key):
            if other not in pairs.values() and is_unchanged(before.marks[part], after.marks[other], same):
                pairs[part] = other
                break
    return pairs


def _exchanged_files(before: _Side, after: _Side, common: Sequence[str], same: Sameness) -> list[PartChange]:
    """Pairs of parts whose files carry each other's names now; the parts themselves are where they were."""
    files = {part: (before.parts[part].file, after.parts[part].file) for part in common}
    changes = []
    for part in common:
        for other in common:
            is_pair = files[part] == files[other][::-1] and files[part][0] != files[part][1]
            if is_pair and natural_key(part) < natural_key(other):
                is_twin = is_mirror_twin(before.marks[part], before.marks[other], same)
                code = "change.files_of_twins_exchanged" if is_twin else "change.files_exchanged"
                words = say(code, first=files[part][0], second=files[other][0])
                names = _ids((part, other))
                changes.append(
                    PartChange(fate=PartFate.SWAPPED, before=names, after=names, words=words, is_name_only=True)
                )
    return changes


def _renamed(part: str, now: str, before: _Side, after: _Side) -> PartChange | None:
    was_file, file = before.parts[part].file, after.parts[now].file
    if part == now and was_file == file:
        return None
    code = "change.file" if part == now else "change.file_and_number"
    words = say(code, now=file, was=was_file)
    return PartChange(fate=PartFate.RENAMED, before=_ids((part,)), after=_ids((now,)), words=words, is_name_only=True)


def _respecified(part: str, before: _Side, after: _Side) -> PartChange | None:
    old, new = before.parts[part], after.parts[part]
    words: list[Said] = []
    if old.material != new.material:
        words.append(say("change.material", now=new.material, was=old.material))
    if old.is_printed != new.is_printed:
        words.append(say("change.printed_now" if new.is_printed else "change.printed_no_longer"))
    if not words:
        return None
    return PartChange(
        fate=PartFate.RESPECIFIED, before=_ids((part,)), after=_ids((part,)), words=also(words), is_remade=True
    )


def _in_same_space(before: _Side, after: _Side, gone: Iterable[str], new_ones: Iterable[str]) -> Text:
    """A line for parts that went and parts that came where they stood."""
    came = sorted(new_ones, key=natural_key)
    went = [part for part in sorted(gone, key=natural_key) if any(_meet(before, after, part, new) for new in came)]
    came = [part for part in came if any(_meet(before, after, old, part) for old in went)]
    if not went or not came:
        return ""
    return say("change.same_space", went=tuple(went), came=tuple(came))


def _meet(before: _Side, after: _Side, old: str, new: str) -> bool:
    (low, high), (other_low, other_high) = before.marks[old].box_mm, after.marks[new].box_mm
    common = [min(a, b) - max(c, d) for a, b, c, d in zip(high, other_high, low, other_low, strict=True)]
    if min(common) <= 0:
        return False
    smaller = min(math.prod(_size(before.marks[old])), math.prod(_size(after.marks[new])))
    # Neighbours with an oblique seam share some of their boxes too; it is only a hint to look.
    return math.prod(common) > 0.25 * smaller
