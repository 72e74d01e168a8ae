"""Which step shuts which bolts: known answers, and a count of the plan alone that refutes what cannot be."""

from __future__ import annotations

import json
from typing import Any

import pytest

from assembler.figure.plan import Plan
from assembler.planning.order import plan_build
from assembler.planning.recount import recount
from assembler.projectfiles.planfile import plan_record
from tests.planning import odd
from tests.specimens import Assembly


def shut(made: Assembly) -> tuple[Plan, dict[tuple[str, ...], tuple[str, ...]]]:
    plan = plan_build(**made.given)
    return plan, {step.moves: step.shuts for step in plan.steps if step.shuts}


def test_a_hatch_shuts_the_bolts_behind_it() -> None:
    plan, found = shut(odd.hatch())
    assert found == {("H",): ("J01.1", "J01.2", "J01.3", "J01.4")}
    last = next(step for step in plan.steps if step.moves == ("H",))
    first = next(step for step in plan.steps if "J01" in step.joints)
    assert [str(line) for line in last.why] == ["after this nobody reaches J01 any more"]
    assert any("with H in place, J01.1" in str(line) for line in first.why)


def test_what_closes_two_shoulders_shuts_the_bolts_of_both() -> None:
    _, found = shut(odd.armed_torso())
    assert found == {("H",): ("J01.1", "J01.2", "J02.1", "J02.2")}


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return dict(json.loads(json.dumps(plan_record(shut(odd.hatch())[0]), default=list)))


def test_what_is_not_closed_yet_is_not_shut(record: dict[str, Any]) -> None:
    assert [row for row in recount(record) if row.code == "bolt-refuted"] == []
    hatch = next(step for step in record["steps"] if step.get("shuts"))
    own = {access["bolt"] for access in hatch["access"]}
    wrong = {**hatch, "shuts": [*hatch["shuts"], *sorted(own)[:1], hatch["shuts"][0]]}
    steps = [wrong if step is hatch else step for step in record["steps"]]
    found = [row.about[1] for row in recount({**record, "steps": steps}) if row.code == "bolt-refuted"]
    # A bolt that this very step closes, if it has one, and one that is named twice.
    assert found == [*sorted(own)[:1], hatch["shuts"][0]]


def test_the_way_in_is_named_where_there_is_only_one() -> None:
    plan, _ = shut(odd.hatch())
    rows = [row for step in plan.steps for row in step.access if row.bolt.startswith("J01")]
    inside = [row for row in rows if row.reach_mm > 0.0]
    assert 0 < len(inside) < len(rows)
    assert all(str(row.nut).endswith("through the opening for H") for row in inside)
    assert {str(row.nut) for row in rows if row not in inside} == {"from outside"}
