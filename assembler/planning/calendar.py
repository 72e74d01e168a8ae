"""When does each step start? Benches side by side, one crew, holds kept: steps in, minutes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assembler.engineering.schedule import critical_path


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """A step as the calendar sees it.

    Parameters
    ----------
    name
        Unique; also the last key of every tie.
    rank
        A lower one goes first where both are free.
    minutes
        Work of the whole crew.
    after
        Tasks that must be finished.
    waits
        Least minutes from the end of another task to the start of this one, by its name.
    """

    name: str
    rank: int
    minutes: float
    after: tuple[str, ...]
    waits: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Start and end of every task, and which ones decide the end.

    Parameters
    ----------
    start, end
        Minutes from the start of the job, by name.
    critical
        Names of the tasks without slack.
    order
        Names by start.
    total_min
        Until the last task is finished.
    """

    start: Mapping[str, float]
    end: Mapping[str, float]
    critical: frozenset[str]
    order: tuple[str, ...]
    total_min: float


def calendar_of(tasks: Sequence[Task]) -> Times:
    """Earliest times with one crew that works on one step at a time.

    Tasks are taken as they become free, the one with the longest way to the end first (serial schedule generation with
    the critical path as priority). Good, not proven shortest.

    Raises
    ------
    assembler.engineering.schedule.CircularOrderError
        If tasks wait for each other in a circle.
    """
    minutes = {task.name: task.minutes for task in tasks}
    after = {task.name: task.after for task in tasks}
    waits = {(first, task.name): wait for task in tasks for first, wait in task.waits.items()}
    free = critical_path(minutes, after, waits)
    tail = {name: free.duration - free.start[name] - free.slack[name] for name in minutes}
    start: dict[str, float] = {}
    end: dict[str, float] = {}
    now, left, last = 0.0, {task.name: task for task in tasks}, ""
    after_crew: dict[str, tuple[str, ...]] = {}
    while left:
        ready = [task for task in left.values() if all(name in end for name in {*task.after, *task.waits})]
        earliest = {task.name: _free_at(task, end) for task in ready}
        moment = max(now, min(earliest.values()))
        chosen = min(
            (task for task in ready if earliest[task.name] <= moment),
            key=lambda task: (task.rank, -tail[task.name], task.name),
        )
        start[chosen.name] = moment
        now = end[chosen.name] = moment + chosen.minutes
        after_crew[chosen.name] = tuple({*chosen.after, *((last,) if last else ())})
        last = chosen.name
        del left[chosen.name]
    order = tuple(start)
    tied = critical_path(minutes, after_crew, waits)
    return Times(start=start, end=end, critical=frozenset(tied.critical), order=order, total_min=tied.duration)


def _free_at(task: Task, end: Mapping[str, float]) -> float:
    times = [end[name] for name in task.after] + [end[name] + wait for name, wait in task.waits.items()]
    return max(times, default=0.0)
