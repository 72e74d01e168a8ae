"""Light copies stay within their error, measured against the full mesh by brute force."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from assembler.drawing.scenes import light_mesh, smooth_groups
from assembler.figure.mesh import Mesh
from tests.drawing.specimens import skittle


def dented_ball(subdivisions: int = 6) -> Mesh:
    """A ball of 150 mm with a texture of 1 mm: what a cleaned scan looks like to a drawing."""
    ball = trimesh.creation.icosphere(subdivisions=subdivisions, radius=150.0)
    way = ball.vertices / 150.0
    bump = np.sin(way[:, 0] * 30.0) * np.sin(way[:, 1] * 27.0) * np.sin(way[:, 2] * 24.0)
    return Mesh(vertices=ball.vertices + way * bump[:, None], faces=ball.faces)


def deviation(light: Mesh, full: Mesh) -> float:
    """Greatest distance of vertices of the full mesh from the light surface, mm."""
    body = trimesh.Trimesh(light.vertices, light.faces, process=False)
    points = full.vertices[:: max(len(full.vertices) // 120, 1)]
    _, distance, _ = trimesh.proximity.closest_point_naive(body, points)
    return float(distance.max())


@pytest.mark.parametrize("error", [0.5, 1.5])
def test_light_copy_stays_within_its_error(error):
    full = dented_ball(5)
    light = light_mesh(full, error)
    assert len(light.faces) < 0.85 * len(full.faces)
    assert deviation(light, full) < error


def test_flange_and_holes_survive():
    full = skittle().meshes["P01"]
    light = light_mesh(full, 0.5)
    assert deviation(light, full) < 0.5
    rim = light.vertices[np.abs(light.vertices[:, 2] - 300.0) < 0.05]
    for bolt in skittle().plan.joints[2].bolts:
        away = np.hypot(*(rim[:, :2] - bolt.at_mm[:2]).T)
        assert np.sum(np.abs(away - 4.5) < 0.3) >= 6


def test_small_meshes_are_left_alone_and_input_is_unchanged():
    full = skittle().meshes["P01"]
    before = full.vertices.copy()
    assert light_mesh(full, 0.001) is full
    light_mesh(full, 2.0)
    assert np.array_equal(before, full.vertices)


def test_sharp_edges_keep_two_normals_and_round_ones_share():
    box = trimesh.creation.box((10.0, 10.0, 10.0))
    vertices, normals, faces = smooth_groups(Mesh(vertices=box.vertices, faces=box.faces))
    assert len(vertices) == 24
    assert np.allclose(np.abs(normals).max(axis=1), 1.0)
    assert faces.shape == (12, 3)
    ball = trimesh.creation.icosphere(subdivisions=3, radius=50.0)
    vertices, normals, _ = smooth_groups(Mesh(vertices=ball.vertices, faces=ball.faces))
    assert len(vertices) == len(ball.vertices)
    assert np.einsum("ij,ij->i", normals, vertices / 50.0).min() > 0.999
