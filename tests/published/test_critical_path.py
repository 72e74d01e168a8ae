"""Critical paths of published networks."""

from __future__ import annotations

from typing import Any

import pytest

from assembler.engineering.schedule import critical_path
from tests.published.reading import json_cases

NETWORKS = json_cases("networks.json")


@pytest.mark.parametrize("case", NETWORKS["cases"], ids=lambda case: case["id"])
def test_published_networks(case: dict[str, Any]) -> None:
    # Reliable Construction: Hillier, Lieberman, Introduction to Operations Research (V2 durations, M predecessors);
    # Milwaukee Paper: Heizer, Render, Operations Management (M inputs).
    durations = {name: float(length) for name, (length, _) in case["acts"].items()}
    found = critical_path(durations, {name: after for name, (_, after) in case["acts"].items()})
    assert found.duration == case["duration"]
    assert list(found.critical) == case["critical"]
    assert {name: slack for name, slack in found.slack.items() if slack > 0} == case["slack"]


@pytest.mark.parametrize("name", ["j301_1", "tiny7"])
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
def test_printed_solutions_of_arrow_networks(network: dict[str, Any]) -> None:
    # V2: Taylor, Introduction to Management Science, chapter 8, printed solutions: every time of every activity.
    acts = network["acts"]
    after = {name: [other for other in acts if other.split("-")[1] == name.split("-")[0]] for name in acts}
    found = critical_path({name: float(row[0]) for name, row in acts.items()}, after)
    for name, (_, start, end, latest_start, _, slack) in acts.items():
        assert (found.start[name], found.end[name], found.slack[name]) == (start, end, slack)
        assert found.start[name] + found.slack[name] == latest_start
    assert list(found.critical) == network["critical"]
