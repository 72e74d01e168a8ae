"""Projected areas against closed forms and against manifold3d's own projection."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from manifold3d import Mesh as Soup

from assembler.figure.frames import plan_frame
from assembler.figure.mesh import Mesh
from assembler.geometry.visibility import feet_in_plan, silhouettes

UP = (0.0, 0.0, 1.0)


def _mesh(body: trimesh.Trimesh) -> Mesh:
    return Mesh(vertices=np.asarray(body.vertices), faces=np.asarray(body.faces))


def test_a_sphere_looks_the_same_from_every_side() -> None:
    ball = trimesh.creation.icosphere(subdivisions=5, radius=500.0)
    ball.apply_translation((30.0, -70.0, 800.0))
    for seen in silhouettes([_mesh(ball)], UP):
        assert seen.area_mm2 == pytest.approx(math.pi * 500.0**2, rel=0.005)
        assert seen.centre_height_mm == pytest.approx(500.0, abs=1.0)


def test_a_box_shows_its_width_as_trigonometry_says() -> None:
    box = _mesh(trimesh.creation.box(extents=(400.0, 200.0, 1000.0)))
    for seen in silhouettes([box], UP):
        across = abs(seen.toward[0]) * 200.0 + abs(seen.toward[1]) * 400.0
        assert seen.area_mm2 == pytest.approx(across * 1000.0, rel=0.006)
        assert seen.centre_height_mm == pytest.approx(500.0, abs=3.0)


def test_parts_behind_each_other_count_once_and_holes_stay_open() -> None:
    ring = trimesh.creation.annulus(r_min=200.0, r_max=300.0, height=50.0)
    ring.apply_transform(trimesh.transformations.rotation_matrix(math.pi / 2, (0.0, 1.0, 0.0)))
    behind = ring.copy()
    behind.apply_translation((500.0, 0.0, 0.0))
    facing = silhouettes([_mesh(ring), _mesh(behind)], UP)[0]
    assert facing.toward == (1.0, 0.0)
    assert facing.area_mm2 == pytest.approx(math.pi * (300.0**2 - 200.0**2), rel=0.02)


@pytest.mark.parametrize("seed", range(3))
def test_the_projection_of_a_general_solid_library_agrees(seed: int) -> None:
    # Oracle: manifold3d projects the solid onto a plane and unites the triangles exactly.
    random = np.random.default_rng(seed)
    bodies = []
    for _ in range(4):
        piece = trimesh.creation.icosphere(subdivisions=3, radius=1.0)
        piece.apply_scale(random.uniform(80.0, 200.0, 3))
        piece.apply_translation(random.uniform(-250.0, 250.0, 3))
        bodies.append(piece)
    united = Manifold()
    for piece in bodies:
        united += _solid(piece)
    for seen in silhouettes([_mesh(piece) for piece in bodies], UP, sides=4):
        along = np.array([*seen.toward, 0.0])
        frame = np.array([np.cross((0.0, 0.0, 1.0), along), (0.0, 0.0, 1.0), along])
        flat = united.transform(np.column_stack((frame, np.zeros(3)))).project()
        assert seen.area_mm2 == pytest.approx(flat.area(), rel=0.006)


def _solid(body: trimesh.Trimesh) -> Manifold:
    return Manifold(Soup(np.asarray(body.vertices, dtype=np.float32), np.asarray(body.faces, dtype=np.uint32)))


@pytest.mark.parametrize("up", [(0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0), (0.6, 0.0, 0.8)])
def test_the_plan_frame_is_right_handed_with_up_last(up: tuple[float, float, float]) -> None:
    frame = plan_frame(up)
    assert np.allclose(frame @ frame.T, np.eye(3))
    assert np.allclose(frame[2], up)
    assert np.linalg.det(frame) == pytest.approx(1.0)


def test_plan_axes_are_those_of_the_file_where_z_is_up() -> None:
    assert np.array_equal(plan_frame(UP), np.eye(3))


def test_a_lying_figure_is_seen_from_its_own_sides() -> None:
    # The same box, once with z up and once with y up, shows the same areas.
    upright = silhouettes([_mesh(trimesh.creation.box(extents=(400.0, 200.0, 1000.0)))], UP)
    turned = silhouettes([_mesh(trimesh.creation.box(extents=(200.0, 1000.0, 400.0)))], (0.0, 1.0, 0.0))
    for one, other in zip(upright, turned, strict=True):
        assert one.area_mm2 == pytest.approx(other.area_mm2, rel=0.01)


def test_feet_are_the_lowest_points_of_all() -> None:
    low = trimesh.creation.box(extents=(100.0, 60.0, 20.0))
    high = low.copy()
    high.apply_translation((500.0, 0.0, 5.0))
    feet = feet_in_plan([_mesh(low), _mesh(high)], UP)
    assert sorted(map(tuple, np.unique(feet, axis=0))) == [(-50.0, -30.0), (-50.0, 30.0), (50.0, -30.0), (50.0, 30.0)]


def test_without_meshes_nothing_is_seen() -> None:
    with pytest.raises(ValueError, match="no meshes"):
        silhouettes([], UP)
