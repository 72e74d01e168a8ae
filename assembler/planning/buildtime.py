"""When is each step done, on which days, by whom and where? The plan laid on the shop's working hours.

Goes in: a plan, settings, what the finish covers. Comes out: the plan in the order of its starts, with a `Calendar`.
`scheduled_plan` asks for the best calendar there is; `with_calendar` tells the one that the steps have.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from assembler.engineering.scheduling import NoScheduleError
from assembler.engineering.workhours import DAY_MIN, WorkHours, hours_of
from assembler.engineering.worktimes import hands
from assembler.errors import Fault, InputError
from assembler.figure.calendar import Calendar, Errand, Finish, FloorPlace, Shortening
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import BenchId, JointId, PartId, StepNumber, natural_key
from assembler.figure.plan import Plan, Step
from assembler.figure.settings import Settings
from assembler.planning.worknetwork import (
    AGAIN_MIN,
    Work,
    again_errands,
    bench_ends,
    day_of,
    finish_route,
    late_steps,
    people_at,
    whole_min,
)

LETTERS = "ABCDEFGHIJKLMNOPQRST"


def scheduled_plan(plan: Plan, settings: Settings, finish: Finish) -> Plan:
    """The plan with the calendar that ends soonest, its steps in the order of their starts and numbered so.

    Parameters
    ----------
    plan
        Steps with minutes, `after` and gates; their order decides ties.
    settings
        Crew, wishes, adhesive, temperatures, finish route.
    finish
        What the finish covers.

    Raises
    ------
    InputError
        If a step fits into no shift, or there are too few places.
    """
    if not plan.steps:
        return plan
    try:
        work = Work(plan, settings, finish)
        found = work.solved(is_told=True)
        work.known = found.start
    except NoScheduleError as error:
        right = "longer shifts under [crew], or more places under [calendar]"
        raise InputError(Fault(file="figure.toml", place="calendar", wrong=str(error), right=right)) from error
    starts = {step.number: found.start[step.number] for step in plan.steps}
    place = {step.number: number for number, step in enumerate(plan.steps)}
    order = sorted(plan.steps, key=lambda step: (starts[step.number], place[step.number]))
    number = {step.number: StepNumber(str(at)) for at, step in enumerate(order, 1)}
    steps = tuple(
        _renumbered(step, number, float(starts[step.number]), starts[step.number] + whole_min(step)) for step in order
    )
    frame = replace(
        work.frame,
        end_min=float(found.end_min),
        least_end_min=float(found.least_end_min),
        shortenings=_shortenings(work),
    )
    return with_calendar(replace(plan, steps=steps, calendar=frame), settings, finish)


def _shortenings(work: Work) -> tuple[Shortening, ...]:
    """What a foreman would ask first, each scheduled again."""
    settings = work.settings
    crew, glue, climate = settings.crew, settings.adhesive, settings.climate
    if not any(step.adhesive for step in work.plan.steps):
        return ()
    rows: list[Shortening | None] = []
    warm_c = min(settings.wishes.warm_c, glue.highest_c)
    if warm_c > climate.shop_c:
        warm = replace(climate, shop_c=warm_c, night_min_c=warm_c, site_c=warm_c, night_site_c=warm_c)
        rows.append(
            work.shortening(
                f"joints warmed to {warm_c:g} C day and night",
                "heat at each joint until its hold ends, a thermometer on the part; closed before it is warmed",
                replace(settings, climate=warm),
            )
        )
    excused = [(step.number, gate.joint) for step in work.plan.steps for gate in step.gates if gate.bolts_carry]
    if excused and not settings.work_on_bolts:
        joints = sorted({joint for _, joint in excused}, key=natural_key)
        asks = f"work_on_bolts = true; the bolts of {', '.join(joints)} to their torque first"
        rows.append(work.shortening("on the bolts alone where they carry it", asks, settings, excused))
    rows.append(
        work.shortening(
            "one more person",
            f"{crew.people + 1} people every day, {hands(crew)} at a joint",
            replace(settings, crew=replace(crew, people=min(20, crew.people + 1))),
        )
    )
    fast_min = glue.handling_min / 2.0
    fast = replace(glue, fixture_min=min(glue.fixture_min, fast_min), handling_min=fast_min)
    rows.append(
        work.shortening(
            f"an adhesive with handling strength after {fast_min:g} min at {glue.sheet_c:g} C",
            f"{fast_min:g} instead of {glue.handling_min:g} min by its data sheet, its open time enough for each joint",
            replace(settings, adhesive=fast),
        )
    )
    opens_h, closes_h = crew.hours_h
    if closes_h < 24.0:
        end_h = min(24.0, closes_h + (closes_h - opens_h))
        shifts = (*crew.shifts, (closes_h, end_h))
        rows.append(
            work.shortening(
                f"one more shift, {_clock(closes_h)} to {_clock(end_h)}",
                f"{crew.people} more people, the shop as warm as by day",
                replace(settings, crew=replace(crew, shifts_h=shifts)),
            )
        )
    return tuple(row for row in rows if row is not None)


def _clock(hour: float) -> str:
    minute = round(hour * 60)
    return f"{minute // 60:02d}:{minute % 60:02d}"


def with_calendar(plan: Plan, settings: Settings, finish: Finish) -> Plan:
    """The plan with everything told that follows from the times of its steps: who, where, errands, ends.

    Parameters
    ----------
    plan
        With a calendar; its steps have times on it.
    settings, finish
        As `scheduled_plan`.
    """
    frame = plan.calendar
    if frame is None or not plan.steps:
        return plan
    hours = hours_of(frame.hours)
    steps = _with_workers([_told(step, frame, hours, settings) for step in plan.steps], settings)
    late = set(late_steps(steps, settings))
    building = [step for step in steps if step.number not in late]
    errands = _errands(steps, building, frame, settings, finish)
    cured = max((errand.end_min for errand in errands if errand.what == FULL_CURE), default=0.0)
    coated = max((errand.end_min for errand in errands), default=0.0)
    built = max(
        [step.end_min for step in building] + [errand.end_min for errand in errands if errand.what == AGAIN],
        default=0.0,
    )
    steps = _moved_late(steps, late, max(coated, built), hours, frame, settings)
    ends = [step.end_min for step in steps]
    end = max([*ends, coated, built])
    first = min(step.start_min for step in steps)
    least = min(frame.least_end_min or end, end)
    calendar = replace(
        frame,
        start=frame.says(first),
        built=frame.says(built),
        full_cure=frame.says(cured) if cured else "",
        finished=frame.says(coated) if settings.finish else "",
        end=frame.says(end),
        end_min=end,
        least_end_min=least,
        days=_worked_days(building),
        is_proven=end <= least + 0.5,
        errands=tuple(errands),
        floor=_stands(plan, building),
        in_the_way=_in_the_way(steps, frame, settings, end),
    )
    total = max([step.free_min for step in steps] + ends) - first
    critical = _critical(building, late, steps)
    steps = [replace(step, is_critical=step.number in critical) for step in steps]
    return replace(plan, steps=tuple(steps), calendar=calendar, total_min=total)


FULL_CURE, AGAIN = "full cure", "tighten again"
"""Errands that are no part of the finish route."""


def _renumbered(step: Step, number: Mapping[StepNumber, StepNumber], start: float, end: float) -> Step:
    hold = step.hold
    if hold is not None:
        hold = replace(hold, before=tuple(sorted((number[name] for name in hold.before), key=natural_key)))
    return replace(
        step,
        number=number[step.number],
        after=tuple(sorted((number[name] for name in step.after), key=natural_key)),
        gates=tuple(replace(gate, step=number[gate.step]) for gate in step.gates),
        hold=hold,
        start_min=start,
        end_min=end,
    )


def _told(step: Step, frame: Calendar, hours: WorkHours, settings: Settings) -> Step:
    """A step with its local times and when its joints are free."""
    free = step.end_min
    if step.hold is not None:
        shares = frame.shares(step.place)
        free = hours.free_at(step.end_min, frame.handling_min, shares.day_share, shares.night_share)
        free = float(math.ceil(free - 1e-6))
    return replace(
        step,
        free_min=free if step.hold is not None else 0.0,
        starts=frame.says(step.start_min),
        ends=frame.says(step.end_min),
        frees=frame.says(free) if step.hold is not None else "",
    )


def _with_workers(steps: Sequence[Step], settings: Settings) -> list[Step]:
    """Who works on each step: the first letters that are free then."""
    busy: dict[str, float] = dict.fromkeys(LETTERS[: settings.crew.people], -1.0)
    found: dict[StepNumber, Step] = {}
    for step in sorted(steps, key=lambda step: (step.start_min, natural_key(step.number))):
        free = [name for name, until in busy.items() if until <= step.start_min + 0.5]
        workers = tuple(free[: people_at(step, settings)])
        busy |= dict.fromkeys(workers, step.end_min)
        found[step.number] = replace(step, workers=workers)
    return [found[step.number] for step in steps]


def _errands(
    steps: Sequence[Step], building: Sequence[Step], frame: Calendar, settings: Settings, finish: Finish
) -> list[Errand]:
    """What is done besides the steps, each as early as people and hours let it."""
    hours = hours_of(frame.hours)
    busy = [(step.start_min, step.end_min, people_at(step, settings)) for step in building]

    def errand(what: str, about: tuple[JointId, ...], people: int, start: float, end: float) -> Errand:
        return Errand(
            what=what,
            about=about,
            people=people,
            start_min=start,
            end_min=end,
            starts=frame.says(start),
            ends=frame.says(end),
        )

    found = []
    by_number = {step.number: step for step in steps}
    for first, minutes in again_errands(building, settings).values():
        step = by_number[StepNumber(first)]
        start = _free_start(hours, busy, step.end_min + AGAIN_MIN, minutes, frame.people - 1)
        busy.append((start, start + minutes, 1))
        glued = {row.joint for row in step.adhesive}
        about = tuple(name for name in step.joints if name not in glued)
        found.append(errand(AGAIN, about, 1, start, start + minutes))
    done = max([end for _, end, _ in busy], default=0.0)
    cures = {}
    for step in building:
        if step.adhesive:
            shares = frame.shares(step.place)
            cured = hours.free_at(step.end_min, frame.full_cure_min, shares.day_share, shares.night_share)
            cures[step.number] = float(math.ceil(cured - 1e-6))
    if cures:
        last = max(cures.values())
        about = tuple(row.joint for step in building for row in step.adhesive if cures.get(step.number) == last)
        closed = max(by_number[name].end_min for name, cured in cures.items() if cured == last)
        found.append(errand(FULL_CURE, about, 0, closed, last))
        done = max(done, last)
    team = min(frame.people, frame.team)
    for name, minutes, wait in finish_route(settings, finish):
        start = hours.start(done, minutes)
        found.append(errand(name, (), team, start, start + minutes))
        done = start + minutes + wait
        if wait:
            found.append(errand(f"{name}: dries", (), 0, start + minutes, done))
    return found


def _free_start(
    hours: WorkHours, busy: Sequence[tuple[float, float, int]], earliest: float, minutes: int, spare: int
) -> float:
    """First moment at which one person is free for so long; `spare` others, all together, may be at work."""
    start = hours.start(earliest, minutes)
    while True:
        beside = [row for row in busy if row[0] < start + minutes and row[1] > start]
        crowds = [sum(people for since, end, people in beside if since <= now < end) for now, _, _ in beside]
        crowds.append(sum(people for since, _, people in beside if since <= start))
        if max(crowds) <= spare:
            return start
        start = hours.start(min(end for _, end, _ in beside), minutes)


def _moved_late(
    steps: Sequence[Step], late: set[StepNumber], ready: float, hours: WorkHours, frame: Calendar, settings: Settings
) -> list[Step]:
    """Steps with those that come after the finish put there."""
    found, now = [], ready
    for step in steps:
        if step.number in late:
            start = hours.start(now, whole_min(step))
            now = start + whole_min(step)
            step = _told(replace(step, start_min=start, end_min=now), frame, hours, settings)
        found.append(step)
    return found


def _worked_days(steps: Sequence[Step]) -> int:
    return len({int(step.start_min // DAY_MIN) for step in steps})


def _stands(plan: Plan, building: Sequence[Step]) -> tuple[FloorPlace, ...]:
    """Where each bench stands: the lowest place that is free from its first step until it is moved on."""
    parts = {part.id: part for part in plan.parts}
    there: dict[str, set[PartId]] = {}
    for step in building:
        there.setdefault(step.bench, set()).update((*step.moves, *step.onto))
    by_number = {step.number: step for step in building}
    spans = sorted(
        (by_number[first].start_min, by_number[last].end_min, natural_key(bench), bench)
        for bench, (first, last) in bench_ends(building).items()
    )
    until: list[float] = []
    found = []
    for start, end, _, bench in spans:
        spot = next((at for at, free in enumerate(until) if free <= start), len(until))
        until[spot : spot + 1] = [end]
        boxes = [parts[name] for name in sorted(there[bench], key=natural_key) if name in parts]
        x, y, z = (
            max((box.high_mm[axis] for box in boxes), default=0.0)
            - min((box.low_mm[axis] for box in boxes), default=0.0)
            for axis in range(3)
        )
        found.append(FloorPlace(spot=spot + 1, bench=BenchId(bench), size_mm=(x, y, z), start_min=start, end_min=end))
    return tuple(found)


def _critical(building: Sequence[Step], late: set[StepNumber], steps: Sequence[Step]) -> set[StepNumber]:
    """The chain that ends last: each step back to what it waited for longest, hold or work."""
    by_number = {step.number: step for step in steps}
    if not building:
        return set(late)
    current: Step | None = max(building, key=lambda step: (step.end_min, natural_key(step.number)))
    chain = set(late)
    while current is not None and current.number not in chain:
        chain.add(current.number)
        gated = {gate.step for gate in current.gates}
        before = [by_number[name] for name in {*current.after, *gated} if name in by_number]
        current = max(
            before,
            key=lambda step: (step.free_min if step.number in gated else step.end_min, natural_key(step.number)),
            default=None,
        )
    return chain


def _in_the_way(steps: Sequence[Step], frame: Calendar, settings: Settings, end: float) -> str:
    """What a deadline that is not met waits for; empty where it is met."""
    wishes = settings.wishes
    if not wishes.deadline or int(end // DAY_MIN) <= day_of(wishes.deadline, settings):
        return ""
    late = set(late_steps(steps, settings))
    building = [step for step in steps if step.number not in late]
    chain = sorted(_critical(building, set(), steps), key=natural_key)
    holds = sum(step.hold is not None for step in building if step.number in chain)
    return (
        f"it ends {frame.says(end)}, the deadline is {wishes.deadline}; the end is set by steps {', '.join(chain)} "
        f"with {holds} holds between them, then full cure and the finish"
    )


def calendar_findings(plan: Plan) -> list[Finding]:
    """What is wrong with the calendar as a whole: a deadline that cannot be met."""
    calendar = plan.calendar
    if calendar is None or not calendar.in_the_way:
        return []
    remedies = [f"{row.what}: {row.finished or row.built}" for row in calendar.shortenings]
    return [
        Finding(
            level=Level.STOP,
            code="deadline-not-met",
            about=(),
            message=calendar.in_the_way,
            remedy="; ".join(remedies) or "start earlier, or state a later deadline",
        )
    ]
