"""A flat hand pushed straight in, against the same rule walked cell by cell."""

from __future__ import annotations

import math

import numpy as np

from assembler.geometry.flatpush import flat_pushes
from assembler.geometry.freespace import Grid
from assembler.geometry.wayin import way_in


def walked(taken: np.ndarray, ways: np.ndarray, half: tuple[int, int], steps: int, cell_mm: float) -> np.ndarray:
    """Every push from every start, one at a time."""
    best = np.full(ways.shape, np.inf, dtype=np.float32)
    for start in np.argwhere(np.isfinite(ways)):
        for along in range(3):
            for wide in {0, 1, 2} - {along}:
                for sign in (1, -1):
                    at, way = start.copy(), np.float32(ways[tuple(start)])
                    for _ in range(steps):
                        at[along] += sign
                        around = [slice(at[along], at[along] + 1)] * 3
                        around[wide] = slice(max(0, at[wide] - half[0]), at[wide] + half[0] + 1)
                        other = 3 - along - wide
                        around[other] = slice(max(0, at[other] - half[1]), at[other] + half[1] + 1)
                        if not 0 <= at[along] < ways.shape[along] or taken[tuple(around)].any():
                            break
                        way += np.float32(cell_mm)
                        best[tuple(at)] = min(best[tuple(at)], way)
    return best


def test_pushes_are_those_of_a_walk_cell_by_cell() -> None:
    rng = np.random.default_rng(4)
    taken = rng.random((9, 8, 7)) < 0.02
    ways = np.where(rng.random(taken.shape) < 0.1, rng.integers(0, 9, taken.shape), np.inf).astype(np.float32)
    found = flat_pushes(taken, ways, np.ones_like(taken), width_mm=50.0, thick_mm=30.0, push_mm=45.0, cell_mm=10.0)
    expected = walked(taken, ways, (math.ceil(2.5) - 1, math.ceil(1.5) - 1), 4, 10.0)
    assert np.isfinite(expected).any()
    assert np.isinf(expected).any()
    np.testing.assert_array_equal(found, expected)
    asked = rng.random(taken.shape) < 0.2
    found = flat_pushes(taken, ways, asked, width_mm=50.0, thick_mm=30.0, push_mm=45.0, cell_mm=10.0)
    np.testing.assert_array_equal(found, np.where(asked, expected, np.inf))


def test_no_start_gives_no_way() -> None:
    ways = np.full((4, 4, 4), np.inf, dtype=np.float32)
    free = np.zeros(ways.shape, dtype=bool)
    assert np.isinf(flat_pushes(free, ways, ~free, width_mm=20.0, thick_mm=10.0, push_mm=30.0, cell_mm=10.0)).all()


def test_a_way_never_enters_what_is_shut() -> None:
    free = np.ones((5, 5, 5), dtype=bool)
    free[2] = False
    start = np.zeros_like(free)
    start[0, 2, 2] = True
    ways = way_in(free, start, 1_000.0, Grid(origin_mm=(0.0, 0.0, 0.0), cell_mm=10.0, shape=(5, 5, 5))).mm()
    assert np.isfinite(ways[:2]).all()
    assert np.isinf(ways[2:]).all()
