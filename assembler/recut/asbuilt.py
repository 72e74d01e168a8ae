"""The new plan starts from what stands: done steps keep their place, and what must come out again gets its steps.

The new plan, the as-built log and the issued plan go in; the plan as it continues, and findings, come out.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, replace

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import JointId, PartId, StepNumber, natural_key
from assembler.figure.plan import Done, Plan, Step
from assembler.projectfiles.builtlog import BuiltStep
from assembler.projectfiles.planfile import as_written
from assembler.recut.changes import PartFate
from assembler.recut.numbering import in_book_order, in_issued_order, issued_numbers, renumbered
from assembler.recut.opening import CarriedOver, carried_over, opening_steps
from assembler.recut.partfates import compare_parts
from assembler.recut.standing import Standing, Touch, touches, what_stands
from assembler.recut.stepfates import done_note, hardware_counts
from assembler.recut.stepmatch import match_steps
from assembler.words import Said, Text, also, counted, say


def hold_end(step: Step, built: BuiltStep, handling_min: float) -> datetime.datetime:
    """When what a step has joined may be loaded.

    Parameters
    ----------
    step
        The step.
    built
        When it was carried out.
    handling_min
        Minutes to handling strength of its slowest joint at the temperature that was recorded (and at the night
        minimum after that, where the caller counts it).

    Returns
    -------
    datetime.datetime
        Rounded up to the full minute, in the time zone of the record; the time of the record for a step that starts
        no hold. A naive local time is not corrected when clocks change over night.

    Raises
    ------
    ValueError
        If the minutes are negative or not finite.
    """
    if not math.isfinite(handling_min) or handling_min < 0:
        raise ValueError(f"got {handling_min} minutes to handling strength, expected 0 or more")
    if step.hold is None:
        return built.at
    end = built.at + datetime.timedelta(minutes=handling_min)
    whole = end.replace(second=0, microsecond=0)
    return whole if whole == end else whole + datetime.timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Book:
    """The issued book as far as it matters here: which old step is which new one, what is done, what comes out."""

    steps: Sequence[Step]
    matches: Mapping[int, int]
    done: frozenset[int]
    reopened: frozenset[int]


def as_built(
    plan: Plan,
    built: Sequence[BuiltStep],
    issued: Plan,
    *,
    earlier: Sequence[Plan] = (),
) -> tuple[Plan, tuple[Finding, ...]]:
    """The plan as it continues from what stands.

    Parameters
    ----------
    plan
        The new plan, before or after `keep_numbers`. Do not call that afterwards: a step that is done again needs
        another number than the one under which it is recorded.
    built
        The as-built log.
    issued
        The plan of the book that the crew follows.
    earlier
        The same of all books issued before that.

    Returns
    -------
    Plan
        Done steps with their numbers; then the steps that open what has to come out (`StepKind.OPEN`: `path` is the
        way their `moves` came in, to be gone backwards, and they close no joints), then what is to be done again,
        under new numbers, and what is new; then the rest. A done step that is opened again leaves the plan: its
        number stays used. Where the order differs from the planned one, the calendar is made anew.
    tuple of Finding
        `stop` with the options where a part that has to come out is bonded in; `warn` for entries of the log that
        the book does not know. They are not in the plan's findings yet.

    Notes
    -----
    What has to come out to reach a part is taken from the issued plan's `after`: whatever could only be fitted once
    the part was in comes off before it. That may open more than needed, never less.
    """
    plan = in_issued_order(plan, issued)
    written = as_written(plan)
    standing = what_stands(built, issued)
    findings = list(_unknown_entries(built, issued, earlier))
    matches = match_steps(issued.steps, plan.steps)
    newcomers = {
        part
        for change in compare_parts(issued, written).changes
        if change.fate is PartFate.NEW
        for part in change.after
    }
    found = touches(issued, written, standing, _overtaken(plan, matches, standing, newcomers))
    pairs = {joint.id: joint.parts for joint in issued.joints}
    findings += [_bonded_in(touch, pairs) for touch in found if touch.bonded]
    reopened = frozenset(index for touch in found if not touch.bonded for index in touch.steps)
    book = _Book(steps=issued.steps, matches=matches, done=standing.steps, reopened=reopened)
    openings = opening_steps(issued, standing, sorted(reopened), {part.id for part in plan.parts})
    if openings:
        findings.append(_opened_again(openings, [touch.why for touch in found if not touch.bonded]))
    return _continued(plan, book, openings, built, issued_numbers([issued, *earlier])), tuple(findings)


def _unknown_entries(built: Sequence[BuiltStep], issued: Plan, earlier: Sequence[Plan]) -> Iterable[Finding]:
    known = issued_numbers([issued, *earlier])
    for entry in built:
        if entry.step not in known:
            yield Finding(
                level=Level.WARN,
                code="built-step-unknown",
                about=(entry.step,),
                message=say("finding.built-step-unknown", step=entry.step, book=entry.book),
                remedy=say("remedy.built-step-unknown"),
            )


def _overtaken(plan: Plan, matches: Mapping[int, int], standing: Standing, newcomers: Set[PartId]) -> dict[int, Said]:
    """Done steps of the issued book that the new plan does only after a part is in that the issued book did not have.

    The pieces of a part that was cut again are no newcomers: they go where it comes out.
    """
    index_of = {step.number: index for index, step in enumerate(plan.steps)}
    new = {index for index, step in enumerate(plan.steps) if index not in matches and newcomers & set(step.moves)}
    names = tuple(sorted(newcomers, key=natural_key))
    late: set[int] = set(new)
    for index, step in enumerate(plan.steps):
        if any(index_of.get(number) in late for number in step.after):
            late.add(index)
    done = {matches[index] for index in late - new if index in matches} & standing.steps
    return {index: say("touched.overtaken", names=names) for index in sorted(done)}


def _bonded_in(touch: Touch, pairs: Mapping[JointId, Sequence[PartId]]) -> Finding:
    joints = tuple(
        say("touched.bonded", joint=joint, first=first, second=second)
        for joint, (first, second) in ((joint, pairs[joint]) for joint in touch.bonded)
    )
    is_own = any(touch.part in pairs[joint] for joint in touch.bonded)
    bonded = say("touched.is_bonded" if len(joints) == 1 else "touched.are_bonded", joints=joints)
    reason = bonded if is_own else say("touched.fitted_after", bonded=bonded)
    return Finding(
        level=Level.STOP,
        code="recut-part-bonded-in",
        about=(touch.part, *touch.bonded),
        message=say("finding.recut-part-bonded-in", why=touch.why, reason=reason),
        remedy=say("remedy.recut-part-bonded-in"),
    )


def _opened_again(openings: Sequence[Step], reasons: Sequence[Text]) -> Finding:
    parts = sorted({part for step in openings for part in step.moves}, key=natural_key)
    return Finding(
        level=Level.WARN,
        code="opened-again",
        about=tuple(parts),
        message=counted("finding.opened-again", len(openings), reasons=also(dict.fromkeys(reasons))),
        remedy=say("remedy.opened-again"),
    )


def _continued(
    plan: Plan, book: _Book, openings: Sequence[Step], built: Sequence[BuiltStep], used: frozenset[str]
) -> Plan:
    """Done steps in their place, then openings, then what is new or done again, then the rest."""
    is_done = [
        book.matches.get(index) in book.done and book.matches[index] not in book.reopened
        if index in book.matches
        else False
        for index in range(len(plan.steps))
    ]
    entries = {entry.step: entry for entry in built}
    wanted: dict[StepNumber, StepNumber] = {}
    fixed: set[StepNumber] = set()
    for index, match in book.matches.items():
        if match not in book.reopened:
            number = book.steps[match].number
            wanted[plan.steps[index].number] = number
            if is_done[index]:
                fixed.add(plan.steps[index].number)
    steps = [
        _marked_done(step, entries[wanted[step.number]], book.steps[book.matches[index]]) if is_done[index] else step
        for index, step in enumerate(plan.steps)
    ]
    names = {str(number): name for name, number in wanted.items()}
    old_openings = carried_over(book.steps, names, {part.id for part in plan.parts})
    steps = [
        _behind(step, book.steps[book.matches[index]] if index in book.matches else None, old_openings)
        for index, step in enumerate(steps)
    ]
    order = _order(steps, is_done, wanted, openings, old_openings)
    for opening in old_openings:
        wanted[opening.step.number] = opening.printed
        if opening.printed in entries:
            fixed.add(opening.step.number)
    by_index = {index: wanted[step.number] for index, step in enumerate(order) if step.number in wanted}
    held = {index for index, step in enumerate(order) if step.number in fixed}
    numbered = renumbered(replace(plan, steps=tuple(order)), by_index, used, held)
    is_as_planned = [step.number for step in order] == [step.number for step in plan.steps]
    return numbered if is_as_planned else in_book_order(numbered)


def _order(
    steps: Sequence[Step],
    is_done: Sequence[bool],
    wanted: Mapping[StepNumber, StepNumber],
    openings: Sequence[Step],
    old_openings: Sequence[CarriedOver],
) -> list[Step]:
    """The order of the continued book; `openings` go right behind the last step that is done."""
    last_done = max((index for index, done in enumerate(is_done) if done), default=-1)
    late: set[StepNumber] = set()
    for index, step in enumerate(steps[: last_done + 1]):
        is_new = step.number not in wanted or any(number in late for number in step.after)
        if is_new and not is_done[index]:
            late.add(step.number)
    front = [step for step in steps[: last_done + 1] if step.number not in late]
    again = [_after_openings(step, openings) for step in steps[: last_done + 1] if step.number in late]
    rest = [_after_openings(step, openings) if step.number not in wanted else step for step in steps[last_done + 1 :]]
    order = [*front, *_chained(openings, front), *again, *rest]
    return _with_old_openings(order, old_openings, wanted)


def _chained(openings: Sequence[Step], front: Sequence[Step]) -> list[Step]:
    """Openings one after the other, the first after the last step that is done."""
    chained: list[Step] = []
    before = front[-1].number if front else None
    for step in openings:
        chained.append(replace(step, after=(before,) if before else ()))
        before = step.number
    return chained


def _after_openings(step: Step, openings: Sequence[Step]) -> Step:
    if not openings:
        return step
    return replace(step, after=(*step.after, openings[-1].number))


def _behind(step: Step, issued: Step | None, old_openings: Sequence[CarriedOver]) -> Step:
    """The step, waiting for the openings for which it waits in the issued book."""
    names = {opening.printed: opening.step.number for opening in old_openings}
    waits = tuple(names[number] for number in issued.after if number in names) if issued else ()
    return replace(step, after=(*step.after, *waits)) if waits else step


def _with_old_openings(
    order: Sequence[Step], old_openings: Sequence[CarriedOver], wanted: Mapping[StepNumber, StepNumber]
) -> list[Step]:
    """Openings that the issued book prints stand where they stood: before the first step with a higher number."""
    merged = list(order)
    for opening in old_openings:
        key = natural_key(opening.printed)
        place = next(
            (
                index
                for index, step in enumerate(merged)
                if step.number in wanted and natural_key(wanted[step.number]) > key
            ),
            len(merged),
        )
        merged.insert(place, opening.step)
    return merged


def _marked_done(step: Step, entry: BuiltStep, issued: Step) -> Step:
    """The step with what was built, told where the new cut would ask for something else."""
    done = Done(at=entry.at, temperature_c=entry.temperature_c, book=entry.book, although=entry.although)
    return replace(step, done=done, notes=(done_note(done), *_closed_with(step, issued), *step.notes))


def _closed_with(step: Step, issued: Step) -> Iterable[Said]:
    """What stands in the figure, where the page lists other hardware for the part as it is cut now."""
    was, now = hardware_counts(issued), hardware_counts(step)
    if now == was:
        return
    pieces = tuple(say("note.pieces", count=count, item=item, joint=joint) for (joint, item), count in was.items())
    yield say("note.built_with", pieces=pieces or say("note.no_hardware"))
