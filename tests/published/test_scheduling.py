"""The one model of the calendar on published networks: their proven optima, found and proven again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import permutations
from typing import Any

import pytest

from assembler.engineering.scheduling import Activity, Network, Solution, Wait, scheduled
from tests.published.reading import json_cases, source

CASES = json_cases("psplib.json")
NETWORKS = json_cases("networks.json")


def network_of(case: Mapping[str, Any], waits: Sequence[Wait]) -> Network:
    names = [str(at) for at in range(1, len(case["minutes"]) + 1)]
    return Network(
        activities=[
            Activity(
                name=name, minutes=minutes, needs={f"R{at}": row[int(name) - 1] for at, row in enumerate(case["needs"])}
            )
            for name, minutes in zip(names, case["minutes"], strict=True)
        ],
        waits=waits,
        capacity={f"R{at}": amount for at, amount in enumerate(case["capacity"])},
    )


def holds(network: Network, found: Solution) -> bool:
    """Whether starts keep every wait and every resource, counted minute by minute."""
    minutes = {one.name: one.minutes for one in network.activities}
    for wait in network.waits:
        since = found.start[wait.first] + (0 if wait.is_from_start else minutes[wait.first])
        if found.start[wait.then] < since + wait.minutes:
            return False
    for now in range(found.end_min):
        there = [
            one for one in network.activities if found.start[one.name] <= now < found.start[one.name] + one.minutes
        ]
        if any(sum(one.needs[name] for one in there) > limit for name, limit in network.capacity.items()):
            return False
    return True


def _older(name: str, optimum: int, capacity: Sequence[int]) -> dict[str, Any]:
    """An instance of networks.json in the shape of the others; its dummies take no time."""
    jobs = NETWORKS[name]["jobs"]
    needs = [list(row) for row in zip(*(needs for _, _, needs, _ in jobs), strict=True)]
    return {
        "id": name,
        "optimum": optimum,
        "capacity": capacity,
        "minutes": [length for _, length, _, _ in jobs],
        "needs": needs,
        "then": [then for *_, then in jobs],
    }


INSTANCES = [_older("j301_1", 43, (12, 13, 4, 12)), *CASES["instances"]]


@pytest.mark.parametrize("case", INSTANCES, ids=lambda case: case["id"])
@source("psplib")
def test_proven_optima_of_thirty_jobs(case: Mapping[str, Any]) -> None:
    # V data, V optima: PSPLIB, set j30, Kolisch and Sprecher (1996), both as copied in public repositories.
    waits = [Wait(first=str(at), then=str(then)) for at, row in enumerate(case["then"], 1) for then in row]
    network = network_of(case, waits)
    found = scheduled(network, horizon_min=sum(case["minutes"]))
    assert (found.end_min, found.is_proven) == (case["optimum"], True)
    assert holds(network, found)


@source("psplib")
@pytest.mark.parametrize(("name", "capacity", "optimum"), [("tiny7", 2, 14), ("tiny7", 3, 12), ("tiny7", 4, 7)])
def test_small_network(name: str, capacity: int, optimum: int) -> None:
    # C, proved by another model of constraint programming.
    jobs = NETWORKS[name]["jobs"]
    found = scheduled(
        Network(
            activities=[
                Activity(name=str(job), minutes=length, needs={"R": needs[0]}) for job, length, needs, _ in jobs
            ],
            waits=[Wait(first=str(job), then=str(then)) for job, _, _, row in jobs for then in row],
            capacity={"R": capacity},
        ),
        horizon_min=100,
    )
    assert (found.end_min, found.is_proven) == (optimum, True)


class Exhausted:
    """The optimum without a solver: of jobs that together ask for too much one has to end before another starts.

    Each pair of such a smallest group is tried in both orders, earliest starts follow by longest paths; what ends no
    sooner than the best known is left.
    """

    def __init__(self, case: Mapping[str, Any], known: int) -> None:
        self.minutes, self.needs, self.capacity = case["minutes"], case["needs"], case["capacity"]
        self.best = known + 1

    def starts(self, rows: set[tuple[int, int, int]]) -> list[int] | None:
        found = [0] * len(self.minutes)
        for _ in range(len(found) + 1):
            later = list(found)
            for first, least, then in rows:
                later[then - 1] = max(later[then - 1], later[first - 1] + least)
            if later == found:
                return found
            found = later
        return None

    def is_crowded(self, group: Sequence[int]) -> bool:
        return any(sum(row[at] for at in group) > limit for row, limit in zip(self.needs, self.capacity, strict=True))

    def tried(self, rows: set[tuple[int, int, int]]) -> None:
        found = self.starts(rows)
        if found is None:
            return
        end = max(start + length for start, length in zip(found, self.minutes, strict=True))
        if end >= self.best:
            return
        for now in sorted(set(found)):
            group = [at for at, start in enumerate(found) if start <= now < start + self.minutes[at]]
            if self.is_crowded(group):
                for at in tuple(group):
                    rest = [other for other in group if other != at]
                    group = rest if self.is_crowded(rest) else group
                for first, then in permutations(group, 2):
                    self.tried(rows | {(first + 1, self.minutes[first], then + 1)})
                return
        self.best = end


@pytest.mark.parametrize("case", CASES["lags"], ids=lambda case: case["id"])
@source("psplib")
def test_networks_with_least_and_greatest_lags(case: Mapping[str, Any]) -> None:
    # V data (RCPSP/max); C optimum, by trying every order of jobs that do not fit side by side.
    waits = [
        Wait(first=str(a), then=str(b), minutes=least, is_from_start=True) for a, least, b in case["waits"] if b <= 10
    ]
    network = network_of(case, waits)
    found = scheduled(network, horizon_min=200)
    exhausted = Exhausted(case, known=found.end_min)
    exhausted.tried({(first, least, then) for first, least, then in case["waits"] if then <= 10})
    assert (found.end_min, found.is_proven) == (exhausted.best, True)
    assert holds(network, found)


@source("lags")
def test_a_network_with_lags_from_end_to_start() -> None:
    # V2 inputs, C result, see test_critical_path.py: 22 days; without lags 21.
    days = dict(zip("ABCDEFGHI", (2, 5, 9, 3, 6, 4, 2, 4, 2), strict=True))
    after = {"B": "A", "C": "A", "D": "A", "E": "B", "F": "BC", "G": "CD", "H": "EF", "I": "GH"}
    lags = {("A", "D"): 4, ("B", "F"): 3, ("H", "I"): 1}
    network = Network(
        activities=[Activity(name=name, minutes=length) for name, length in days.items()],
        waits=[
            Wait(first=first, then=then, minutes=lags.get((first, then), 0))
            for then, row in after.items()
            for first in row
        ],
    )
    found = scheduled(network, horizon_min=60)
    assert (found.end_min, found.is_proven) == (22, True)
