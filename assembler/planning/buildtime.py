"""When is each step done, on which days, by whom and where? The plan laid on the shop's working hours.

Goes in: a plan, settings, what the finish covers. Comes out: the plan in the order of its starts, with a `Calendar`.
`scheduled_plan` asks for the best calendar there is; `with_calendar` tells the one that the steps have.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from assembler.engineering.bonding import cure_clock
from assembler.engineering.finishing import finish_quantities
from assembler.engineering.scheduling import Activity, Cure, Network, NoScheduleError, Solution, Stay, Wait, scheduled
from assembler.engineering.workhours import DAY_MIN, WorkHours, hours_of, work_hours
from assembler.engineering.worktimes import bolts_minutes, hands
from assembler.errors import Fault, InputError
from assembler.figure.calendar import Calendar, CureShares, Errand, FloorPlace, Shortening
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import BenchId, JointId, PartId, StepNumber, natural_key
from assembler.figure.joints import Place
from assembler.figure.plan import Plan, Step, StepKind
from assembler.figure.settings import WEEKDAYS, BaseWhen, Settings

LETTERS = "ABCDEFGHIJKLMNOPQRST"

AGAIN_MIN = float(DAY_MIN)
"""After which time bolts without adhesive are tightened again: plastic and timber have given way (common practice)."""

FULL_EFFORT, SHORT_EFFORT = 8.0, 1.6
"""Deterministic seconds for the calendar of the book, and for each of those that would be shorter."""

FIRST_MONDAY = datetime.date(2001, 1, 1)
"""Stands for day 1 where no date is stated: only the weekday counts then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """What the finish covers: length of visible seams, outer skin."""

    seam_mm: float
    skin_mm2: float


def calendar_frame(settings: Settings, *, days: int) -> Calendar:
    """Hours, people and rates of cure, with nothing on them yet.

    Parameters
    ----------
    settings
        Crew, wishes, adhesive, temperatures.
    days
        Calendar days to look at.
    """
    crew, wishes, glue = settings.crew, settings.wishes, settings.adhesive
    weekdays = sorted(WEEKDAYS.index(name) for name in set(wishes.weekdays))
    first = datetime.date.fromisoformat(wishes.first_day) if wishes.first_day else FIRST_MONDAY
    if not wishes.first_day:
        first += datetime.timedelta(days=weekdays[0])
    off = [datetime.date.fromisoformat(text) for text in wishes.days_off if text]
    hours = work_hours(crew.shifts, days=days, first_day=first, weekdays=weekdays, days_off=off)
    clocks = {place: cure_clock(place, settings) for place in Place}
    return Calendar(
        first_day=wishes.first_day,
        hours=tuple((block.opens, block.closes) for block in hours.blocks),
        people=crew.people,
        team=hands(crew),
        hoists=wishes.hoists,
        spots=wishes.places,
        cure=tuple(
            CureShares(place=place, day_share=clock.day_share, night_share=clock.night_share)
            for place, clock in clocks.items()
        ),
        handling_min=glue.handling_min,
        full_cure_min=glue.full_cure_min,
    )


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
        work = _Work(plan, settings, finish)
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


def _shortenings(work: _Work) -> tuple[Shortening, ...]:
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
    late = set(_late(steps, settings))
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


def whole_min(step: Step) -> int:
    """Minutes of a step on the calendar: whole ones."""
    return math.ceil(step.minutes - 1e-6)


def people_at(step: Step, settings: Settings) -> int:
    """Who is needed at a step: the team at a joint, all who lift; never more than there are."""
    crew = settings.crew
    lifting = step.lift.people if step.lift else 1
    return min(crew.people, max(lifting, hands(crew) if step.joints or step.lift is None or not lifting else 1))


FULL_CURE, AGAIN = "full cure", "tighten again"
"""Errands that are no part of the finish route."""


