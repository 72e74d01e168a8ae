"""One crew's calendar on networks with known optimum."""

from __future__ import annotations

import pytest

from assembler.planning.calendar import Task, calendar_of
from tests.published.reading import json_cases, source

NETWORKS = json_cases("networks.json")


@pytest.mark.parametrize(
    ("name", "optimum"),
    # tiny7: C, proved by constraint programming for capacity 2, where no two jobs fit side by side.
    # j301_1: PSPLIB set j30, Kolisch & Sprecher, European Journal of Operational Research 96 (1996), read in an
    # Apache-2.0 repository. V: the file's horizon is the sum of all durations, which is what one crew needs without
    # waits.
    [("tiny7", 14), ("j301_1", 158)],
)
@source("psplib")
def test_one_crew_reaches_the_optimum(name: str, optimum: int) -> None:
    jobs = NETWORKS[name]["jobs"]
    after = {str(job): tuple(str(first) for first, _, _, then in jobs if job in then) for job, _, _, _ in jobs}
    tasks = [
        Task(name=str(job), rank=job, minutes=float(length), after=after[str(job)], waits={})
        for job, length, _, _ in jobs
    ]
    found = calendar_of(tasks)
    assert found.total_min == optimum
    for task in tasks:
        for first in task.after:
            assert found.end[first] <= found.start[task.name]


@source("lags")
def test_one_crew_keeps_the_holds() -> None:
    # C, on paper: one crew; B may start 30 after A ends (a hold), C at once. A 0-10, C 10-20, B 40-45; total 45.
    tasks = [
        Task(name="A", rank=0, minutes=10.0, after=(), waits={}),
        Task(name="B", rank=0, minutes=5.0, after=("A",), waits={"A": 30.0}),
        Task(name="C", rank=0, minutes=10.0, after=(), waits={}),
    ]
    found = calendar_of(tasks)
    assert (found.start["A"], found.start["C"], found.start["B"]) == (0.0, 10.0, 40.0)
    assert found.total_min == 45.0
    assert found.critical == {"A", "B"}
