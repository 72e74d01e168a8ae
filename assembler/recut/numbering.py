"""Printed numbers survive a re-cut: what did not change keeps its number, what is new goes between, as 12a, 12b.

A plan and the last issued plan go in; the same plan with other numbers, with the benches of the issued book (a crew
finds its work where it was), and with a calendar anew where the order changed comes out.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace

from assembler.engineering.workhours import hours_of
from assembler.figure.calendar import Calendar
from assembler.figure.ids import BenchId, StepNumber, natural_key
from assembler.figure.plan import Plan, Step
from assembler.figure.titles import titled
from assembler.recut.likeness import SAME
from assembler.recut.stepmatch import match_steps


def keep_numbers(plan: Plan, issued: Plan, *, earlier: Sequence[Plan] = ()) -> Plan:
    """The plan with the printed numbers of the last issued book wherever the job is the same.

    Parameters
    ----------
    plan
        As planned, with numbers of its own.
    issued
        The plan of the last issued book.
    earlier
        The same of all books issued before that: their numbers are not used again either.

    Returns
    -------
    Plan
        Numbers ascend in the order of the book. Where steps changed places, as many numbers are kept as can be with
        that order; the others are new. Steps at the end count on from the highest number ever issued. Steps of
        different benches that do not wait for each other are put back into the order of the issued book first, and
        benches and sections get the names they had.
    """
    plan = in_issued_order(plan, issued)
    old = issued.steps
    return renumbered(
        plan,
        {index: old[match].number for index, match in match_steps(old, plan.steps).items()},
        issued_numbers([issued, *earlier]),
    )


def issued_numbers(books: Iterable[Plan]) -> frozenset[str]:
    """Every step number that was ever printed in an issued book."""
    return frozenset(step.number for book in books for step in book.steps)


def in_issued_order(plan: Plan, issued: Plan) -> Plan:
    """The plan in the order of the issued book, as far as benches and dependencies let it be, and with its benches.

    Parameters
    ----------
    plan
        As planned.
    issued
        The plan of the last issued book.

    Returns
    -------
    Plan
        In the planned order if the issued one would take longer (a hold that is no longer bridged, say).
    """
    plan = replace(plan, steps=with_issued_benches(plan.steps, issued))
    order = _issued_order(plan.steps, issued)
    if order == list(range(len(plan.steps))):
        return plan
    moved = in_book_order(replace(plan, steps=tuple(plan.steps[index] for index in order)))
    return moved if moved.total_min <= plan.total_min + SAME.minutes else plan


def _issued_order(steps: Sequence[Step], issued: Plan) -> list[int]:
    rank_of = match_steps(issued.steps, steps)
    index_of = {step.number: index for index, step in enumerate(steps)}
    waits: list[set[int]] = [set() for _ in steps]
    last_on: dict[str, int] = {}
    for index, step in enumerate(steps):
        names = (*step.after, *(gate.step for gate in step.gates))
        waits[index].update(index_of[name] for name in names if name in index_of)
        if step.hold:
            for name in step.hold.before:
                if name in index_of:
                    waits[index_of[name]].add(index)
        if step.bench in last_on:
            waits[index].add(last_on[step.bench])
        last_on[step.bench] = index
    # Planned order is legal; anything that points backwards in it is none of this function's business.
    waits = [{other for other in others if other < index} for index, others in enumerate(waits)]
    order: list[int] = []
    placed: set[int] = set()
    last_rank = -1
    while len(order) < len(steps):
        ready = [index for index in range(len(steps)) if index not in placed and waits[index] <= placed]
        # A new step follows at once where it stood; a known one waits for its rank.
        index = min(ready, key=lambda index: (rank_of.get(index, last_rank), index))
        last_rank = max(last_rank, rank_of.get(index, last_rank))
        order.append(index)
        placed.add(index)
    return order


def renumbered(plan: Plan, wanted: Mapping[int, StepNumber], used: Set[str], fixed: Set[int] = frozenset()) -> Plan:
    """The plan with wanted numbers where they ascend, new ones elsewhere, and every reference following.

    References are values (`after`, gates, holds): no text of a plan names a step, and none is read for one.

    Parameters
    ----------
    plan
        Steps in their final order.
    wanted
        Number wanted for a step, by index.
    used
        Numbers never to be given out again.
    fixed
        Indices whose wanted number must be kept, whatever else is lost (steps that are built).
    """
    kept = _most_ascending(wanted, fixed)
    numbers: list[str] = [""] * len(plan.steps)
    for index in kept:
        numbers[index] = wanted[index]
    taken = {*used, *wanted.values()}
    marks = [-1, *kept, len(plan.steps)]
    for start, end in itertools.pairwise(marks):
        count = end - start - 1
        low = numbers[start] if start >= 0 else "0"
        if end < len(plan.steps):
            fresh = _numbers_between(low, numbers[end], count, taken)
        else:
            fresh = _numbers_after(count, taken)
        numbers[start + 1 : end] = fresh
        taken.update(fresh)
    names = {step.number: StepNumber(number) for step, number in zip(plan.steps, numbers, strict=True)}
    return replace(plan, steps=tuple(_with_names(step, names) for step in plan.steps))


def _most_ascending(wanted: Mapping[int, StepNumber], fixed: Set[int]) -> list[int]:
    """The largest set of indices whose wanted numbers ascend; the fixed ones outweigh all others."""
    indices = sorted(wanted)
    best: list[tuple[int, int]] = []
    heavy = len(indices) + 1
    for position, index in enumerate(indices):
        weight, before = 0, -1
        for earlier in range(position):
            is_lower = natural_key(wanted[indices[earlier]]) < natural_key(wanted[index])
            if is_lower and best[earlier][0] > weight:
                weight, before = best[earlier][0], earlier
        best.append((weight + (heavy if index in fixed else 1), before))
    if not best:
        return []
    position = max(range(len(best)), key=lambda position: (best[position][0], -position))
    kept: list[int] = []
    while position >= 0:
        kept.append(indices[position])
        position = best[position][1]
    return kept[::-1]


def _numbers_after(count: int, taken: Set[str]) -> list[str]:
    """Whole numbers above all that were ever given out."""
    found = [int(match.group()) for name in taken if (match := re.match(r"\d+", name))]
    highest = max(found, default=0)
    return [str(highest + step) for step in range(1, count + 1)]


def _numbers_between(low: str, high: str, count: int, taken: Set[str]) -> list[str]:
    """Numbers that sort between two others, none of them taken: 12a, 12b; 12aa between 12a and 12b.

    They are built on the last number that was ever used there: what comes in the place of a dropped 12 is 12a too.
    """
    last = max([low, *(name for name in taken if natural_key(name) < natural_key(high))], key=natural_key)
    bases = (re.match(r"\d*", last).group(), last, low)  # type: ignore[union-attr]  # matches any text
    numbers: list[str] = []
    for separator in itertools.chain(("", "."), ("." + "0." * depth for depth in itertools.count(1))):
        if len(numbers) >= count:
            break
        for base in bases:
            tails = _letters() if not separator else map(str, itertools.count(1))
            names = (f"{base}{separator}{tail}" for tail in itertools.islice(tails, len(taken) + count + 1))
            room = [name for name in names if name not in taken and _is_between(low, name, high)]
            if len(room) >= count > len(numbers):
                numbers = room[:count]
    return numbers


def _is_between(low: str, name: str, high: str) -> bool:
    return natural_key(low) < natural_key(name) < natural_key(high)


def _letters() -> Iterator[str]:
    """Letters a to y, then za, zb, ...: each sorts after the one before."""
    for zeds in itertools.count():
        for letter in "abcdefghijklmnopqrstuvwxy":
            yield "z" * zeds + letter


_Names = Mapping[StepNumber, StepNumber]


def _with_names(step: Step, names: _Names) -> Step:
    def follow(numbers: Iterable[StepNumber]) -> tuple[StepNumber, ...]:
        return tuple(sorted({names.get(number, number) for number in numbers}, key=natural_key))

    number = names[step.number]
    return replace(
        step,
        number=number,
        after=follow(step.after),
        hold=replace(step.hold, before=follow(step.hold.before)) if step.hold else None,
        gates=tuple(replace(gate, step=names.get(gate.step, gate.step)) for gate in step.gates),
        image=_image(step, number),
    )


def _image(step: Step, number: StepNumber) -> str:
    return f"step-{number}.png" if step.image == f"step-{step.number}.png" else step.image


def with_issued_benches(steps: Sequence[Step], issued: Plan) -> tuple[Step, ...]:
    """The steps with the bench names of the issued book.

    Parameters
    ----------
    steps
        As planned.
    issued
        The plan of the last issued book.

    Returns
    -------
    tuple of Step
        A bench takes the name of the issued bench with which it shares most jobs, the largest share first; a bench
        that is new gets the next free name. Two benches never get one name.
    """
    old = issued.steps
    shared = Counter((steps[index].bench, old[match].bench) for index, match in match_steps(old, steps).items())
    names: dict[str, str] = {}
    by_share = sorted(shared.items(), key=lambda item: (-item[1], natural_key(item[0][0]), natural_key(item[0][1])))
    for (bench, was), _ in by_share:
        if bench not in names and was not in names.values():
            names[bench] = was
    taken = {*names.values(), *(step.bench for step in old)}
    for bench in sorted({step.bench for step in steps} - names.keys(), key=natural_key):
        names[bench] = bench if bench not in taken else _next_name(taken)
        taken.add(names[bench])
    if all(bench == name for bench, name in names.items()):
        return tuple(steps)
    return tuple(_renamed(step, names) for step in steps)


def _next_name(taken: Iterable[str]) -> str:
    numbers = [int(match.group(1)) for name in taken if (match := re.fullmatch(r"B(\d+)", name))]
    return f"B{max(numbers, default=0) + 1}"


def _renamed(step: Step, names: Mapping[str, str]) -> Step:
    heading = step.heading
    if heading is not None and heading.bench is not None:
        heading = replace(heading, bench=BenchId(names.get(heading.bench, heading.bench)))
    return titled(replace(step, bench=BenchId(names[step.bench]), heading=heading))


def in_book_order(plan: Plan) -> Plan:
    """The plan with every step as early as the step before it, its dependencies and its gates allow.

    Parameters
    ----------
    plan
        Steps in the order of the book.

    Returns
    -------
    Plan
        `start_min`, `end_min`, `is_critical` and `total_min` anew, on the working hours of its calendar where it has
        one. Critical are the steps of one chain without slack that ends last.
    """
    hours = hours_of(plan.calendar.hours) if plan.calendar else None
    ends: dict[StepNumber, float] = {}
    held: dict[StepNumber, StepNumber | None] = {}
    steps: list[Step] = []
    by_number = {step.number: step for step in plan.steps}
    for step in plan.steps:
        start, cause = _earliest(step, steps, ends, by_number, plan.calendar)
        minutes = step.minutes
        if hours is not None:
            minutes = float(math.ceil(minutes - 1e-6))
            start = hours.start(math.ceil(start - 1e-6), minutes)
        ends[step.number] = start + minutes
        held[step.number] = cause
        steps.append(replace(step, start_min=start, end_min=ends[step.number]))
    finish = {step.number: step.end_min + (step.hold.minutes if step.hold else 0.0) for step in steps}
    total = max(finish.values(), default=0.0)
    critical = _chain(next((number for number, end in finish.items() if end == total), None), held)
    return replace(
        plan, steps=tuple(replace(step, is_critical=step.number in critical) for step in steps), total_min=total
    )


def _earliest(
    step: Step,
    done: Sequence[Step],
    ends: Mapping[StepNumber, float],
    by_number: Mapping[StepNumber, Step],
    calendar: Calendar | None,
) -> tuple[float, StepNumber | None]:
    """Start of a step and the step that holds it up; None for the first."""
    limits = [(done[-1].end_min, done[-1].number)] if done else []
    limits += [(ends[number], number) for number in step.after if number in ends]
    limits += [
        (_free_min(by_number[gate.step], gate.joint, ends[gate.step], calendar), gate.step)
        for gate in step.gates
        if gate.step in ends
    ]
    return max(limits, default=(0.0, None))


def _free_min(step: Step, joint: str, closed_min: float, calendar: Calendar | None) -> float:
    """When a joint that a step closed may be loaded."""
    if calendar is None:
        return closed_min + _cure_min(step, joint)
    shares = calendar.shares(step.place)
    hours = hours_of(calendar.hours)
    return hours.free_at(closed_min, calendar.handling_min, shares.day_share, shares.night_share)


def _cure_min(step: Step, joint: str) -> float:
    cures = [dose.handling_min for dose in step.adhesive if dose.joint == joint]
    return max(cures, default=step.hold.minutes if step.hold else 0.0)


def _chain(last: StepNumber | None, held: Mapping[StepNumber, StepNumber | None]) -> set[StepNumber]:
    chain: set[StepNumber] = set()
    while last is not None:
        chain.add(last)
        last = held[last]
    return chain
