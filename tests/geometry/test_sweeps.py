"""Blocking by heights against solids that are really moved."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.figure.mesh import Mesh
from assembler.geometry.sweeps import (
    blocked_pairs,
    frame_of,
    is_blocked_in_strip,
    overlap,
    rod_overlap,
    solid,
    surface_hits,
)
from tests.specimens import box, mesh_of


def test_height_blocking_equals_moving_the_solids() -> None:
    rng = np.random.default_rng(5)
    bodies = [Manifold.sphere(30.0, 48).translate(tuple(rng.uniform(-90, 90, 3))) for _ in range(6)] + [
        Manifold.cube((40.0, 60.0, 30.0), True).rotate(tuple(rng.uniform(0, 90, 3))).translate((0, 0, 200.0))
    ]
    direction = np.array([0.3, -0.4, 0.866])
    direction /= np.linalg.norm(direction)
    table = blocked_pairs([mesh_of(b) for b in bodies], tuple(direction.tolist()), cell_mm=2.0, overlap_mm=0.3)
    for i, first in enumerate(bodies):
        for j, second in enumerate(bodies):
            if i == j:
                continue
            volumes = [(first.translate(tuple(direction * t)) ^ second).volume() for t in np.arange(0.0, 600.0, 5.0)]
            is_hit = max(volumes) > 300.0
            if max(volumes) == 0.0 or is_hit:
                assert bool(table.wide[i, j]) == is_hit, (i, j, max(volumes))


def test_the_opposite_direction_is_the_transpose() -> None:
    meshes = [mesh_of(box((0, 0, 0), (50, 50, 10))), mesh_of(box((20, 20, 15), (80, 80, 30)))]
    up = blocked_pairs(meshes, (0.0, 0.0, 1.0), cell_mm=3.0, overlap_mm=0.3)
    down = blocked_pairs(meshes, (0.0, 0.0, -1.0), cell_mm=3.0, overlap_mm=0.3)
    assert np.array_equal(up.backwards().wide, down.wide)
    assert up.wide[0, 1]
    assert not up.wide[1, 0]


def test_flush_faces_slide_whatever_the_noise() -> None:
    rng = np.random.default_rng(11)
    first = mesh_of(box((0, 0, 0), (100, 100, 50)).refine(12))
    second = mesh_of(box((100, 0, 0), (200, 100, 50)).refine(12))
    noisy = [Mesh(vertices=m.vertices + rng.normal(0, 0.02, m.vertices.shape), faces=m.faces) for m in (first, second)]
    table = blocked_pairs(noisy, (0.0, 0.0, 1.0), cell_mm=5.0, overlap_mm=0.3)
    assert not table.wide.any()
    for (i, j), strip in table.strips.items():
        assert not is_blocked_in_strip(noisy[i], noisy[j], (0.0, 0.0, 1.0), strip, cell_mm=0.5, overlap_mm=0.3)


def test_a_thin_pin_across_the_way_is_found() -> None:
    plate = mesh_of(box((0, 0, 0), (100, 100, 10)))
    pin = mesh_of(box((49, -20, 40), (52, 120, 43)))
    up = (0.0, 0.0, 1.0)
    table = blocked_pairs([plate, pin], up, cell_mm=5.0, overlap_mm=0.3)
    narrow = [is_blocked_in_strip(plate, pin, up, s, cell_mm=0.5, overlap_mm=0.3) for s in table.strips.values()]
    assert table.wide[0, 1] or any(narrow)


def test_a_peg_leaves_its_blind_hole_one_way_only() -> None:
    block = mesh_of(box((-50, -50, -50), (50, 50, 50)) - box((-10, -10, 0), (10, 10, 60)))
    peg = mesh_of(box((-10, -10, 0), (10, 10, 80)))
    free = []
    for axis in range(3):
        for sign in (1.0, -1.0):
            way = [0.0, 0.0, 0.0]
            way[axis] = sign
            table = blocked_pairs([peg, block], (way[0], way[1], way[2]), cell_mm=3.0, overlap_mm=0.3)
            if not table.wide[0, 1]:
                free.append((axis, sign))
    assert free == [(2, 1.0)]


def test_overlap_measures_depth_and_forgives_touching() -> None:
    first, second = solid(mesh_of(box((0, 0, 0), (100, 100, 100)))), solid(mesh_of(box((100, 0, 0), (200, 100, 100))))
    assert first is not None
    assert second is not None
    assert not overlap(first, second, (0.0, 0.0, 0.0)).is_collision(0.3)
    assert not overlap(first, second, (0.2, 0.0, 0.0)).is_collision(0.3)
    deep = overlap(first, second, (5.0, 0.0, 0.0))
    assert deep.is_collision(0.3)
    assert deep.volume_mm3 == pytest.approx(5.0 * 100.0 * 100.0, rel=1e-5)
    # A slab of 5 x 100 x 100: twice its volume by its surface.
    assert deep.depth_mm == pytest.approx(2 * 50000.0 / (2 * 10000.0 + 4 * 500.0), rel=1e-5)


def test_an_open_mesh_is_no_solid() -> None:
    whole = mesh_of(box((0, 0, 0), (10, 10, 10)))
    assert solid(Mesh(vertices=whole.vertices, faces=whole.faces[1:])) is None


def test_rods_and_rays_meet_what_is_there() -> None:
    body = solid(mesh_of(box((0, 0, 0), (100, 100, 20))))
    assert body is not None
    assert rod_overlap(body, (50.0, 50.0, -30.0), (50.0, 50.0, 50.0), 5.0).volume_mm3 == pytest.approx(
        20.0 * 24 / 2 * 25.0 * np.sin(2 * np.pi / 24), rel=1e-4
    )
    assert rod_overlap(body, (50.0, 50.0, 21.0), (50.0, 50.0, 50.0), 5.0).volume_mm3 == 0.0
    assert surface_hits(body, (50.3, 50.1, 5.0), (0.0, 0.0, 1.0), 100.0) == pytest.approx((15.0,))
    assert surface_hits(body, (50.3, 50.1, -5.0), (0.0, 0.0, 1.0), 100.0) == pytest.approx((5.0, 25.0))


def test_frames_of_opposite_directions_share_their_grid() -> None:
    ahead, back = frame_of((0.6, 0.0, 0.8)), frame_of((-0.6, 0.0, -0.8))
    assert np.allclose(ahead[:2], back[:2])
    assert np.allclose(ahead[2], -back[2])
    assert np.allclose(ahead @ ahead.T, np.eye(3))
