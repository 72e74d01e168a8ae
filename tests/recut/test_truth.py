"""Random re-cuts of the tower, with what is true worked out from the recipes alone: the report says just that."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from assembler.projectfiles.planfile import as_written
from assembler.recut.compare import compare_plans
from assembler.recut.identity import renamed_files
from assembler.recut.numbering import keep_numbers
from tests.recut.test_identity import LEDGER, A
from tests.recut.tower import Recipe, circle, marks, plan

OLD = as_written(plan(A))
Numbers = tuple[float, ...]


def _random_recut(seed: int) -> Recipe:
    """One to three things happen: cuts move, bolts come and go, joints are bonded, arms go, files change."""
    rng = random.Random(seed)
    recipe = replace(A, revision="B")
    for what in rng.sample(["cut", "cut", "bolts", "bolts", "bond", "arm", "name"], rng.randint(1, 3)):
        if what == "cut":
            at = rng.randint(1, 3)
            cuts = list(recipe.cuts)
            cuts[at] += rng.choice([-20.0, -5.0, -0.5, 0.5, 5.0, 20.0])
            recipe = replace(recipe, cuts=tuple(cuts))
        elif what == "bolts":
            recipe = replace(recipe, bolts={**recipe.bolts, rng.randint(0, 2): rng.choice([4, 5, 6, 7, 8])})
        elif what == "bond":
            recipe = replace(recipe, bonded=tuple({*recipe.bonded, rng.randint(0, 2)}))
        elif what == "arm":
            recipe = replace(recipe, absent=(rng.choice(["P05", "P06"]),))
        else:
            recipe = replace(recipe, files={"P02": "waist.obj", "P06": "right arm.ply"})
    return recipe


def _shape(recipe: Recipe, part: str) -> tuple[Numbers, float]:
    """What makes a part what it is, and how high it sits; worked out without any mesh."""
    if part in recipe.arms:
        return (float(recipe.arms.index(part)),), recipe.cuts[recipe.arms_on]
    index = recipe.tubes.index(part)
    low, high = recipe.cuts[index], recipe.cuts[index + 1]
    below = recipe.count(index - 1) if index > 0 else 0
    above = recipe.count(index) if index < len(recipe.tubes) - 1 else 0
    return (high - low, below, above), low


def _true_parts(recipe: Recipe) -> dict[str, set[str]]:
    fates: dict[str, set[str]] = {}
    for part in (*A.tubes, *A.arms):
        if part in recipe.absent:
            fates[part] = {"gone"}
            continue
        (was, was_at), (now, now_at) = _shape(A, part), _shape(recipe, part)
        own = set() if was == now and was_at == now_at else {"moved"} if was == now else {"reshaped"}
        fates[part] = own | ({"renamed"} if recipe.file(part) != A.file(part) else set())
    return {part: fate for part, fate in fates.items() if fate}


def _axes(recipe: Recipe) -> dict[str, tuple[float, float, float]]:
    axes = {}
    for index, joint in enumerate(recipe.joints):
        for number, (x, y) in enumerate(circle(recipe.count(index)), 1):
            axes[f"{joint}.{number}"] = (x, y, recipe.cuts[index + 1])
    for part, joint, side in zip(recipe.arms, recipe.arm_joints, (100.0, -100.0), strict=True):
        for number, y in enumerate((-10.0, 10.0), 1):
            if part not in recipe.absent:
                axes[f"{joint}.{number}"] = (side, y, recipe.cuts[recipe.arms_on] + 65)
    return axes


def _true_bolts(recipe: Recipe) -> dict[str, str]:
    old, new = _axes(A), _axes(recipe)
    fates = {bolt: "gone" if bolt not in new else "new" for bolt in old.keys() ^ new.keys()}
    fates.update({bolt: "moved" for bolt in old.keys() & new.keys() if math.dist(old[bolt], new[bolt]) > 0.1})
    return fates


def _true_hardware(recipe: Recipe) -> int:
    """Bolts more than before (negative: fewer)."""
    return len(_axes(recipe)) - len(_axes(A))


@pytest.mark.parametrize("seed", range(40))
def test_what_is_said_is_exactly_what_happened(seed: int) -> None:
    recipe = _random_recut(seed)
    changes = compare_plans(OLD, as_written(keep_numbers(plan(recipe), OLD)))
    said: dict[str, set[str]] = {}
    for change in changes.parts:
        for part in {*change.before, *change.after}:
            said.setdefault(part, set()).add(change.fate.value)
    assert said == _true_parts(recipe)
    assert set(changes.same_parts) == {*A.tubes, *A.arms} - said.keys()
    assert {change.bolt: change.fate.value for change in changes.bolts} == _true_bolts(recipe)
    more = _true_hardware(recipe)
    assert sorted(line.amount for line in changes.buy) == ([more, more, 2 * more] if more > 0 else [])
    assert sorted(line.amount for line in changes.give_back) == ([-more, -more, -2 * more] if more < 0 else [])
    assert {bag.joint for bag in changes.bags} == _joints_with_other_counts(recipe)
    assert changes.untold == ()
    assert changes.motion is None


def _joints_with_other_counts(recipe: Recipe) -> set[str]:
    def counts(axes: dict[str, tuple[float, float, float]]) -> dict[str, int]:
        names = [bolt.split(".")[0] for bolt in axes]
        return {name: names.count(name) for name in names}

    old, new = counts(_axes(A)), counts(_axes(recipe))
    return {joint for joint in {*old, *new} if old.get(joint) != new.get(joint)}


@pytest.mark.parametrize("seed", range(40))
def test_new_names_of_parts_that_were_not_cut_again_are_recognised(seed: int) -> None:
    recipe = _random_recut(seed)
    renamed = renamed_files(marks(recipe), LEDGER)
    shapes = {part: _shape(A, part)[0] for part in (*A.tubes, *A.arms)}
    wanted = {
        recipe.file(part): part
        for part in shapes
        if part not in recipe.absent and recipe.file(part) != A.file(part) and _shape(recipe, part)[0] == shapes[part]
    }
    assert renamed == wanted
