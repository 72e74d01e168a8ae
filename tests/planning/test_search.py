"""The order found against brute force: every sequence tried, movements judged by stepping solids on their own."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.planning.blocking import Paths
from assembler.planning.calendar import Task, calendar_of
from assembler.planning.directions import candidate_directions
from assembler.planning.joining import Build
from assembler.planning.scene import Scene, members, scene_of
from assembler.planning.search import Search
from assembler.planning.support import Support
from tests import specimens
from tests.specimens import Assembly

SMALL = {
    "two boxes": specimens.two_boxes,
    "stack of 5": lambda: specimens.stack(5),
    "ring of four": specimens.ring_of_four,
    "dovetail": specimens.dovetail_with_keeper,
    "ring on post": specimens.ring_on_post,
    "arm in shoulder": specimens.arm_in_shoulder,
    "twins": specimens.mirrored_twins,
    "arch": specimens.arch,
}


def asked(made: Assembly, *, groups: tuple[int, ...] = ()) -> tuple[Scene, Search]:
    scene = scene_of(**made.given)
    paths = Paths(scene, candidate_directions(scene))
    return scene, Search(scene, paths, None, Support(scene), groups, beam=None)


def leaves(body: Manifold, rest: list[Manifold], directions: list[np.ndarray]) -> bool:
    """Stepped at 4 mm with exact intersections; more than touching is a collision."""
    for direction in directions:
        shifts = [tuple((direction * at).tolist()) for at in np.arange(2.0, 700.0, 6.0)]
        if all((body.translate(shift) ^ other).volume() < 20.0 for other in rest for shift in shifts):
            return True
    return False


class BruteForce:
    """Single parts taken off, the rest always connected, the base kept; nothing of the planner in it."""

    def __init__(self, made: Assembly) -> None:
        self.made = made
        self.pairs = [joint.parts for joint in made.joints] + [joint.parts[::-1] for joint in made.joints]
        self.directions: list[np.ndarray] = [*np.eye(3)[::-1], *-np.eye(3)]
        for joint in made.joints:
            for direction in (np.asarray(joint.normal), -np.asarray(joint.normal)):
                if not any(np.allclose(direction, known) for known in self.directions):
                    self.directions.append(direction)
        self.known: dict[tuple[str, frozenset[str]], bool] = {}

    def is_free(self, part: str, rest: frozenset[str]) -> bool:
        key = (part, rest)
        if key not in self.known:
            standing = [self.made.solids[other] for other in sorted(rest)]
            self.known[key] = leaves(self.made.solids[part], standing, self.directions)
        return self.known[key]

    def is_connected(self, chosen: frozenset[str]) -> bool:
        seen, edge = set(), [min(chosen)]
        while edge:
            part = edge.pop()
            seen.add(part)
            edge += [b for a, b in self.pairs if a == part and b in chosen and b not in seen]
        return len(seen) == len(chosen)

    def fits(self, order: tuple[str, ...]) -> bool:
        rest = frozenset(self.made.solids)
        for part in order:
            rest = rest - {part}
            if rest and not (self.is_connected(rest) and self.is_free(part, rest)):
                return False
        return True

    def orders(self) -> set[tuple[str, ...]]:
        """All orders that can be followed; the part left at the end is not named."""
        names = [name for name in sorted(self.made.solids) if name != self.made.base]
        last = len(names) if self.made.base else len(names) - 1
        return {order for order in permutations(names, last) if self.fits(order)}


def orders_of(scene: Scene, search: Search) -> dict[tuple[str, ...], float]:
    """All orders that the search would follow, each with its cost."""
    found: dict[tuple[str, ...], float] = {}

    def follow(standing: int, taken: tuple[str, ...], cost: float) -> None:
        if standing.bit_count() == 1:
            found[taken] = min(cost, found.get(taken, math.inf))
            return
        for joining in search.options(standing, scene.everything, True):
            name = scene.parts[next(members(joining.moving))].id
            follow(joining.standing, (*taken, name), cost + joining.cost_min)

    follow(scene.everything, (), 0.0)
    return found


@pytest.mark.parametrize("name", sorted(SMALL))
def test_feasible_orders_equal_brute_force(name: str) -> None:
    made = SMALL[name]()
    scene, search = asked(made)
    assert set(orders_of(scene, search)) == BruteForce(made).orders()


@pytest.mark.parametrize("name", sorted(SMALL))
def test_cheapest_single_part_sequence_equals_exhaustive_search(name: str) -> None:
    scene, search = asked(SMALL[name]())
    best = min(orders_of(scene, search).values())
    assert search.build(scene.everything, is_main=True).cost_min == pytest.approx(best)


@pytest.mark.parametrize("name", ["dovetail", "twins", "stack of 5", "arch"])
def test_cheapest_assembly_tree_equals_exhaustive_search(name: str) -> None:
    made = SMALL[name]()
    plain, _ = asked(made)
    groups = tuple(
        chosen
        for chosen in range(1, plain.everything)
        if chosen.bit_count() > 1
        and plain.is_connected(chosen)
        and not (plain.root is not None and chosen >> plain.root & 1)
    )
    scene, search = asked(made, groups=groups)

    def splits(whole: int, is_thorough: bool) -> list[tuple[int, int, tuple[int, ...]]]:
        keep = 1 << scene.root if scene.root is not None else 0
        pairs = [(moving, whole & ~moving) for moving in range(1, whole) if not moving & ~whole and not moving & keep]
        connected = [(a, b) for a, b in pairs if scene.is_connected(a) and scene.is_connected(b)]
        ways = [(a, b, search.paths.directions_out(a, b, is_thorough=is_thorough)) for a, b in connected]
        return [(a, b, found) for a, b, found in ways if found]

    def cheapest(whole: int, is_main: bool) -> Build:
        """Every way to split off a connected set, again and again; no memory, no beam."""
        if whole.bit_count() == 1:
            return Build(first=whole, joinings=(), cost_min=0.0)
        found = []
        for moving, standing, ways in splits(whole, False) or splits(whole, True):
            step = search.joining(moving, standing, targets[-1], is_main, ways)
            cost = step.cost_min
            if moving.bit_count() > 1:
                targets.append(moving)
                side = cheapest(moving, False)
                targets.pop()
                cost += search.costs.side_min(side, standing) - dict(step.parts_of_cost).get("side bench", 0.0)
            rest = cheapest(standing, is_main)
            joinings = (*rest.joinings, step)
            found.append((rest.cost_min + cost, len(found), joinings))
        cost, _, joinings = min(found, key=lambda item: (round(item[0], 6), item[1]))
        ready = {one.moving: search.build(one.moving, is_main=False).ready_min for one in joinings}
        return Build(first=0, joinings=joinings, cost_min=cost, ready_min=search.costs.ready_min(joinings, ready))

    targets = [scene.everything]
    best = cheapest(scene.everything, True).cost_min
    assert search.build(scene.everything, is_main=True).cost_min == pytest.approx(best)


def test_work_goes_on_elsewhere_during_a_hold() -> None:
    tasks = [
        Task(name="a", rank=1, minutes=10.0, after=(), waits={}),
        Task(name="b", rank=1, minutes=10.0, after=("a",), waits={"a": 100.0}),
        Task(name="c", rank=1, minutes=50.0, after=(), waits={}),
    ]
    times = calendar_of(tasks)
    assert times.order == ("a", "c", "b")
    assert times.total_min == pytest.approx(120.0)
    assert times.critical == {"a", "b"}


@pytest.mark.parametrize("name", ["ring of four", "twins", "arch"])
def test_what_the_best_order_without_a_step_costs_is_that_of_all_orders_tried_one_by_one(name: str) -> None:
    scene, search = asked(SMALL[name]())
    whole = scene.everything
    build = search.build(whole, is_main=True)

    def ways(standing: int) -> list[list[tuple[tuple[int, int], float]]]:
        if standing.bit_count() == 1:
            return [[]]
        return [
            [((one.moving, one.standing), one.cost_min), *rest]
            for one in search.options(standing, whole, True)
            for rest in ways(one.standing)
        ]

    every = ways(whole)
    for joining in build.joinings:
        step = (joining.moving, joining.standing)
        costs = [sum(cost for _, cost in way) for way in every if step not in [each for each, _ in way]]
        dearer = search.other_order(joining, whole).dearer_min
        assert (dearer is None) == (not costs)
        if costs:
            assert dearer == pytest.approx(min(costs) - build.cost_min)
            assert dearer > -1e-6
