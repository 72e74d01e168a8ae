"""What became of the steps, line by line as a crew would say it.

The steps of two plans go in, with what became of parts and joints. A step is unchanged when nothing that is
done in it, and nothing that it waits for, differs; what merely stands behind it in the picture is told apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from assembler.figure.ids import StepNumber, natural_key
from assembler.figure.plan import Done, Lift, Move, Plan, Step
from assembler.recut.changes import Fate, PagePlace, StepChange
from assembler.recut.jointfates import JointsCompared
from assembler.recut.likeness import SAME, Sameness, is_near, tilt_deg
from assembler.recut.partfates import PartsCompared
from assembler.recut.stepmatch import match_steps
from assembler.words import Said, Text, also, counted, say

_Said = tuple[Sequence[Text], tuple[PagePlace, ...]]
"""Lines of one kind, and where on the page of the step they show."""


def done_note(done: Done) -> Said:
    """The note that a step which was carried out has on its page."""
    note = say("note.done", at=f"{done.at:%Y-%m-%d %H:%M}", temperature_c=done.temperature_c, book=done.book)
    return say("note.done_otherwise", done=note, although=done.although) if done.although else note


@dataclass(frozen=True, slots=True, kw_only=True)
class StepsCompared:
    """What became of all steps; `pairs` are (old, new) numbers of the same job."""

    steps: tuple[StepChange, ...]
    same: tuple[StepNumber, ...]
    background: tuple[StepNumber, ...]
    pairs: tuple[tuple[StepNumber, StepNumber], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Context:
    """What a step is compared against."""

    names: Mapping[str, StepNumber]
    restless: Mapping[str, Said]
    restless_joints: Mapping[str, Text]
    same: Sameness


def compare_steps(
    old: Plan,
    new: Plan,
    parts: PartsCompared,
    joints: JointsCompared,
    same: Sameness = SAME,
) -> StepsCompared:
    """What became of the steps.

    Parameters
    ----------
    old, new
        The plans of two books.
    parts, joints
        What became of those.
    same
        Tolerances.
    """
    before, after = old.steps, new.steps
    matches = match_steps(before, after)
    names: dict[str, StepNumber] = {before[was].number: after[now].number for now, was in matches.items()}
    context = _Context(
        names=names,
        restless={str(part): words for part, words in parts.restless().items()},
        restless_joints=_restless_joints(joints),
        same=same,
    )
    changes: list[StepChange] = []
    unchanged: list[StepNumber] = []
    background: list[StepNumber] = []
    for now, step in enumerate(after):
        if now not in matches:
            changes.append(_change(step, "", Fate.NEW, (), (PagePlace.WHOLE,)))
            continue
        earlier = before[matches[now]]
        said = [(lines, places) for lines, places in _said(earlier, step, context) if lines]
        is_elsewhere = earlier.number != step.number
        if said:
            words = tuple(line for lines, _ in said for line in lines)
            shown = {place for _, places in said for place in places} | ({PagePlace.TITLE} if is_elsewhere else set())
            changes.append(_change(step, earlier.number, Fate.CHANGED, words, _in_page_order(shown)))
        elif is_elsewhere:
            line = say("change.place_in_order", step=earlier.number)
            changes.append(_change(step, earlier.number, Fate.MOVED, (line,), (PagePlace.TITLE,)))
        else:
            unchanged.append(step.number)
            if set(earlier.onto) != set(step.onto) or context.restless.keys() & set(step.onto):
                background.append(step.number)
    kept = set(matches.values())
    changes += [_change(step, step.number, Fate.GONE, ()) for was, step in enumerate(before) if was not in kept]
    return StepsCompared(
        steps=tuple(sorted(changes, key=lambda change: (natural_key(change.number), change.fate is not Fate.GONE))),
        same=tuple(unchanged),
        background=tuple(background),
        pairs=tuple((StepNumber(was), StepNumber(now)) for was, now in names.items()),
    )


def _restless_joints(joints: JointsCompared) -> dict[str, Text]:
    """How each joint that changed, itself or in its bolts, is spoken of in a step."""
    words: dict[str, Text] = {
        change.joint: say(f"changes.fate.{change.fate}")
        for change in joints.joints
        if change.fate in (Fate.CHANGED, Fate.MOVED)
    }
    counts: dict[str, dict[Fate, int]] = {}
    lone = {change.joint for change in joints.joints if change.fate in (Fate.NEW, Fate.GONE)}
    for bolt in joints.bolts:
        if bolt.joint in lone:
            continue
        fates = counts.setdefault(bolt.joint, {})
        fates[bolt.fate] = fates.get(bolt.fate, 0) + 1
    spoken: dict[str, Text] = {}
    for joint in sorted({*words, *counts}, key=natural_key):
        bolts = [
            counted("change.bolts", count, fate=say(f"changes.fate.{fate}")) for fate, count in _by_fate(counts, joint)
        ]
        spoken[joint] = also([words[joint], *bolts] if joint in words else bolts, "list.comma")
    return spoken


def _by_fate(counts: Mapping[str, Mapping[Fate, int]], joint: str) -> list[tuple[Fate, int]]:
    return sorted(counts.get(joint, {}).items(), key=lambda item: list(Fate).index(item[0]))


def _change(step: Step, was: str, fate: Fate, words: Sequence[Text], places: tuple[PagePlace, ...] = ()) -> StepChange:
    return StepChange(number=step.number, was=was, title=step.title, fate=fate, words=tuple(words), places=places)


def _in_page_order(places: Iterable[PagePlace]) -> tuple[PagePlace, ...]:
    return tuple(sorted(set(places), key=list(PagePlace).index))


def _said(old: Step, new: Step, context: _Context) -> tuple[_Said, ...]:
    """All that differs, line by line, each with the places of the page where it shows."""
    same, place = context.same, PagePlace
    recut = [
        say("change.part", part=part, fate=context.restless[part])
        for part in _sorted(context.restless.keys() & set(new.moves))
    ]
    return (
        (_set_words("moves", old.moves, new.moves), (place.TITLE, place.PICTURE, place.BRING, place.ORDERS)),
        (_set_words("closes", old.joints, new.joints), (place.PICTURE, place.ORDERS)),
        (recut, (place.PICTURE, place.BRING)),
        (_joint_words(new, context), (place.PICTURE,)),
        (_plain_words(old, new), (place.TITLE, place.JOB)),
        (_path_words(old, new, same), (place.PICTURE, place.ORDERS)),
        (_hardware_words(old, new), (place.BRING, place.TIGHTEN)),
        (_adhesive_words(old, new, same), (place.GLUE,)),
        (_after_words(old, new, context), (place.JOB,)),
        (_gate_words(old, new, context), (place.GATE,)),
        (_hold_words(old, new, context), (place.HOLD,)),
        (_lift_words(old, new, same), (place.JOB,)),
        (_stability_words(old, new, same), (place.CHECKS,)),
        (_access_words(old, new, same), (place.ACCESS,)),
        (_shut_words(old, new), (place.ORDERS,)),
        (_note_words(old, new), (place.ORDERS,)),
        (_minutes_words(old, new, same), (place.JOB,)),
    )


def _minutes_words(old: Step, new: Step, same: Sameness) -> list[Text]:
    was, now = old.minutes, new.minutes
    return [say("change.takes", now_min=now, was_min=was)] if abs(now - was) > same.minutes else []


def _sorted(names: Iterable[str]) -> list[str]:
    return sorted(names, key=natural_key)


def _listed(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(_sorted(names))


def _set_words(verb: str, old: Iterable[str], new: Iterable[str]) -> list[Text]:
    came, went = set(new) - set(old), set(old) - set(new)
    lines: list[Text] = [say(f"change.also_{verb}", names=_listed(came))] * bool(came)
    return lines + [say(f"change.no_longer_{verb}", names=_listed(went))] * bool(went)


def _joint_words(new: Step, context: _Context) -> list[Text]:
    restless = sorted(set(new.joints) & context.restless_joints.keys(), key=natural_key)
    return [say("change.about", about=joint, what=context.restless_joints[joint]) for joint in restless]


def _plain_words(old: Step, new: Step) -> list[Text]:
    lines: list[Text] = []
    if old.place != new.place:
        lines.append(say("change.place", now=say(f"word.{new.place}"), was=say(f"word.{old.place}")))
    said = (("bench", old.bench, new.bench), ("section", old.section, new.section))
    lines += [say(f"change.{name}", now=now or "-", was=was or "-") for name, was, now in said if was != now]
    # A title made of parts carries file names, and a renamed file is no change of the work.
    if old.title != new.title and not new.moves and not new.onto:
        lines.append(say("change.title", was=old.title))
    return lines


def _path_words(old: Step, new: Step, same: Sameness) -> list[Text]:
    lines: list[Text] = []
    if tilt_deg(old.up, new.up) > same.tilt_deg:
        lines.append(say("change.up", now=_spoken(new.up), was=_spoken(old.up)))
    before, after = old.path, new.path
    is_alike = len(before) == len(after) and all(
        tilt_deg(leg.direction, other.direction) <= same.tilt_deg and abs(leg.travel_mm - other.travel_mm) <= 1.0
        for leg, other in zip(before, after, strict=True)
    )
    if not is_alike:
        lines.append(say("change.comes_in", now=_way(after), was=_way(before)))
    return lines


def _way(legs: Sequence[Move]) -> Text:
    said = [say("change.leg", travel_mm=leg.travel_mm, direction=_spoken(leg.direction)) for leg in legs]
    return also(said, "change.then") or say("change.no_movement")


def _spoken(vector: Sequence[float]) -> str:
    return ", ".join(f"{round(value, 2) + 0.0:g}" for value in vector)


def _hardware_words(old: Step, new: Step) -> list[Text]:
    before, after = (hardware_counts(step) for step in (old, new))
    lines: list[Text] = []
    for joint, item in sorted({*before, *after}, key=_by_item):
        was, now = before.get((joint, item), 0), after.get((joint, item), 0)
        if was != now:
            lines.append(say("change.about", about=joint, what=count_words(item, now, was)))
    torques = [{(line.joint, line.item): line.torque_nm for line in step.hardware} for step in (old, new)]
    for key in sorted(torques[0].keys() & torques[1].keys(), key=_by_item):
        if not is_near(torques[0][key], torques[1][key], 0.005, floor=0.01):
            torque = {"now_nm": torques[1][key], "was_nm": torques[0][key]}
            lines.append(say("change.tighten", joint=key[0], item=key[1], **torque))
    return lines + _stack_words(old, new) * (not lines)


def _by_item(key: tuple[str, Text]) -> tuple[object, ...]:
    return (natural_key(key[0]), str(key[1]))


def count_words(item: Text, now: int, was: int) -> Said:
    """How the number of pieces of an item changed."""
    if not was:
        return say("change.pieces", now=now, item=item)
    if not now:
        return say("change.no_pieces", item=item, was=was)
    return say("change.pieces_was", now=now, item=item, was=was)


def hardware_counts(step: Step) -> dict[tuple[str, Text], int]:
    """Pieces by joint and item."""
    counts: dict[tuple[str, Text], int] = {}
    for line in step.hardware:
        key = (line.joint, line.item)
        counts[key] = counts.get(key, 0) + line.count
    return counts


def _stack_words(old: Step, new: Step) -> list[Text]:
    """Which bolt takes which length, where the counts alone do not tell."""
    before, after = ({stack.bolt: stack for stack in step.stacks} for step in (old, new))
    return [
        say(
            "change.screw",
            bolt=bolt,
            size=after[bolt].size,
            length_mm=after[bolt].length_mm,
            was_size=before[bolt].size,
            was_mm=before[bolt].length_mm,
        )
        for bolt in sorted(before.keys() & after.keys(), key=natural_key)
        if (before[bolt].size, before[bolt].length_mm) != (after[bolt].size, after[bolt].length_mm)
    ]


def _adhesive_words(old: Step, new: Step, same: Sameness) -> list[Text]:
    before, after = ({dose.joint: dose for dose in step.adhesive} for step in (old, new))
    lines: list[Text] = []
    for joint in sorted({*before, *after}, key=natural_key):
        if joint not in after:
            lines.append(say("change.no_adhesive", joint=joint))
            continue
        now, was = after[joint], before.get(joint)
        if was is None:
            lines.append(say("change.adhesive", joint=joint, volume_ml=now.volume_ml, name=now.name))
            continue
        if was.name != now.name:
            lines.append(say("change.other_adhesive", joint=joint, now=now.name, was=was.name))
        if not is_near(was.volume_ml, now.volume_ml, same.share, floor=0.05):
            lines.append(say("change.volume", joint=joint, now_ml=now.volume_ml, was_ml=was.volume_ml))
        lines += [
            say(f"change.{name}", joint=joint, now_min=is_min, was_min=was_min)
            for name, was_min, is_min in (
                ("open_time", was.open_min, now.open_min),
                ("time_to_close", was.needed_min, now.needed_min),
            )
            if abs(is_min - was_min) > same.minutes
        ]
    return lines


def _follow(numbers: Iterable[str], context: _Context) -> set[str]:
    """Steps of the old book by their numbers in the new one."""
    return {context.names.get(number, number) for number in numbers}


def _after_words(old: Step, new: Step, context: _Context) -> list[Text]:
    after, was_after = set(new.after), _follow(old.after, context)
    if after == was_after:
        return []
    return [say("change.needs", now=_listed(after) or "-", was=_listed(old.after) or "-")]


def _gate_words(old: Step, new: Step, context: _Context) -> list[Text]:
    gates = {(gate.joint, gate.step) for gate in new.gates}
    was_gates = {(gate.joint, context.names.get(gate.step, gate.step)) for gate in old.gates}
    return [
        *(say("change.waits", joint=joint, step=step) for joint, step in sorted(gates - was_gates)),
        *(say("change.waits_no_longer", joint=joint, step=step) for joint, step in sorted(was_gates - gates)),
    ]


def _hold_words(old: Step, new: Step, context: _Context) -> list[Text]:
    lines: list[Text] = []
    hold, was = new.hold, old.hold
    if (hold is None) != (was is None):
        lines.append(say("change.hold_new", hold_min=hold.minutes) if hold else say("change.hold_gone"))
    elif hold and was:
        if abs(hold.minutes - was.minutes) > context.same.minutes:
            lines.append(say("change.hold", now_min=hold.minutes, was_min=was.minutes))
        if set(hold.before) != _follow(was.before, context):
            lines.append(say("change.hold_before", now=_listed(hold.before), was=_listed(was.before)))
    return lines


HEIGHT_MM = 20.0
"""A lift that goes higher or less high by more than this is worth a word (common practice, no source)."""


def _lift_words(old: Step, new: Step, same: Sameness) -> list[Text]:
    lines: list[Text] = []
    lift, was = new.lift, old.lift
    if (lift is None) != (was is None):
        lines.append(say("change.lift_new", mass_kg=lift.mass_kg) if lift else say("change.lift_gone"))
    elif lift and was:
        if not is_near(lift.mass_kg, was.mass_kg, same.share, floor=0.005):
            lines.append(say("change.lift", now_kg=lift.mass_kg, was_kg=was.mass_kg))
        if lift.people != was.people:
            lines.append(say("change.lifters", now=_people(lift), was=_people(was)))
        if was.parts and abs(lift.height_mm - was.height_mm) > HEIGHT_MM:
            lines.append(say("change.lift_height", now_mm=lift.height_mm, was_mm=was.height_mm))
    return lines


def _stability_words(old: Step, new: Step, same: Sameness) -> list[Text]:
    lines: list[Text] = []
    stands, stood = new.stability, old.stability
    if stands and stood:
        if stands.needs_prop != stood.needs_prop:
            lines.append(say("change.prop" if stands.needs_prop else "change.no_prop"))
        # Below 0 it does not stand at all: what the prop is for, however far below.
        is_worth_saying = max(stands.tip_deg, stood.tip_deg) > 0.0
        if is_worth_saying and abs(stands.tip_deg - stood.tip_deg) > same.tip_deg:
            lines.append(say("change.tips", now_deg=stands.tip_deg, was_deg=stood.tip_deg))
    return lines


def _people(lift: Lift) -> Said:
    return say("change.people", people=lift.people) if lift.people else say("change.hoist")


def _access_words(old: Step, new: Step, same: Sameness) -> list[Text]:
    before, after = ({access.bolt: access for access in step.access} for step in (old, new))
    lines: list[Text] = []
    for bolt in sorted(before.keys() & after.keys(), key=natural_key):
        was, now = before[bolt], after[bolt]
        if was.head_part != now.head_part:
            lines.append(say("change.head_on", bolt=bolt, now=now.head_part, was=was.head_part))
        lines += [
            say(f"change.reached_{name}", bolt=bolt, now=now_is, was=it_was)
            for name, it_was, now_is in (
                ("tool", was.tool, now.tool),
                ("head", was.head, now.head),
                ("nut", was.nut, now.nut),
            )
            if it_was != now_is
        ]
        if was.is_reachable != now.is_reachable:
            lines.append(say(f"change.{'reachable' if now.is_reachable else 'unreachable'}", bolt=bolt))
        if abs(was.reach_mm - now.reach_mm) > same.reach_mm:
            lines.append(say("change.reach", bolt=bolt, now_mm=now.reach_mm, was_mm=was.reach_mm))
    return lines


def _shut_words(old: Step, new: Step) -> list[Text]:
    """What the step shuts for good, where that is another: it is checked before the step."""
    if set(old.shuts) == set(new.shuts):
        return []
    return [say("change.shuts", bolts=_listed(new.shuts)) if new.shuts else say("change.shuts_nothing")]


def _note_words(old: Step, new: Step) -> list[Text]:
    # That a step is done is nothing to exchange its page for: the crew knows, and wrote the times on it.
    done = {done_note(step.done) for step in (old, new) if step.done}
    before, after = ([note for note in step.notes if note not in done] for step in (old, new))
    return [
        *(say("change.note_added", note=note) for note in after if note not in before),
        *(say("change.note_dropped", note=note) for note in before if note not in after),
    ]
