"""How long the whole takes, and what must not be late: forward and backward pass over activities.

Goes in: durations, what comes after what, waits between them. Comes out: starts, ends, slack, critical chain. networkx
does the sorting.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import networkx as nx

from assembler.figure.ids import natural_key

SLACK_TOLERANCE_MIN = 1e-6
"""Slack below this is none: rounding of sums of minutes."""


class CircularOrderError(ValueError):
    """Activities wait for each other in a circle.

    Parameters
    ----------
    circle
        The activities, each waiting for the one before it.
    """

    def __init__(self, circle: tuple[str, ...]) -> None:
        self.circle = circle
        super().__init__("activities wait for each other: " + " -> ".join((*circle, circle[0])))


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """Earliest times of every activity, and how much each may slip.

    Parameters
    ----------
    start, end
        Earliest start and end by activity, in the unit of the durations.
    slack
        How much later an activity may start without delaying the whole.
    critical
        Activities without slack, by start, then by name.
    duration
        End of the last one.
    """

    start: dict[str, float]
    end: dict[str, float]
    slack: dict[str, float]
    critical: tuple[str, ...]
    duration: float


def critical_path(
    durations: Mapping[str, float],
    after: Mapping[str, Iterable[str]],
    waits: Mapping[tuple[str, str], float] | None = None,
) -> Schedule:
    """Earliest schedule of activities that wait for each other, with slack and critical chain.

    Parameters
    ----------
    durations
        By activity; not negative.
    after
        What each activity waits for. One that is missing here waits for nothing.
    waits
        Least time from the end of the first to the start of the second (a hold), by (earlier, later); makes the second
        wait for the first even where `after` does not say so.

    Raises
    ------
    CircularOrderError
        If activities wait for each other in a circle.
    KeyError
        If `after` or `waits` name an activity without a duration.
    ValueError
        If a duration or a wait is negative.

    References
    ----------
    Critical path method, any text on operations research; checked against two published networks in tests/published.
    """
    graph = _graph(durations, after, waits or {})
    order = list(nx.lexicographical_topological_sort(graph, key=natural_key))
    start: dict[str, float] = {}
    for name in order:
        ready = (start[first] + durations[first] + graph.edges[first, name]["wait"] for first in graph.pred[name])
        start[name] = max(ready, default=0.0)
    end = {name: start[name] + durations[name] for name in order}
    duration = max(end.values(), default=0.0)
    latest: dict[str, float] = {}
    for name in reversed(order):
        due = (latest[then] - graph.edges[name, then]["wait"] for then in graph.succ[name])
        latest[name] = min(due, default=duration) - durations[name]
    slack = {name: max(0.0, latest[name] - start[name]) for name in order}
    critical = sorted(
        (name for name in order if slack[name] <= SLACK_TOLERANCE_MIN),
        key=lambda name: (start[name], natural_key(name)),
    )
    return Schedule(start=start, end=end, slack=slack, critical=tuple(critical), duration=duration)


def _graph(
    durations: Mapping[str, float], after: Mapping[str, Iterable[str]], waits: Mapping[tuple[str, str], float]
) -> nx.DiGraph:
    for name, length in durations.items():
        if length < 0:
            raise ValueError(f"{name} lasts {length:g}; a duration is not negative")
    for (first, then), length in waits.items():
        if length < 0:
            raise ValueError(f"the wait from {first} to {then} is {length:g}; a wait is not negative")
    graph = nx.DiGraph()
    graph.add_nodes_from(durations)
    pairs = {(first, then): 0.0 for then, firsts in after.items() for first in firsts} | dict(waits)
    for (first, then), wait in pairs.items():
        for name in (first, then):
            if name not in durations:
                raise KeyError(f"{name} has no duration")
        graph.add_edge(first, then, wait=wait)
    if not nx.is_directed_acyclic_graph(graph):
        circle = tuple(first for first, _ in nx.find_cycle(graph))
        raise CircularOrderError(circle)
    return graph
