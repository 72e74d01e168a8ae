"""Cells where bodies come near each other, against every pair of cells compared with every other."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from assembler.geometry.samples import Grid, near_cells

GRID = Grid(low_mm=np.zeros(3), cell_mm=8.0, shape=(12, 14, 16))


def _body(random: np.random.Generator) -> NDArray[np.int64]:
    """A handful of cells in a box somewhere; the grid's outermost layer stays empty, as it does round every figure."""
    size = random.integers(1, 6, 3)
    low = random.integers(1, np.array(GRID.shape) - 1 - size)
    cells = low + random.integers(0, size, (random.integers(1, 30), 3))
    return np.unique(np.ravel_multi_index(tuple(cells.T), GRID.shape))


@pytest.mark.parametrize("seed", range(12))
def test_near_cells_are_those_that_comparing_all_with_all_finds(seed: int) -> None:
    random = np.random.default_rng(seed)
    bodies = [_body(random) for _ in range(7)]
    expected = {}
    for i, j in combinations(range(len(bodies)), 2):
        one, two = (np.column_stack(np.unravel_index(bodies[k], GRID.shape)) for k in (i, j))
        is_near = np.abs(one[:, None] - two[None]).max(axis=2) <= 1
        if is_near.any():
            expected[i, j] = (bodies[i][is_near.any(axis=1)].tolist(), bodies[j][is_near.any(axis=0)].tolist())
    found = near_cells(bodies, GRID)
    assert {pair: (one.tolist(), two.tolist()) for pair, (one, two) in found.items()} == expected
