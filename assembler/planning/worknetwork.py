"""A plan as activities, waits, cures and resources: what the scheduler is asked, and how its answers read.

Goes in: a plan, settings, what the finish covers. Comes out: a `Network`, and the best calendar that was found for it.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping, Sequence

from assembler.engineering.bonding import cure_clock
from assembler.engineering.finishing import finish_quantities
from assembler.engineering.scheduling import Activity, Cure, Network, NoScheduleError, Solution, Stay, Wait, scheduled
from assembler.engineering.workhours import DAY_MIN, hours_of, work_hours
from assembler.engineering.worktimes import bolts_minutes, hands
from assembler.figure.calendar import Calendar, CureShares, Finish, Shortening
from assembler.figure.ids import BoltId, PartId, StepNumber
from assembler.figure.joints import Place
from assembler.figure.plan import Plan, Step, StepKind
from assembler.figure.settings import WEEKDAYS, BaseWhen, Settings
from assembler.words import Text, say

AGAIN_MIN = float(DAY_MIN)
"""After which time bolts without adhesive are tightened again: plastic and timber have given way (common practice)."""

MOST_DAYS = 3653
"""Ten years: what takes longer is a slip in a number, and would be looked through day by day."""

FULL_EFFORT, SHORT_EFFORT = 8.0, 1.6
"""Deterministic seconds for the calendar of the book, and for each of those that would be shorter."""

SPARE_DAYS = 3
"""Days beyond the known end that are looked at for a shorter one: where nights are warm, more hours cure later."""

FIRST_MONDAY = datetime.date(2001, 1, 1)
"""Stands for day 1 where no date is stated: only the weekday counts then."""


def calendar_frame(settings: Settings, *, days: int) -> Calendar:
    """Hours, people and rates of cure, with nothing on them yet.

    Parameters
    ----------
    settings
        Crew, wishes, adhesive, temperatures.
    days
        Calendar days to look at; no more than MOST_DAYS are.
    """
    crew, wishes, glue = settings.crew, settings.wishes, settings.adhesive
    weekdays = sorted(WEEKDAYS.index(name) for name in set(wishes.weekdays))
    first = datetime.date.fromisoformat(wishes.first_day) if wishes.first_day else FIRST_MONDAY
    if not wishes.first_day:
        first += datetime.timedelta(days=weekdays[0])
    off = [datetime.date.fromisoformat(text) for text in wishes.days_off if text]
    hours = work_hours(crew.shifts, days=min(days, MOST_DAYS), first_day=first, weekdays=weekdays, days_off=off)
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


def whole_min(step: Step) -> int:
    """Minutes of a step on the calendar: whole ones."""
    return math.ceil(step.minutes - 1e-6)


def people_at(step: Step, settings: Settings) -> int:
    """Who is needed at a step: the team at a joint, all who lift; never more than there are."""
    crew = settings.crew
    lifting = step.lift.people if step.lift else 1
    return min(crew.people, max(lifting, hands(crew) if step.joints or step.lift is None or not lifting else 1))


class Work:
    """A plan as a network of activities."""

    def __init__(self, plan: Plan, settings: Settings, finish: Finish) -> None:
        self.plan, self.settings, self.finish = plan, settings, finish
        self.late = late_steps(plan.steps, settings)
        self.route = finish_route(settings, finish)
        self.known: Mapping[str, int] = {}
        self.days = self._days()
        self.frame = calendar_frame(settings, days=self.days)

    def _days(self) -> int:
        """Calendar days that surely do: what it takes when one step is done after the other, in the order they have."""
        work_days = 1.0 / max(1, len(set(self.settings.wishes.weekdays))) * 7.0
        longest = len(self.plan.steps) + len(self.route) + self.settings.adhesive.full_cure_min / DAY_MIN
        free = len(self.settings.wishes.days_off) + self._latest_arrival()
        frame = calendar_frame(self.settings, days=math.ceil(40.0 * work_days * (longest + 5.0)) + free)
        days = math.ceil(self._one_by_one_min(frame) / DAY_MIN) + 1
        if days > MOST_DAYS:
            raise NoScheduleError(f"one step after the other, the work takes {days} days")
        return days

    def _one_by_one_min(self, frame: Calendar) -> float:
        """When all is done if nobody works beside anybody."""
        hours, made = hours_of(frame.hours), {joint.id: joint.made for joint in self.plan.joints}
        again = again_errands(self.plan.steps, self.settings)
        shut = {name: shutting(self.plan.steps, StepNumber(step)) for name, (step, _) in again.items()}
        ends: dict[str, float] = {}
        now = cured = 0.0
        for step in self.plan.steps:
            if step.number in self.late:
                continue
            # Bolts that this step shuts are tightened again before it, and what is glued in it cures later.
            for minutes in (again[name][1] for name, later in shut.items() if step.number in later):
                now = hours.start(math.ceil(now + AGAIN_MIN), minutes) + minutes
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
        for _, minutes in again.values():
            now = hours.start(now + AGAIN_MIN, minutes) + minutes
        now = hours.start(max(now, math.ceil(cured)), 0)
        for _, minutes, wait in self.route:
            now = hours.start(now, minutes) + minutes + wait
        for step in self.plan.steps:
            if step.number in self.late:
                now = hours.start(now, whole_min(step)) + whole_min(step)
        return now

    def _latest_arrival(self) -> int:
        return max((day_of(date, self.settings) for _, date in self.settings.wishes.not_before), default=0)

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
        again = again_errands(building, settings)
        for name, (step, minutes) in again.items():
            activities.append(Activity(name=name, minutes=minutes, needs={"people": 1}))
            waits.append(Wait(first=step, then=name, minutes=round(AGAIN_MIN)))
            waits += [Wait(first=name, then=later) for later in shutting(building, StepNumber(step))]
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
        last, dry = f"finish {len(self.route) - 1}", self.route[-1][2]
        # What dries last counts to the end, also where nothing is done afterwards: the end that is told is the proven.
        activities.append(Activity(name="dry", minutes=0, is_work=False))
        waits.append(Wait(first=last, then="dry", minutes=dry))
        return [(last, dry)]

    def _activity(self, step: Step, settings: Settings) -> Activity:
        there = {*step.moves, *step.onto}
        days = [day_of(date, settings) for part, date in settings.wishes.not_before if part in there]
        needs = {"people": people_at(step, settings), "hoist": int(step.lift is not None and step.lift.people == 0)}
        return Activity(
            name=step.number, minutes=whole_min(step), needs=needs, not_before=max(days, default=0) * DAY_MIN
        )

    def _stays(self) -> list[Stay]:
        return [
            Stay(name=bench, resource="place", first=first, last=last)
            for bench, (first, last) in bench_ends(self.plan.steps).items()
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
        until = self.days * DAY_MIN
        if self.known:
            # What is tried for a shorter calendar need not look far beyond the end of the one that is known.
            until = min(until, max(self.known.values()) + SPARE_DAYS * DAY_MIN)
        return scheduled(
            network,
            horizon_min=until,
            first=first,
            units=told if is_told else None,
            limit=limit,
            known=self.known,
        )

    def shortening(
        self, what: Text, asks: Text, changed: Settings, excused: Iterable[tuple[str, str]] = ()
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


def day_of(date: str, settings: Settings) -> int:
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


def again_errands(steps: Sequence[Step], settings: Settings) -> dict[str, tuple[str, int]]:
    """Errands that tighten the bolts of unbonded joints once more: step and minutes by name."""
    found = {}
    for step in steps:
        bolts = unbonded_bolts(step)
        reaches = [row.reach_mm for row in step.access if row.bolt in bolts]
        if bolts and step.kind in (StepKind.JOIN, StepKind.BASE):
            share = settings.crew.round_min / (settings.crew.bolt_min + 2.0 * settings.crew.round_min)
            minutes = settings.crew.fetch_min + share * bolts_minutes(reaches, 1, settings.crew)
            found[f"again {step.number}"] = (str(step.number), math.ceil(minutes))
    return found


def unbonded_bolts(step: Step) -> set[BoltId]:
    """Bolts of joints without adhesive that a step tightens."""
    glued = {row.joint for row in step.adhesive}
    return {stack.bolt for stack in step.stacks if stack.joint not in glued}


def shutting(steps: Sequence[Step], number: StepNumber) -> tuple[StepNumber, ...]:
    """Steps that shut bolts without adhesive that a step tightens: they wait until those are tightened again."""
    bolts = {bolt for step in steps if step.number == number for bolt in unbonded_bolts(step)}
    return tuple(step.number for step in steps if bolts & set(step.shuts))


def finish_route(settings: Settings, finish: Finish) -> list[tuple[Text, int, int]]:
    """The finish in pieces that fit a shift: name, minutes of work, wait after it.

    Raises
    ------
    NoScheduleError
        If it takes more than MOST_DAYS.
    """
    crew = settings.crew
    longest = round(60.0 * max(last_h - first_h for first_h, last_h in crew.shifts))
    team = min(crew.people, hands(crew))
    rows: list[tuple[Text, int, int]] = []
    for operation in finish_quantities(settings.finish, finish.seam_mm, finish.skin_mm2):
        amount = operation.amount * (1000.0 if operation.on == "seams" else 1e6)
        rate = crew.seam_mm_min if operation.on == "seams" else crew.coat_mm2_min
        for coat in range(1, operation.coats + 1):
            minutes = max(1, math.ceil(amount / rate / team))
            pieces = math.ceil(minutes / longest)
            if len(rows) + pieces > MOST_DAYS * len(crew.shifts):
                raise NoScheduleError(f"{operation.name} takes {minutes:g} min")
            name: Text = operation.name
            if operation.coats > 1:
                name = say("errand.coat", name=name, coat=coat)
            for piece in range(1, pieces + 1):
                part = say("errand.piece", what=name, piece=piece, pieces=pieces) if pieces > 1 else name
                wait = math.ceil(operation.wait_min / operation.coats) if piece == pieces else 0
                rows.append((part, math.ceil(minutes / pieces), wait))
    return rows


def late_steps(steps: Sequence[Step], settings: Settings) -> list[StepNumber]:
    """Steps at the end that stand the finished figure at its place: they come after the finish."""
    found: list[StepNumber] = []
    is_after = settings.base.when is BaseWhen.AFTER_FINISH
    for step in reversed(steps):
        if step.kind is not StepKind.BASE or step.moves and not is_after or step.place is Place.SHOP and not is_after:
            break
        found.append(step.number)
    return found[::-1]


def bench_ends(steps: Sequence[Step]) -> dict[str, tuple[StepNumber, StepNumber]]:
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
