"""Room for hands, against shapes whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold
from numpy.typing import NDArray

from assembler.geometry.freespace import (
    Grid,
    coarser,
    combined,
    grid_around,
    grown,
    grown_from,
    outside_of,
    part_of_grid,
    patch_of,
    point_tree,
    refined,
    surface_points,
)
from assembler.geometry.wayin import way_in
from tests.specimens import box, mesh_of


def test_surface_points_lie_on_the_surface_and_leave_no_gap() -> None:
    mesh = mesh_of(box((0, 0, 0), (300, 20, 90)))
    points = surface_points(mesh, 5.0)
    on_face = np.min(np.abs(np.concatenate([points, points - [300, 20, 90]], axis=1)), axis=1)
    assert on_face.max() < 1e-9
    top = points[np.abs(points[:, 2] - 90) < 1e-9]
    for x in np.arange(2.5, 300, 5):
        for y in (3.0, 10.0, 17.0):
            assert np.min(np.hypot(top[:, 0] - x, top[:, 1] - y)) < 5.0


def test_growing_a_union_is_the_union_of_the_grown() -> None:
    grid = grid_around(np.zeros(3), np.full(3, 300.0), 10.0, 60.0)
    first = patch_of(surface_points(mesh_of(box((0, 0, 0), (100, 100, 100))), 5.0), grid)
    second = patch_of(surface_points(mesh_of(box((200, 150, 100), (300, 300, 300))), 5.0), grid)
    apart = combined([grown(first, 45.0, grid), grown(second, 45.0, grid)], grid)
    whole = combined([first, second], grid)
    low = tuple(int(v) for v in np.zeros(3))
    joined = grown(type(first)(low=(low[0], low[1], low[2]), flags=whole), 45.0, grid)
    assert np.array_equal(apart, combined([joined], grid))


@pytest.fixture(scope="module")
def surface() -> tuple[NDArray[np.float64], Grid, NDArray[np.float64]]:
    """Points of a body's surface, a grid around, and how far each cell is from the nearest point, one by one."""
    body = Manifold.cylinder(120, 70, 40, 48).rotate((20, 35, 0))
    points = surface_points(mesh_of(body), 4.5)
    grid = grid_around(points.min(axis=0), points.max(axis=0), 10.0, 95.0)
    centres = (np.argwhere(np.ones(grid.shape)) + 0.5) * grid.cell_mm + grid.origin_mm
    return points, grid, np.array([np.min(np.linalg.norm(points - centre, axis=1)) for centre in centres])


@pytest.mark.parametrize("radius_mm", [23.0, 50.0, 79.0])
def test_growing_from_a_surface_measures_from_its_points(surface, radius_mm: float) -> None:
    points, grid, nearest = surface
    patch = grown_from(point_tree(points), patch_of(points, grid), radius_mm, grid)
    expected = (nearest < radius_mm).reshape(grid.shape)
    assert np.array_equal(combined([patch], grid), expected)


def test_way_in_counts_from_the_start_and_round_a_corner() -> None:
    grid = grid_around(np.zeros(3), np.array([400.0, 10.0, 400.0]), 10.0, 0.0)
    free = np.ones(grid.shape, dtype=bool)
    free[20, :, :35] = False
    start = np.zeros(grid.shape, dtype=bool)
    start[0] = True
    way = way_in(free, start, 2000.0, grid).mm()
    assert way[10, 0, 5] == pytest.approx(100.0)
    assert np.isinf(way[20, 0, 5])
    # Straight behind the wall the way leads over its end: longer than the straight line, by no more than 9 %.
    straight = np.hypot(200, 350 - 55) * 2 * 0.5 + np.hypot(10, 295)
    assert way[21, 0, 5] > 300.0
    assert way[21, 0, 5] < 1.3 * straight


def test_ways_beyond_the_limit_are_not_followed() -> None:
    grid = grid_around(np.zeros(3), np.array([400.0, 10.0, 10.0]), 10.0, 0.0)
    start = np.zeros(grid.shape, dtype=bool)
    start[0] = True
    way = way_in(np.ones(grid.shape, dtype=bool), start, 100.0, grid).mm()
    assert np.isfinite(way[10, 0, 0])
    assert np.isinf(way[11, 0, 0])


@pytest.mark.parametrize(("opening_mm", "is_inside_reached"), [(0.0, False), (80.0, False), (160.0, True)])
def test_a_hand_enters_through_an_opening_that_is_wide_enough(opening_mm: float, is_inside_reached: bool) -> None:
    body = box((0, 0, 0), (600, 600, 600)) - box((8, 8, 8), (592, 592, 592))
    if opening_mm:
        body -= Manifold.cylinder(50, opening_mm / 2, opening_mm / 2, 64).translate((300, 300, 570))
    wide = grid_around(np.zeros(3), np.full(3, 600.0), 10.0, 540.0, multiple=3)
    rough = coarser(wide, 3)
    grid = part_of_grid(wide, (39, 39, 39), tuple(n - 39 for n in wide.shape))
    points = surface_points(mesh_of(body), 4.5)
    arm = combined([grown(patch_of(points, grid), 50.0, grid)], grid)
    outside = outside_of(combined([grown(patch_of(points, rough), 225.0, rough)], rough), 225.0, rough)
    room = refined(outside[13:-13, 13:-13, 13:-13], 3)
    assert room.shape == grid.shape
    middle = tuple(grid.cell_of(np.array([[300.0, 300.0, 300.0]]))[0])
    assert not room[middle]
    way = way_in(~arm, room & ~arm, 900.0, grid).mm()
    assert np.isfinite(way[middle]) == is_inside_reached
    if is_inside_reached:
        # From the opening at 600 down to 300, and a little above it where the body stops.
        assert 290.0 < way[middle] < 420.0
