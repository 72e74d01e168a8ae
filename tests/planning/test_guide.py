"""An issued order is kept wherever it can still be carried out, and left only where it cannot."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from assembler.cache import Answers, Cache
from assembler.figure.ids import PartId
from assembler.figure.plan import Plan
from assembler.figure.settings import Crew, Pins
from assembler.planning import verify
from assembler.planning.guide import guide_of
from assembler.planning.order import plan_build
from assembler.planning.scene import scene_of
from assembler.planning.verify import verify_plan
from assembler.projectfiles.planfile import plan_json, plan_of, plan_record
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
    guided = plan_build(**given, issued=other.steps)
    assert _moves(guided) == _moves(other)


def test_a_wish_of_the_shop_beats_the_issued_order() -> None:
    given, free, other = _two_orders()
    guided = plan_build(**_pinned(given, ("P1", "P2")), issued=other.steps)
    assert _moves(guided) == _moves(free)


def test_a_part_that_the_issued_plan_does_not_know_may_come_at_any_time() -> None:
    given, free, _ = _two_orders()
    issued = [
        replace(step, onto=tuple(part for part in step.onto if part != "P2"))
        for step in free.steps
        if "P2" not in step.moves
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
            issued = plan_of(json.loads(plan_json(plan).replace(f'"{gone}"', '"P9"'))).steps
            assert _moves(plan_build(**given, issued=issued)) == _moves(plan), gone


def test_a_second_run_answers_from_the_cache_and_says_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given = specimens.two_boxes().given
    kept = Cache(tmp_path / "kept.sqlite")
    answers = Answers(kept)
    first = plan_build(**given, answers=answers)
    said = verify_plan(plan_record(first), given["meshes"], given["settings"].tolerances, answers)
    kept.save()

    def no_more(*_: object) -> None:
        raise AssertionError("something was looked for although nothing had to be asked")

    monkeypatch.setattr(verify, "_body", no_more)
    monkeypatch.setattr("assembler.planning.handroom.HandRoom.way", no_more)
    again = Answers(Cache(tmp_path / "kept.sqlite"))
    second = plan_build(**given, answers=again)
    assert plan_record(second) == plan_record(first)
    assert verify_plan(plan_record(second), given["meshes"], given["settings"].tolerances, again) == said
