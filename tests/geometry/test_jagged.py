"""Slivers at the edge of a mating surface: which side they belong to, and how long the edge is then."""

from __future__ import annotations

import numpy as np

from assembler.figure.mesh import Mesh
from assembler.geometry.jagged import with_slivers
from assembler.geometry.rims import rim_of


def strip(rise: float) -> Mesh:
    """A strip of 40 x 10 in the plane z = 0 whose far edge is made of slivers 0.5 high, and a wall below that edge.

    `rise` lifts the far edge by that much over the 0.5 mm of the slivers.
    """
    x = np.arange(0.0, 41.0, 4.0)
    rows = [
        np.column_stack((x, np.full(11, y), np.full(11, z))) for y, z in ((0, 0), (10, 0), (10.5, rise), (10.5, -9))
    ]
    faces = []
    for row in range(3):
        for k in range(10):
            a, b = 11 * row + k, 11 * row + k + 1
            faces += [(a, b, b + 11), (a, b + 11, a + 11)]
    return Mesh(vertices=np.vstack(rows), faces=np.array(faces))


def measured(rise: float, missing: slice) -> tuple[np.ndarray, float]:
    """Which faces mate when samples tell of all but some slivers, and the length of their edge."""
    mesh = strip(rise)
    corners = mesh.corners
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    told = np.zeros(60, dtype=bool)
    told[:40] = True
    told[20:40][missing] = False
    before = told.copy()
    mating = with_slivers(mesh, normals, told, np.ones(60, dtype=bool), 1.0)
    assert np.array_equal(told, before)
    rim, _ = rim_of(mesh, np.flatnonzero(mating))
    return mating, float(np.linalg.norm(mesh.vertices[rim[:, 0]] - mesh.vertices[rim[:, 1]], axis=1).sum())


def test_level_slivers_are_taken_in_and_the_wall_is_not() -> None:
    mating, edge_mm = measured(0.0, slice(None, None, 3))
    assert np.array_equal(np.flatnonzero(mating), np.arange(40))
    assert edge_mm == 2 * (40.0 + 10.5)


def test_a_chamfer_is_not_taken_in() -> None:
    mating, _ = measured(-0.5, slice(None))
    assert np.array_equal(np.flatnonzero(mating), np.arange(20))


def test_a_needle_beyond_the_edge_that_was_told_to_mate_is_left_out() -> None:
    # A square in z = 0, a needle that hangs on its corner with 0.05 mm only, and the wall on both sides of the needle.
    corners = [[0, 0, 0], [20, 0, 0], [20, 10, 0], [0, 10, 0], [0, 10.05, 0], [-9, 10, 0], [-9, 10, -8], [0, 18, -8]]
    faces = [[0, 1, 2], [0, 2, 3], [3, 2, 4], [3, 4, 5], [3, 5, 6], [5, 4, 7]]
    mesh = Mesh(vertices=np.array(corners, dtype=np.float64), faces=np.array(faces))
    normals = np.array([[0, 0, 1.0], [0, 0, 1], [0, 0, 1], [0, 0, 1], [0, -1, 0], [0, 1, 0]])
    told = np.array([True, True, True, True, False, False])
    mating = with_slivers(mesh, normals, told, np.ones(6, dtype=bool), 1.0)
    assert mating.tolist() == [True, True, True, False, False, False]
