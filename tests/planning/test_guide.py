"""An issued order is kept wherever it can still be carried out, and left only where it cannot."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from assembler.figure.ids import PartId
from assembler.figure.plan import Plan
from assembler.figure.settings import Crew, Pins
from assembler.planning import verify
from assembler.planning.guide import guide_of
from assembler.planning.order import plan_build
from assembler.planning.scene import scene_of
from assembler.planning.verify import verify_plan
from assembler.projectfiles.answers import Answers
from assembler.projectfiles.memory import Memory
from assembler.projectfiles.planfile import plan_record
from tests import specimens


def _moves(plan: Plan) -> list[tuple[str, ...]]:
    return [step.moves for step in plan.steps if step.moves]


def _pinned(given: dict[str, Any], *after: tuple[str, str]) -> dict[str, Any]:
    pins = Pins(after=tuple((PartId(later), PartId(earlier)) for later, earlier in after))
    return {**given, "settings": replace(given["settings"], pins=pins)}


def _two_orders() -> tuple[dict[str, Any], Plan, Plan]:
    """A ring as it is planned freely (P4, P3, P2, P1), and with its last two quarters the other way round.

    Nobody lifts the ring as a whole, so that its quarters go on one by one.
    """
    made = specimens.ring_of_four()
    made.changes["crew"] = Crew(people=1, lift_one_kg=0.5)
    given = made.given
    return given, plan_build(**given), plan_build(**_pinned(given, ("P2", "P1")))


def test_the_order_of_the_issued_plan_is_kept_though_another_is_as_good() -> None:
    given, free, other = _two_orders()
    assert _moves(free) != _moves(other)
    guided = plan_build(**given, issued=plan_record(other)["steps"])
    assert _moves(guided) == _moves(other)


def test_a_wish_of_the_shop_beats_the_issued_order() -> None:
    given, free, other = _two_orders()
    guided = plan_build(**_pinned(given, ("P1", "P2")), issued=plan_record(other)["steps"])
    assert _moves(guided) == _moves(free)


def test_a_part_that_the_issued_plan_does_not_know_may_come_at_any_time() -> None:
    given, free, _ = _two_orders()
    issued = [
        {**step, "onto": [part for part in step["onto"] if part != "P2"]}
        for step in plan_record(free)["steps"]
        if "P2" not in step["moves"]
    ]
    scene = scene_of(
        given["parts"], given["meshes"], given["joints"], given["stacks"], given["bondings"], given["settings"]
    )
    guide = guide_of(scene, issued)
    assert [[scene.names(one) for one in tier] for tier in guide.off(scene.everything)] == [[("P1",), ("P2",)]]
    plan = plan_build(**given, issued=issued)
    assert sorted(part for moves in _moves(plan) for part in moves) == ["P1", "P2", "P3", "P4"]
    kept = [moves for moves in _moves(plan) if moves != ("P2",)]
    assert kept == [("P4",), ("P3",), ("P1",)]


def test_a_part_that_takes_the_place_of_one_that_is_gone_comes_where_that_came() -> None:
    """Whatever comes cheaper first: all other parts keep their places, and their pages stay in the binder."""
    given, free, other = _two_orders()
    for plan in (free, other):
        for gone in ("P1", "P2", "P3", "P4"):
            record = json.loads(json.dumps(plan_record(plan)["steps"]).replace(f'"{gone}"', '"P9"'))
            assert _moves(plan_build(**given, issued=record)) == _moves(plan), gone


def test_a_second_run_answers_from_memory_and_says_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given = specimens.two_boxes().given
    path = tmp_path / "answers.json"
    answers = Answers(path)
    first = plan_build(**given, memory=Memory(answers=answers))
    said = verify_plan(plan_record(first), given["meshes"], given["settings"].tolerances, answers)
    answers.save()

    def no_more(*_: object) -> None:
        raise AssertionError("a solid was made although nothing had to be asked")

    monkeypatch.setattr(verify, "_body", no_more)
    monkeypatch.setattr("assembler.planning.handroom.HandRoom.way_mm", no_more)
    again = Answers(path)
    second = plan_build(**given, memory=Memory(answers=again))
    assert plan_record(second) == plan_record(first)
    assert verify_plan(plan_record(second), given["meshes"], given["settings"].tolerances, again) == said


def test_answers_of_other_code_and_damaged_files_are_not_used(tmp_path: Path) -> None:
    path = tmp_path / "answers.json"
    one = Answers(path, common="one")
    one.put(one.key("closed", "P01"), True)
    one.save()
    same, other = Answers(path, common="one"), Answers(path, common="other")
    assert same.has(same.key("closed", "P01"))
    assert not other.has(other.key("closed", "P01"))
    path.write_text("{", encoding="utf-8")
    assert not Answers(path, common="one").has(one.key("closed", "P01"))
