"""Ways past fewer parts found from those past more, against ways found afresh and against a graph of all cells."""

from __future__ import annotations

from itertools import product

import networkx as nx
import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from assembler.geometry.freespace import Grid, outside_of
from assembler.geometry.wayin import way_in

GRID = Grid(origin_mm=(0.0, 0.0, 0.0), cell_mm=30.0, shape=(9, 8, 7))


def by_graph(free: np.ndarray, start: np.ndarray, limit_mm: float) -> np.ndarray:
    """Shortest ways by networkx: 3, 4 or 5 tenths of 100 mm a step."""
    graph = nx.Graph()
    for cell in map(tuple, np.argwhere(free | start).tolist()):
        graph.add_node(cell)
        for step in product((-1, 0, 1), repeat=3):
            other = tuple(a + b for a, b in zip(cell, step, strict=True))
            is_inside = min(other) >= 0 and all(o < n for o, n in zip(other, free.shape, strict=True))
            if any(step) and is_inside and (free[other] or start[other]):
                graph.add_edge(cell, other, weight=10.0 * (2 + sum(map(abs, step))))
    found = np.full(free.shape, np.inf)
    sources = list(map(tuple, np.argwhere(start).tolist()))
    for cell, length in nx.multi_source_dijkstra_path_length(graph, sources, cutoff=limit_mm).items():
        found[cell] = length
    return found


@pytest.mark.parametrize("seed", range(6))
def test_ways_past_fewer_parts_follow_from_ways_past_more(seed: int) -> None:
    rng = np.random.default_rng(seed)
    share = rng.random(GRID.shape)
    starts = rng.random(GRID.shape)
    known = None
    for level in (0.45, 0.55, 0.7, 0.9):
        free = share < level
        start = free & (starts < level * level / 30.0)
        known = way_in(free, start, 260.0, GRID, known)
        afresh = way_in(free, start, 260.0, GRID)
        np.testing.assert_array_equal(known.mm(), afresh.mm())
        np.testing.assert_allclose(afresh.mm(), by_graph(free, start, 260.0), rtol=1e-6)


def test_ways_on_a_part_of_the_grid_go_on_from_ways_on_all_of_it() -> None:
    rng = np.random.default_rng(3)
    free = rng.random(GRID.shape) < 0.6
    start = free & (rng.random(GRID.shape) < 0.05)
    # The far layers are starts, as is everything beyond the margin around what stands.
    free[:2] = start[:2] = True
    low, high = (2, 0, 0), GRID.shape
    wider = free | (rng.random(GRID.shape) < 0.2)
    known = way_in(free, start, 400.0, GRID)
    np.testing.assert_array_equal(known.mm(low, high), known.part(low, high).mm())
    begun = start[2:].copy()
    begun[0] = wider[2]
    found = way_in(wider[2:], begun, 400.0, GRID, known.part(low, high))
    np.testing.assert_array_equal(found.mm(), way_in(wider[2:], begun, 400.0, GRID).mm())


def test_ways_past_other_parts_are_refused() -> None:
    free = np.ones(GRID.shape, dtype=bool)
    start = np.zeros_like(free)
    start[0] = True
    known = way_in(free, start, 260.0, GRID)
    less = free.copy()
    less[4, 4, 4] = False
    for now, begun, limit in ((less, start, 260.0), (free, ~start, 260.0), (free, start, 500.0)):
        with pytest.raises(ValueError, match="ways past more parts"):
            way_in(now, begun, limit, GRID, known)


@pytest.mark.parametrize("radius_mm", [100.0, 130.0, 225.0])
def test_a_ball_covers_what_lies_nearer_than_its_radius_to_a_place_of_its_centre(radius_mm: float) -> None:
    rng = np.random.default_rng(int(radius_mm))
    grid = Grid(origin_mm=(0.0, 0.0, 0.0), cell_mm=20.0, shape=(22, 25, 28))
    blocked = rng.random(grid.shape) < 0.995
    blocked[0] = rng.random(grid.shape[1:]) < 0.9
    found = outside_of(blocked, radius_mm, grid)
    # Only the places at the rim count as reached here, since nothing else that is free touches them.
    reached = np.zeros_like(blocked)
    edge = ~blocked
    seen = [tuple(c) for c in np.argwhere(edge) if any(i in (0, n - 1) for i, n in zip(c, grid.shape, strict=True))]
    while seen:
        cell = seen.pop()
        if reached[cell]:
            continue
        reached[cell] = True
        for axis, step in product(range(3), (1, -1)):
            other = tuple(c + step * (k == axis) for k, c in enumerate(cell))
            if all(0 <= o < n for o, n in zip(other, grid.shape, strict=True)) and edge[other]:
                seen.append(other)
    expected = distance_transform_edt(~reached) * 20.0 < radius_mm - np.sqrt(3.0) * 20.0
    np.testing.assert_array_equal(found, expected)
