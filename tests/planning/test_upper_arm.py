"""Deeper than a forearm is long the way in takes an upper arm: tubes with known answers, and every walk of a maze."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.cache import Answers
from assembler.figure.joints import Seat
from assembler.figure.settings import Crew, Glove
from assembler.geometry.freespace import Flags, point_tree, surface_points
from assembler.planning.access import Hands
from assembler.planning.handroom import FINGERS_MM, HandRoom
from assembler.planning.scene import Scene, scene_of
from tests.planning.odd import hollow
from tests.specimens import Assembly, box, rod

FOREARM_MM = 400.0
"""Elbow to fingertip, women, 5th percentile (Pheasant)."""


def tube(*pieces_mm: tuple[float, float], crew: Crew) -> Scene:
    """A tube of pieces, each with its width and length, the mouth first; its floor is bolted on, heads inside."""
    length = sum(long for _, long in pieces_mm)
    wide = max(width for width, _ in pieces_mm) / 2 + 15.0
    body = rod((0, 0, length / 2), (0, 0, 1), wide, length / 2)
    top = length
    for width, long in pieces_mm:
        body -= rod((0, 0, top - long / 2), (0, 0, 1), width / 2, long / 2 + 0.5)
        top -= long
    body += rod((0, 0, -5), (0, 0, 1), wide, 5)
    plate = rod((0, 0, -15), (0, 0, 1), wide, 5)
    made = Assembly({"A": body, "B": plate}, base="B")
    made.join("A", "B", (0, 0, -10), (0, 0, -1), bolts=[(0, 0, -10)], seats=(Seat.OPEN, Seat.CAPTIVE))
    made.changes["crew"] = crew
    return scene_of(**made.given)


LONG_MM = 700.0
"""A reach, so that tubes of several depths lie between forearm and reach."""

NARROW, WIDE = 118.0, 145.0
"""A forearm passes one, of 100 mm, an upper arm only the other, of 125 mm; the grid takes up to 15 mm off."""


@pytest.mark.parametrize(
    ("pieces_mm", "is_reached"),
    [
        ([(NARROW, 400.0)], True),
        ([(NARROW, 500.0)], False),
        ([(WIDE, 500.0)], True),
        # The last 400 mm are the forearm's: wide before them is enough, wide within them is of no use.
        ([(WIDE, 150.0), (NARROW, 350.0)], True),
        ([(WIDE, 50.0), (NARROW, 450.0)], False),
        ([(NARROW, 150.0), (WIDE, 350.0)], False),
        ([(WIDE, 750.0)], False),
    ],
)
def test_a_deep_tube_takes_an_upper_arm_on_all_but_its_last_forearm(
    pieces_mm: list[tuple[float, float]], is_reached: bool
) -> None:
    """Openings for forearm 100 and shoulder 125 mm: MIL-STD-1472, arm and hand access (from memory)."""
    scene = tube(*pieces_mm, crew=Crew(reach_mm=LONG_MM))
    hands = Hands(scene)
    (bolt,) = hands.bolts.values()
    found = hands.verdict(bolt, scene.everything, floor=None)
    assert found.access.is_reachable == is_reached
    if pieces_mm[0][0] == NARROW and not is_reached:
        assert "beyond 400 mm the upper arm enters too, and no opening of 125 mm is left for it" in str(
            found.access.head
        )
        assert not found.is_shut


@pytest.mark.parametrize(
    ("width_mm", "crew", "is_wide"),
    [
        (NARROW, Crew(upper_arm_opening_mm=103.0), True),
        (WIDE, Crew(upper_arm_opening_mm=150.0), False),
        # A forearm that asks for more than the table's upper arm: the upper arm is no thinner.
        (180.0, Crew(forearm_opening_mm=150.0), True),
        (200.0, Crew(glove=Glove.HEAVY), False),
        (232.0, Crew(glove=Glove.HEAVY), True),
    ],
)
def test_the_shops_own_size_and_the_heavy_glove(width_mm: float, crew: Crew, is_wide: bool) -> None:
    scene = tube((width_mm, 500.0), crew=replace(crew, reach_mm=LONG_MM))
    room = Hands(scene).room
    way = room.way((0.0, 0.0, 25.0), scene.everything, None, is_pair=False)
    assert FOREARM_MM < way.mm <= LONG_MM
    assert way.is_wide == is_wide


@pytest.mark.parametrize(("width_mm", "is_wide"), [(225.0, False), (270.0, True)])
def test_two_arms_past_their_elbows_take_more(width_mm: float, is_wide: bool) -> None:
    """Both arms to the shoulder 500 x 125 mm, as large as a round opening of 250 mm; both hands 200 x 125, 158 mm."""
    scene = tube((width_mm, 500.0), crew=Crew(reach_mm=LONG_MM))
    way = Hands(scene).room.way((0.0, 0.0, 25.0), scene.everything, None, is_pair=True)
    assert FOREARM_MM < way.mm <= LONG_MM
    assert way.is_wide == is_wide


def test_an_upper_arm_goes_in_no_farther_than_a_forearm_leaves_of_the_reach() -> None:
    """A narrow tube 400 mm deep, and 400 mm beside it the mouth of a wide one that joins it: too long a way round."""
    body = rod((0, 0, 200), (0, 0, 1), 75, 200) + rod((200, 0, 200), (1, 0, 0), 90, 200)
    body -= rod((0, 0, 205), (0, 0, 1), NARROW / 2, 196)
    body -= rod((205, 0, 200), (1, 0, 0), WIDE / 2, 205)
    made = Assembly({"A": body})
    made.changes["crew"] = Crew(reach_mm=550.0)
    scene = scene_of(**made.given)
    way = Hands(scene).room.way((0.0, 0.0, 25.0), scene.everything, None, is_pair=False)
    assert FOREARM_MM < way.mm <= 550.0
    assert not way.is_wide
    longer = replace(scene.settings, crew=Crew(reach_mm=800.0))
    assert (
        Hands(replace(scene, settings=longer)).room.way((0.0, 0.0, 25.0), scene.everything, None, is_pair=False).is_wide
    )


CELL_MM = 20.0
REACH_MM = 560.0
"""Whole thirds of a cell: reach less forearm, and reach less fingers."""


def maze(seed: int) -> Scene:
    """A closed box with two holes in its roof, full of blocks."""
    rng = np.random.default_rng(seed)
    body = hollow((0, 0, 0), (460, 340, 460), 10)
    blocks: list[Manifold] = []
    for _ in range(14):
        low = rng.uniform((0, 0, 0), (420, 300, 330))
        high = low + rng.uniform(30, 170, 3)
        a, b, c = np.minimum(high, (455, 335, 420)).tolist()
        x, y, z = low.tolist()
        blocks.append(box((x, y, z), (a, b, c)))
    for block in blocks:
        body += block
    for at, width in ((110.0, rng.uniform(120, 150)), (340.0, rng.uniform(150, 190))):
        body -= rod((at, 170, 440), (0, 0, 1), width / 2, 40)
    made = Assembly({"A": body})
    made.changes["crew"] = Crew(reach_mm=REACH_MM)
    return scene_of(**made.given)


def shifted(flags: Flags, step: tuple[int, int, int]) -> Flags:
    """Flags moved by a step of one cell, what leaves the grid dropped."""
    padded = np.pad(flags, 1)
    return padded[tuple(slice(1 - s, 1 - s + n) for s, n in zip(step, flags.shape, strict=True))]


def by_walking_back(
    free: Flags, wide: Flags, start: Flags, palm: tuple[int, int, int], forearm_mm: float = FOREARM_MM
) -> bool:
    """Every walk from a palm to the outside, by its length: farther than a forearm from the tips by wide cells."""
    most = math.floor((REACH_MM - FINGERS_MM) * 3 / CELL_MM + 1e-9)
    at = [np.zeros(free.shape, dtype=bool) for _ in range(most + 6)]
    at[0][palm] = True
    for length in range(most + 1):
        is_past_elbow = length * CELL_MM / 3 + FINGERS_MM > forearm_mm
        at[length] &= wide if is_past_elbow else free | start
        if (at[length] & start).any():
            return True
        for step in product((-1, 0, 1), repeat=3):
            if any(step):
                at[length + 2 + sum(map(abs, step))] |= shifted(at[length], step)
    return False


@pytest.mark.parametrize("seed", [0, 2, 4])
def test_every_walk_through_a_maze_says_the_same(seed: int) -> None:
    scene = maze(seed)
    points = [point_tree(surface_points(mesh, 0.45 * CELL_MM)) for mesh in scene.meshes]
    room = HandRoom(scene, points, CELL_MM, Answers())
    zone = room.zones.of((230.0, 170.0, 200.0))
    zone = replace(zone, low=(0, 0, 0), high=room.grid.shape)
    field = room._field(zone, scene.everything, None, False)
    deep = room._deep(field)
    assert deep.upper is not None
    ways, rest = room._ways(field).mm(), room._ways(deep).mm()
    is_deep = (ways + FINGERS_MM > FOREARM_MM) & (ways + FINGERS_MM <= REACH_MM)
    is_reached = is_deep & (rest + FINGERS_MM <= FOREARM_MM)
    rng = np.random.default_rng(seed)
    yes, no = (rng.permutation(np.argwhere(cells))[:4].tolist() for cells in (is_reached, is_deep & ~is_reached))
    assert yes
    assert no
    given = (field.free, deep.upper.free, field.start)
    assert all(by_walking_back(*given, (x, y, z)) for x, y, z in yes)
    # A walk goes from cell to cell: where exactly the elbow lies is known to two steps across a cell.
    less_mm = FOREARM_MM - 2 * CELL_MM * 5 / 3
    assert not any(by_walking_back(*given, (x, y, z), less_mm) for x, y, z in no)
