"""Critical paths of published networks."""

from __future__ import annotations

from typing import Any

import pytest

from assembler.engineering.schedule import critical_path
from tests.published.reading import json_cases, source

NETWORKS = json_cases("networks.json")


@pytest.mark.parametrize("case", NETWORKS["cases"], ids=lambda case: case["id"])
@source("hillier", "heizer")
def test_published_networks(case: dict[str, Any]) -> None:
    # Reliable Construction: Hillier, Lieberman, Introduction to Operations Research (V2 durations, M predecessors);
    # Milwaukee Paper: Heizer, Render, Operations Management (M inputs).
    durations = {name: float(length) for name, (length, _) in case["acts"].items()}
    found = critical_path(durations, {name: after for name, (_, after) in case["acts"].items()})
    assert found.duration == case["duration"]
    assert list(found.critical) == case["critical"]
    assert {name: slack for name, slack in found.slack.items() if slack > 0} == case["slack"]


@pytest.mark.parametrize("name", ["j301_1", "tiny7"])
@source("psplib")
def test_length_without_resources(name: str) -> None:
    # j301_1: V, the length without resources that the file itself prints (PSPLIB, Kolisch and Sprecher 1996).
    jobs = NETWORKS[name]["jobs"]
    durations = {str(job): float(length) for job, length, _, _ in jobs}
    after: dict[str, list[str]] = {str(job): [] for job, _, _, _ in jobs}
    for job, _, _, successors in jobs:
        for then in successors:
            after[str(then)].append(str(job))
    assert critical_path(durations, after).duration == NETWORKS[name]["length_without_resources"]


@pytest.mark.parametrize("network", NETWORKS["on_arrows"]["networks"], ids=lambda item: item["id"])
@source("taylor")
def test_printed_solutions_of_arrow_networks(network: dict[str, Any]) -> None:
    # V2: Taylor, Introduction to Management Science, chapter 8, printed solutions: every time of every activity.
    acts = network["acts"]
    after = {name: [other for other in acts if other.split("-")[1] == name.split("-")[0]] for name in acts}
    found = critical_path({name: float(row[0]) for name, row in acts.items()}, after)
    for name, (_, start, end, latest_start, _, slack) in acts.items():
        assert (found.start[name], found.end[name], found.slack[name]) == (start, end, slack)
        assert found.start[name] + found.slack[name] == latest_start
    assert list(found.critical) == network["critical"]


@source("lags")
def test_a_network_with_lags() -> None:
    # V2 inputs, C result: A 2, B 5, C 9, D 3, E 6, F 4, G 2, H 4, I 2 days; D four days after A, F three days after B,
    # I one day after H. On paper: A 0-2, B 2-7, C 2-11, D 6-9, E 7-13, F 11-15, G 11-13, H 15-19, I 20-22; without
    # lags I would end on day 21.
    days = dict(zip("ABCDEFGHI", (2.0, 5.0, 9.0, 3.0, 6.0, 4.0, 2.0, 4.0, 2.0), strict=True))
    after = {"B": "A", "C": "A", "D": "A", "E": "B", "F": "BC", "G": "CD", "H": "EF", "I": "GH"}
    lags = {("A", "D"): 4.0, ("B", "F"): 3.0, ("H", "I"): 1.0}
    found = critical_path(days, after, lags)
    starts = {"A": 0, "B": 2, "C": 2, "D": 6, "E": 7, "F": 11, "G": 11, "H": 15, "I": 20}
    assert found.start == starts
    assert found.duration == 22.0
    # Latest starts backwards: I 20, H 15, G 18, F 11, E 9, D 15, C 2, B 3 (F 11 less 3 less 5), A 0.
    assert found.slack == {"A": 0, "B": 1, "C": 0, "D": 9, "E": 2, "F": 0, "G": 7, "H": 0, "I": 0}
    assert found.critical == ("A", "C", "F", "H", "I")
    assert critical_path(days, after).duration == 21.0
