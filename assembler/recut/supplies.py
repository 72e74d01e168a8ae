"""What the buyer, the store and the binder have to do: hardware, adhesive, bags, labels and pages.

Two plans and what became of parts, joints and steps go in; lists come out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assembler.figure.ids import JointId, StepNumber, natural_key
from assembler.figure.plan import Plan, Step, StepKind
from assembler.recut.changes import (
    BagChange,
    EffectivePage,
    Fate,
    LabelChange,
    PartFate,
    StepChange,
    SupplyChange,
)
from assembler.recut.likeness import SAME
from assembler.recut.partfates import PartsCompared
from assembler.recut.stepfates import StepsCompared, count_words, hardware_counts
from assembler.words import Text

_NOT_COUNTED = (StepKind.DRY_FIT, StepKind.OPEN)


def _final_steps(plan: Plan) -> list[Step]:
    """Steps whose hardware and adhesive stay in the figure: trial fittings and openings are not counted."""
    return [step for step in plan.steps if step.kind not in _NOT_COUNTED]


def hardware_difference(old: Plan, new: Plan) -> tuple[tuple[SupplyChange, ...], tuple[SupplyChange, ...]]:
    """Pieces to buy and pieces to give back, by item, without spares."""
    before, after = (_totals(plan) for plan in (old, new))
    return _differences(before, after, floor=0.0)


def _totals(plan: Plan) -> dict[Text, float]:
    totals: dict[Text, float] = {}
    for step in _final_steps(plan):
        for (_, item), count in hardware_counts(step).items():
            totals[item] = totals.get(item, 0) + count
    return totals


def adhesive_difference(old: Plan, new: Plan) -> tuple[tuple[SupplyChange, ...], tuple[SupplyChange, ...]]:
    """Millilitres more and fewer, by adhesive."""
    before, after = (_volumes(plan) for plan in (old, new))
    floor = SAME.share * max([*before.values(), *after.values()], default=0.0)
    return _differences(before, after, floor=max(floor, 0.1))


def _volumes(plan: Plan) -> dict[Text, float]:
    volumes: dict[Text, float] = {}
    for step in _final_steps(plan):
        for dose in step.adhesive:
            volumes[dose.name] = volumes.get(dose.name, 0.0) + dose.volume_ml
    return volumes


def _differences(
    before: Mapping[Text, float], after: Mapping[Text, float], floor: float
) -> tuple[tuple[SupplyChange, ...], tuple[SupplyChange, ...]]:
    change = {item: after.get(item, 0) - before.get(item, 0) for item in sorted({*before, *after}, key=str)}
    more = [SupplyChange(item=item, amount=round(value, 1)) for item, value in change.items() if value > floor]
    less = [SupplyChange(item=item, amount=round(-value, 1)) for item, value in change.items() if value < -floor]
    return tuple(more), tuple(less)


def bag_changes(old: Plan, new: Plan) -> tuple[BagChange, ...]:
    """Bags to make up, change or empty, with what differs in each."""
    before, after = (_bags(plan) for plan in (old, new))
    changes = []
    for joint in sorted({*before, *after}, key=natural_key):
        was, now = before.get(joint, {}), after.get(joint, {})
        words = tuple(
            count_words(item, now.get(item, 0), was.get(item, 0))
            for item in sorted({*was, *now}, key=str)
            if was.get(item, 0) != now.get(item, 0)
        )
        if words:
            action = "make up" if not was else "change" if now else "empty"
            changes.append(BagChange(joint=JointId(joint), action=action, words=words))
    return tuple(changes)


def _bags(plan: Plan) -> dict[str, dict[Text, int]]:
    bags: dict[str, dict[Text, int]] = {}
    for step in _final_steps(plan):
        for (joint, item), count in hardware_counts(step).items():
            bag = bags.setdefault(joint, {})
            bag[item] = bag.get(item, 0) + count
    return bags


def label_changes(old: Plan, new: Plan, parts: PartsCompared, bags: Sequence[BagChange]) -> tuple[LabelChange, ...]:
    """Labels to make and to take off.

    Those of parts made again, renamed, new or gone, of bags whose content differs, and of all others that name another
    step than before.
    """
    labels: dict[str, LabelChange] = {}
    for change in parts.changes:
        for part in change.after:
            if change.is_remade or change.fate in (PartFate.RENAMED, PartFate.SWAPPED):
                labels[part] = LabelChange(kind="part", about=part, action="make", why=change.fate.value)
        for part in set(change.before) - set(change.after):
            if change.fate is not PartFate.MOVED:
                labels[part] = LabelChange(kind="part", about=part, action="take off", why=change.fate.value)
    (parts_then, bags_then), (parts_now, bags_now) = (_first_steps(plan) for plan in (old, new))
    for part in parts.same:
        if parts_then.get(part) != parts_now.get(part):
            labels.setdefault(part, LabelChange(kind="part", about=part, action="make", why="other step"))
    listed = [labels[part] for part in sorted(labels, key=natural_key)]
    told = {bag.joint for bag in bags}
    moved = [joint for joint in bags_now if joint not in told and bags_then.get(joint) != bags_now[joint]]
    listed += [
        LabelChange(kind="bag", about=joint, action="make", why="other step")
        for joint in sorted(set(moved) & set(_bags(new)), key=natural_key)
    ]
    listed += [
        LabelChange(kind="bag", about=bag.joint, action="take off" if bag.action == "empty" else "make", why=bag.action)
        for bag in bags
    ]
    return tuple(listed)


def _first_steps(plan: Plan) -> tuple[dict[str, str], dict[str, str]]:
    """The step that first needs each part, and each joint's bag: what their labels name."""
    parts: dict[str, str] = {}
    bags: dict[str, str] = {}
    for step in plan.steps:
        for part in (*step.moves, *step.onto):
            parts.setdefault(part, step.number)
        for joint in step.joints:
            bags.setdefault(joint, step.number)
    return parts, bags


@dataclass(frozen=True, slots=True, kw_only=True)
class Binder:
    """What happens to the step pages in a binder."""

    pages_out: tuple[StepNumber, ...]
    pages_in: tuple[StepNumber, ...]
    effective: tuple[EffectivePage, ...]


def binder(old: Plan, new: Plan, steps: StepsCompared, earlier: Sequence[EffectivePage]) -> Binder:
    """Pages to take out and to put in, and the revision of every valid page.

    Parameters
    ----------
    old, new
        The plans of two books.
    steps
        What became of the steps.
    earlier
        Effective pages of the old book; empty when it was the first (all pages are then of its own revision).
    """
    since = {page.number: page.revision for page in earlier}
    changed = {change.number: change for change in steps.steps if change.fate is not Fate.GONE}
    pages = [
        EffectivePage(
            number=step.number,
            revision=new.revision if step.number in changed else since.get(step.number, old.revision),
        )
        for step in new.steps
    ]
    out = {change.number if change.fate is Fate.GONE else change.was for change in steps.steps if _is_out(change)}
    return Binder(
        pages_out=tuple(StepNumber(number) for number in sorted(out, key=natural_key)),
        pages_in=tuple(sorted(changed, key=natural_key)),
        effective=tuple(pages),
    )


def _is_out(change: StepChange) -> bool:
    return change.fate is not Fate.NEW


def work_minutes(plan: Plan) -> float:
    """Working time of all steps without holds."""
    return float(sum(step.minutes for step in plan.steps))