class _Work:
    """A plan as a network of activities."""

    def __init__(self, plan: Plan, settings: Settings, finish: Finish) -> None:
        self.plan, self.settings, self.finish = plan, settings, finish
        self.late = _late(plan.steps, settings)
        self.route = _route(settings, finish)
        self.known: Mapping[str, int] = {}
        self.days = self._days()
        self.frame = calendar_frame(settings, days=self.days)

    def _days(self) -> int:
        """Calendar days that surely do: what it takes when one step is done after the other, in the order they have."""
        work_days = 1.0 / max(1, len(set(self.settings.wishes.weekdays))) * 7.0
        longest = len(self.plan.steps) + len(self.route) + self.settings.adhesive.full_cure_min / DAY_MIN
        free = len(self.settings.wishes.days_off) + self._latest_arrival()
        frame = calendar_frame(self.settings, days=math.ceil(40.0 * work_days * (longest + 5.0)) + free)
        return math.ceil(self._one_by_one_min(frame) / DAY_MIN) + 1

    def _one_by_one_min(self, frame: Calendar) -> float:
        """When all is done if nobody works beside anybody."""
        hours, made = hours_of(frame.hours), {joint.id: joint.made for joint in self.plan.joints}
        ends: dict[str, float] = {}
        now = cured = 0.0
        for step in self.plan.steps:
            if step.number in self.late:
                continue
            free = [now, self._activity(step, self.settings).not_before]
            for gate in step.gates:
                shares = frame.shares(made[gate.joint])
                args = (frame.handling_min, shares.day_share, shares.night_share)
                free.append(hours.free_at(ends[gate.step], *args))
            minutes = whole_min(step)
            now = hours.start(math.ceil(max(free)), minutes) + minutes
            ends[step.number] = now
            shares = frame.shares(step.place)
            if step.adhesive:
                cured = hours.free_at(now, frame.full_cure_min, shares.day_share, shares.night_share)
        for _, minutes in _again(self.plan.steps, self.settings).values():
            now = hours.start(now + AGAIN_MIN, minutes) + minutes
        now = hours.start(max(now, math.ceil(cured)), 0)
        for _, minutes, wait in self.route:
            now = hours.start(now, minutes) + minutes + wait
        for step in self.plan.steps:
            if step.number in self.late:
                now = hours.start(now, whole_min(step)) + whole_min(step)
        return now

    def _latest_arrival(self) -> int:
        return max((_day_of(date, self.settings) for _, date in self.settings.wishes.not_before), default=0)

    def network(self, changed: Settings | None = None, excused: Iterable[tuple[str, str]] = ()) -> Network:
        """Activities, waits and resources.

        Parameters
        ----------
        changed
            Settings to be tried instead of the shop's own.
        excused
            Gates (step, joint) that bolts alone excuse.
        """
        settings = changed or self.settings
        frame = self.frame if changed is None else calendar_frame(changed, days=self.days)
        late = set(self.late)
        building = [step for step in self.plan.steps if step.number not in late]
        activities = [self._activity(step, settings) for step in self.plan.steps]
        waits = [Wait(first=name, then=step.number) for step in self.plan.steps for name in step.after]
        cures = list(_gated(self.plan, frame, settings, set(excused)))
        again = _again(building, settings)
        for name, (step, minutes) in again.items():
            activities.append(Activity(name=name, minutes=minutes, needs={"people": 1}))
            waits.append(Wait(first=step, then=name, minutes=round(AGAIN_MIN)))
        tail = self._tail(building, list(again), activities, waits, cures, frame)
        waits += [Wait(first=first, then=name, minutes=wait) for name in self.late for first, wait in tail]
        return Network(
            activities=activities,
            waits=waits,
            cures=cures,
            stays=self._stays() if settings.wishes.places else (),
            capacity={
                "people": settings.crew.people,
                "hoist": settings.wishes.hoists,
                **({"place": settings.wishes.places} if settings.wishes.places else {}),
            },
            hours=hours_of(frame.hours),
        )

    def _tail(
        self,
        building: Sequence[Step],
        again: Sequence[str],
        activities: list[Activity],
        waits: list[Wait],
        cures: list[Cure],
        frame: Calendar,
    ) -> list[tuple[str, int]]:
        """The finish as activities; what the handing over waits for, with minutes."""
        first = "finish 0"
        if not self.route:
            # Cured at some moment of the night, it is found so when work begins.
            first = "cured"
            activities.append(Activity(name=first, minutes=0))
        waits += [Wait(first=name, then=first) for name in (*again, *(step.number for step in building))]
        for step in building:
            if step.adhesive:
                shares = frame.shares(step.place)
                cures.append(_cure(step.number, first, frame.full_cure_min, shares))
        team = min(frame.people, frame.team)
        if not self.route:
            return [(first, 0)]
        for at, (_, minutes, _) in enumerate(self.route):
            activities.append(Activity(name=f"finish {at}", minutes=minutes, needs={"people": team}))
            if at:
                waits.append(Wait(first=f"finish {at - 1}", then=f"finish {at}", minutes=self.route[at - 1][2]))
        return [(f"finish {len(self.route) - 1}", self.route[-1][2])]

    def _activity(self, step: Step, settings: Settings) -> Activity:
        there = {*step.moves, *step.onto}
        days = [_day_of(date, settings) for part, date in settings.wishes.not_before if part in there]
        needs = {"people": people_at(step, settings), "hoist": int(step.lift is not None and step.lift.people == 0)}
        return Activity(
            name=step.number, minutes=whole_min(step), needs=needs, not_before=max(days, default=0) * DAY_MIN
        )

    def _stays(self) -> list[Stay]:
        return [
            Stay(name=bench, resource="place", first=first, last=last)
            for bench, (first, last) in _bench_ends(self.plan.steps).items()
        ]

    def solved(
        self,
        changed: Settings | None = None,
        excused: Iterable[tuple[str, str]] = (),
        *,
        is_told: bool = False,
    ) -> Solution:
        """The best calendar of the plan; told unit by unit where that is asked for."""
        late = set(self.late)
        units: dict[str, list[str]] = {}
        for step in self.plan.steps:
            if step.number not in late:
                units.setdefault(step.bench, []).append(step.number)
        first = [step.number for step in self.plan.steps if step.number not in late]
        told = [unit for unit in units.values() if len(unit) > 1]
        limit = FULL_EFFORT if is_told else SHORT_EFFORT
        network = self.network(changed, excused)
        return scheduled(
            network,
            horizon_min=self.days * DAY_MIN,
            first=first,
            units=told if is_told else None,
            limit=limit,
            known=self.known,
        )

    def shortening(
        self, what: str, asks: str, changed: Settings, excused: Iterable[tuple[str, str]] = ()
    ) -> Shortening | None:
        """The best calendar with something changed; None where none was found in its time."""
        try:
            found = self.solved(changed, excused)
        except NoScheduleError:
            return None
        late = set(self.late)
        ends = {step.number: found.start[step.number] + whole_min(step) for step in self.plan.steps}
        built = max(end for name, end in ends.items() if name not in late)
        days = {found.start[name] // DAY_MIN for name in ends if name not in late}
        last = f"finish {len(self.route) - 1}"
        finished = found.start[last] + self.route[-1][1] + self.route[-1][2] if self.route else built
        return Shortening(
            what=what, asks=asks, built=self.frame.says(built), finished=self.frame.says(finished), days=len(days)
        )


def _shares(settings: Settings) -> dict[Place, tuple[float, float]]:
    clocks = {place: cure_clock(place, settings) for place in Place}
    return {place: (clock.day_share, clock.night_share) for place, clock in clocks.items()}


def _day_of(date: str, settings: Settings) -> int:
    """How many days after day 1 a date is; 0 for one before."""
    first = datetime.date.fromisoformat(settings.wishes.first_day)
    return max(0, (datetime.date.fromisoformat(date) - first).days)


def _cure(first: str, then: str, minutes: float, shares: CureShares) -> Cure:
    return Cure(first=first, then=then, minutes=minutes, day_share=shares.day_share, night_share=shares.night_share)


def _gated(plan: Plan, frame: Calendar, settings: Settings, excused: set[tuple[str, str]]) -> Iterable[Cure]:
    """For each gate the cure that it waits for, once for each pair of steps."""
    made = {joint.id: joint.made for joint in plan.joints}
    pairs = {
        (gate.step, step.number): made[gate.joint]
        for step in plan.steps
        for gate in step.gates
        if (step.number, gate.joint) not in excused
    }
    for (first, then), place in pairs.items():
        yield _cure(first, then, settings.adhesive.handling_min, frame.shares(place))


def _again(steps: Sequence[Step], settings: Settings) -> dict[str, tuple[str, int]]:
    """Errands that tighten the bolts of unbonded joints once more: step and minutes by name."""
    found = {}
    for step in steps:
        glued = {row.joint for row in step.adhesive}
        bolts = {stack.bolt for stack in step.stacks if stack.joint not in glued}
        reaches = [row.reach_mm for row in step.access if row.bolt in bolts]
        if bolts and step.kind in (StepKind.JOIN, StepKind.BASE):
            share = settings.crew.round_min / (settings.crew.bolt_min + 2.0 * settings.crew.round_min)
            minutes = settings.crew.fetch_min + share * bolts_minutes(reaches, 1, settings.crew)
            found[f"again {step.number}"] = (str(step.number), math.ceil(minutes))
    return found


def _route(settings: Settings, finish: Finish) -> list[tuple[str, int, int]]:
    """The finish in pieces that fit a shift: name, minutes of work, wait after it."""
    crew = settings.crew
    longest = round(60.0 * max(last_h - first_h for first_h, last_h in crew.shifts))
    team = min(crew.people, hands(crew))
    rows = []
    for operation in finish_quantities(settings.finish, finish.seam_mm, finish.skin_mm2):
        amount = operation.amount * (1000.0 if operation.on == "seams" else 1e6)
        rate = crew.seam_mm_min if operation.on == "seams" else crew.coat_mm2_min
        for coat in range(1, operation.coats + 1):
            minutes = max(1, math.ceil(amount / rate / team))
            pieces = math.ceil(minutes / longest)
            name = f"{operation.name}, coat {coat}" if operation.coats > 1 else operation.name
            for piece in range(1, pieces + 1):
                part = f" ({piece} of {pieces})" if pieces > 1 else ""
                wait = math.ceil(operation.wait_min / operation.coats) if piece == pieces else 0
                rows.append((f"{name}{part}", math.ceil(minutes / pieces), wait))
    return rows


def _late(steps: Sequence[Step], settings: Settings) -> list[StepNumber]:
    """Steps at the end that stand the finished figure at its place: they come after the finish."""
    found: list[StepNumber] = []
    is_after = settings.base.when is BaseWhen.AFTER_FINISH
    for step in reversed(steps):
        if step.kind is not StepKind.BASE or step.moves and not is_after or step.place is Place.SHOP and not is_after:
            break
        found.append(step.number)
    return found[::-1]


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
    for first, minutes in _again(building, settings).values():
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
    for name, minutes, wait in _route(settings, finish):
        start = hours.start(done, minutes)
        found.append(errand(name, (), team, start, start + minutes))
        done = start + minutes + wait
        if wait:
            found.append(errand(f"{name}: dries", (), 0, start + minutes, done))
    return found


def _free_start(
    hours: WorkHours, busy: Sequence[tuple[float, float, int]], earliest: float, minutes: int, spare: int
) -> float:
    """First moment at which one person is free for so long; `spare` others may be at work."""
    start = hours.start(earliest, minutes)
    while True:
        clash = [end for since, end, people in busy if since < start + minutes and end > start and people > spare]
        if not clash:
            return start
        start = hours.start(min(clash), minutes)


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


def _bench_ends(steps: Sequence[Step]) -> dict[str, tuple[StepNumber, StepNumber]]:
    """For each bench the step that begins it and the one that moves on what was built there, or its last."""
    ends: dict[str, tuple[StepNumber, StepNumber]] = {}
    built: dict[str, frozenset[PartId]] = {}
    for step in steps:
        there = frozenset((*step.moves, *step.onto))
        for bench, made in built.items():
            if bench != step.bench and made and made == frozenset(step.moves):
                ends[bench] = (ends[bench][0], step.number)
        ends[step.bench] = (ends.get(step.bench, (step.number,))[0], step.number)
        built[step.bench] = there
    return ends


def _stands(plan: Plan, building: Sequence[Step]) -> tuple[FloorPlace, ...]:
    """Where each bench stands: the lowest place that is free from its first step until it is moved on."""
    parts = {part.id: part for part in plan.parts}
    there: dict[str, set[PartId]] = {}
    for step in building:
        there.setdefault(step.bench, set()).update((*step.moves, *step.onto))
    by_number = {step.number: step for step in building}
    spans = sorted(
        (by_number[first].start_min, by_number[last].end_min, natural_key(bench), bench)
        for bench, (first, last) in _bench_ends(building).items()
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
    if not wishes.deadline or int(end // DAY_MIN) <= _day_of(wishes.deadline, settings):
        return ""
    late = set(_late(steps, settings))
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
