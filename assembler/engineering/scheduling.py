"""When does each activity start so that the whole ends soonest? Activities, waits, people and hours in, starts out.

One model for published networks and for a build: precedence with waits (also negative: at most so much later), waits
for a cure that runs faster by day than by night, resources that several activities share, stays (a place is taken from
one activity to another), working hours. Aims are followed one after the other: each is kept while the next is improved.
OR-tools' CP-SAT solves it, with one worker, a fixed seed and a limit of deterministic time: same input, same answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from assembler.engineering.schedule import CircularOrderError, critical_path
from assembler.engineering.workhours import NoScheduleError, WorkHours

OTHER_AIMS = 20.0
"""One of so many parts of the time for the first aim goes to each other one (counted on figures of 27 and 54 parts)."""

CURE_UNITS = 10_000
"""Parts that a minute of cure at the data sheet's temperature is counted in: sums of whole numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """Work without a pause.

    Parameters
    ----------
    name
        Unique.
    minutes
        Whole minutes; not negative.
    needs
        How much of each resource it takes meanwhile.
    not_before
        Earliest start, minutes.
    is_work
        Whether it lies inside working hours.
    """

    name: str
    minutes: int
    needs: Mapping[str, int] = field(default_factory=dict)
    not_before: int = 0
    is_work: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """How much later one activity starts than another ends, at least.

    Parameters
    ----------
    first, then
        Names.
    minutes
        Negative: it may start so much before that.
    is_from_start
        Whether it counts from the start of the first.
    """

    first: str
    then: str
    minutes: int = 0
    is_from_start: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """An activity that waits until what another has glued is cured so far.

    Parameters
    ----------
    first, then
        Names; it counts from the end of the first.
    minutes
        At the temperature of the data sheet.
    day_share, night_share
        Minutes of the data sheet that pass in a minute inside and outside working hours.
    """

    first: str
    then: str
    minutes: float
    day_share: float
    night_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A resource that is taken from the start of one activity to the end of another.

    Parameters
    ----------
    name
        Unique among stays.
    resource
        Of which one is taken.
    first, last
        Names.
    """

    name: str
    resource: str
    first: str
    last: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Network:
    """What is to be scheduled.

    Parameters
    ----------
    activities
        In the order that decides ties.
    waits, cures, stays
        See the records.
    capacity
        How much of each resource there is; one that is missing is not limited.
    hours
        Working hours; None: round the clock.
    """

    activities: Sequence[Activity]
    waits: Sequence[Wait] = ()
    cures: Sequence[Cure] = ()
    stays: Sequence[Stay] = ()
    capacity: Mapping[str, int] = field(default_factory=dict)
    hours: WorkHours | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Starts, and how good they are.

    Parameters
    ----------
    start
        By activity, whole minutes.
    end_min, least_end_min
        When the last activity ends, and what no schedule can end before.
    """

    start: Mapping[str, int]
    end_min: int
    least_end_min: int

    @property
    def is_proven(self) -> bool:
        """Whether nothing can end sooner."""
        return self.end_min <= self.least_end_min


def scheduled(
    network: Network,
    *,
    horizon_min: int,
    first: Sequence[str] = (),
    units: Sequence[Sequence[str]] | None = None,
    limit: float = 8.0,
    known: Mapping[str, int] | None = None,
) -> Solution:
    """The schedule that ends soonest; of those the one with least idle time; of those the one told unit by unit.

    Parameters
    ----------
    network
        What is to be scheduled.
    horizon_min
        Minutes that are looked at.
    first
        Activities whose own end comes next, such as those of building before the finish.
    units
        Activities that belong together, such as those of a bench: the less time between the first and the last of
        each, the better. None: only ends count.
    limit
        For the first aim, in deterministic seconds; each of the others gets a share (`OTHER_AIMS`).
    known
        Starts of a schedule that is near, to begin with.

    Raises
    ------
    NoScheduleError
        If nothing fits.
    CircularOrderError
        If activities wait for each other in a circle.
    """
    if not network.activities:
        return Solution(start={}, end_min=0, least_end_min=0)
    _refuse_circles(network)
    model = _Model(network, horizon_min, known or {})
    found = model.improved(model.end, limit)
    if found is None:
        raise NoScheduleError("no schedule keeps all waits and working hours")
    end_min, least = found
    model.keep(model.end, end_min)
    for aim in model.other_aims(first, units):
        if not model.follow(aim, limit / OTHER_AIMS):
            break
    return Solution(start=dict(model.best), end_min=end_min, least_end_min=min(least, end_min))


def _refuse_circles(network: Network) -> None:
    """Waits that cannot be kept whatever the hours are."""
    after: dict[str, list[str]] = {activity.name: [] for activity in network.activities}
    for wait in network.waits:
        if wait.minutes >= 0 and not wait.is_from_start:
            after[wait.then].append(wait.first)
    for cure in network.cures:
        after[cure.then].append(cure.first)
    critical_path({activity.name: float(activity.minutes) for activity in network.activities}, after)


class _Model:
    """The network as CP-SAT has it."""

    def __init__(self, network: Network, horizon_min: int, known: Mapping[str, int]) -> None:
        self.network, self.horizon_min = network, horizon_min
        self.model = cp_model.CpModel()
        names = {activity.name for activity in network.activities}
        self.best = {name: start for name, start in known.items() if name in names}
        self.start: dict[str, cp_model.IntVar] = {}
        self.minutes = {activity.name: activity.minutes for activity in network.activities}
        self.blocks: dict[str, list[cp_model.IntVar]] = {}
        self._spans = [block for block in network.hours.blocks if block.opens < horizon_min] if network.hours else []
        for activity in network.activities:
            self._add(activity)
        for wait in network.waits:
            since = self.start[wait.first] + (0 if wait.is_from_start else self.minutes[wait.first])
            self.model.add(self.start[wait.then] >= since + wait.minutes)
        for cure in network.cures:
            self._add_cure(cure)
        self._share()
        self.end = self.model.new_int_var(0, horizon_min, "end")
        for name, minutes in self.minutes.items():
            self.model.add(self.end >= self.start[name] + minutes)

    def _add(self, activity: Activity) -> None:
        name, low, high = activity.name, activity.not_before, self.horizon_min - activity.minutes
        spans = [(low, high)]
        if activity.is_work and self.network.hours is not None:
            spans = [(max(low, block.opens), min(high, block.closes - activity.minutes)) for block in self._spans]
        spans = [(first, last) for first, last in spans if first <= last]
        if not spans:
            raise NoScheduleError(f"{name} takes {activity.minutes} min, which fits into no shift")
        self.start[name] = self.model.new_int_var_from_domain(cp_model.Domain.from_intervals(spans), f"start {name}")

    def _in_block(self, name: str) -> list[cp_model.IntVar]:
        """For each block of working hours whether an activity lies in it."""
        if name not in self.blocks:
            flags = [self.model.new_bool_var(f"{name} in {place}") for place in range(len(self._spans))]
            self.model.add_exactly_one(flags)
            opens = sum(flag * block.opens for flag, block in zip(flags, self._spans, strict=True))
            closes = sum(flag * block.closes for flag, block in zip(flags, self._spans, strict=True))
            self.model.add(self.start[name] >= opens)
            self.model.add(self.start[name] + self.minutes[name] <= closes)
            self.blocks[name] = flags
        return self.blocks[name]

    def _add_cure(self, cure: Cure) -> None:
        """What has cured up to a moment t in a block is night x t + (day - night) x (hours worked up to t)."""
        day, night = (round(rate * CURE_UNITS) for rate in (cure.day_share, cure.night_share))
        asked = round(cure.minutes * CURE_UNITS)
        first, then = self.start[cure.first] + self.minutes[cure.first], self.start[cure.then]
        self.model.add(then >= first + asked // max(day, night))
        if day == night:
            self.model.add(day * (then - first) >= asked)
            return
        before = [(day - night) * (block.worked - block.opens) for block in self._spans]
        done = [
            sum(flag * value for flag, value in zip(self._in_block(name), before, strict=True))
            for name in (cure.first, cure.then)
        ]
        self.model.add(day * then + done[1] - day * first - done[0] >= asked)

    def _share(self) -> None:
        taken: dict[str, list[tuple[cp_model.IntervalVar, int]]] = {name: [] for name in self.network.capacity}
        for activity in self.network.activities:
            interval = self.model.new_fixed_size_interval_var(
                self.start[activity.name], activity.minutes, f"work {activity.name}"
            )
            for name, amount in activity.needs.items():
                if amount and name in taken:
                    taken[name].append((interval, amount))
        for stay in self.network.stays:
            since, until = self.start[stay.first], self.start[stay.last] + self.minutes[stay.last]
            length = self.model.new_int_var(0, self.horizon_min, f"length {stay.name}")
            interval = self.model.new_interval_var(since, length, until, f"stay {stay.name}")
            if stay.resource in taken:
                taken[stay.resource].append((interval, 1))
        for name, uses in taken.items():
            limit = self.network.capacity[name]
            if any(amount > limit for _, amount in uses):
                raise NoScheduleError(f"an activity needs more {name} than the {limit} there are")
            if uses and all(2 * amount > limit for _, amount in uses):
                self.model.add_no_overlap([interval for interval, _ in uses])
            elif uses:
                self.model.add_cumulative([interval for interval, _ in uses], [amount for _, amount in uses], limit)

    def other_aims(self, first: Sequence[str], units: Sequence[Sequence[str]] | None) -> Iterator[cp_model.LinearExprT]:
        """What is followed after the end of all, made one after the other."""
        if first:
            yield self.end_of(first)
        if units is not None:
            yield self.idle(first)
            yield self.spread(units)
            yield self.lateness()

    def end_of(self, names: Sequence[str]) -> cp_model.LinearExprT:
        """When the last of some activities ends."""
        last = self.model.new_int_var(0, self.horizon_min, "end of the first")
        for name in names:
            self.model.add(last >= self.start[name] + self.minutes[name])
        return last

    def idle(self, names: Sequence[str]) -> cp_model.LinearExprT:
        """Time from the opening of each block to its last work: what is not worked of it is idle."""
        spans: list[cp_model.LinearExprT] = []
        worked = {activity.name for activity in self.network.activities if activity.is_work}
        chosen = [name for name in names if name in worked]
        latest = max((self.best[name] + self.minutes[name] for name in chosen), default=0)
        for place, block in enumerate(self._spans):
            if block.opens >= latest:
                break
            until = self.model.new_int_var(block.opens, block.closes, f"block {place} to")
            for name in chosen:
                flag = self._in_block(name)[place]
                self.model.add(until >= self.start[name] + self.minutes[name]).only_enforce_if(flag)
            spans.append(until - block.opens)
        return cp_model.LinearExpr.sum(spans)

    def spread(self, units: Sequence[Sequence[str]]) -> cp_model.LinearExprT:
        """Time between the first and the last start of each unit."""
        spans: list[cp_model.LinearExprT] = []
        for place, unit in enumerate(units):
            since = self.model.new_int_var(0, self.horizon_min, f"unit {place} from")
            until = self.model.new_int_var(0, self.horizon_min, f"unit {place} to")
            for name in unit:
                self.model.add(since <= self.start[name])
                self.model.add(until >= self.start[name])
            spans.append(until - since)
        return cp_model.LinearExpr.sum(spans)

    def lateness(self) -> cp_model.LinearExprT:
        """How late everything starts on the whole."""
        return cp_model.LinearExpr.sum(list(self.start.values()))

    def improved(self, aim: cp_model.LinearExprT, limit: float) -> tuple[int, int] | None:
        """Best value of an aim, and the value that it cannot fall below; None where nothing was found."""
        self.model.minimize(aim)
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        for name, value in self.best.items():
            self.model.add_hint(self.start[name], value)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        # Its own handler would leave Ctrl-C to the system afterwards, and the command would end without a word.
        solver.parameters.catch_sigint_signal = False
        # Probing tries each block of hours for each activity: with two shifts it took longer than all the rest.
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.max_deterministic_time = limit
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        self.best = {name: solver.value(var) for name, var in self.start.items()}
        return round(solver.objective_value), round(solver.best_objective_bound)

    def follow(self, aim: cp_model.LinearExprT, limit: float) -> bool:
        """Improve an aim, and hold it; whether there was time for it. If not, the best schedule so far stands."""
        found = self.improved(aim, limit)
        if found is not None:
            self.keep(aim, found[0])
        return found is not None

    def keep(self, aim: cp_model.LinearExprT, value: int) -> None:
        """Hold an aim at what it has reached."""
        self.model.add(aim <= value)


__all__ = [
    "Activity",
    "CircularOrderError",
    "Cure",
    "Network",
    "NoScheduleError",
    "Solution",
    "Stay",
    "Wait",
    "scheduled",
]
