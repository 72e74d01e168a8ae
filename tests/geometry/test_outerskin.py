"""The outer skin against closed forms: what is inside, between parts or under the figure does not count."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from assembler.figure.mesh import Mesh
from assembler.geometry.visibility import outer_skin_mm2

UP = (0.0, 0.0, 1.0)


def _mesh(body: Manifold) -> Mesh:
    soup = body.to_mesh64()
    return Mesh(vertices=np.array(soup.vert_properties[:, :3]), faces=np.array(soup.tri_verts, dtype=np.int64))


def test_the_inside_of_a_hollow_ball_is_no_skin() -> None:
    outer = trimesh.creation.icosphere(subdivisions=5, radius=500.0)
    inner = trimesh.creation.icosphere(subdivisions=5, radius=494.0)
    inner.invert()
    both = trimesh.util.concatenate([outer, inner])
    (skin,) = outer_skin_mm2([Mesh(vertices=np.asarray(both.vertices), faces=np.asarray(both.faces))], UP)
    assert skin == pytest.approx(outer.area, rel=0.005)


def test_a_cavity_that_is_open_below_is_no_skin_and_neither_is_what_stands_on_the_ground() -> None:
    cup = Manifold.cylinder(1000.0, 300.0, 300.0, 128) - Manifold.cylinder(990.0, 295.0, 295.0, 128)
    (skin,) = outer_skin_mm2([_mesh(cup)], UP)
    assert skin == pytest.approx(math.pi * (600.0 * 1000.0 + 300.0**2), rel=0.01)


def test_mating_faces_hide_each_other() -> None:
    lower = Manifold.cube((400.0, 400.0, 400.0))
    upper = Manifold.cube((400.0, 400.0, 400.0)).translate((0.0, 0.0, 400.3))
    skins = outer_skin_mm2([_mesh(lower), _mesh(upper)], UP)
    # Four sides each, and the top; the lowest face stands on the ground.
    assert skins[0] == pytest.approx(4 * 400.0**2, rel=0.01)
    assert skins[1] == pytest.approx(5 * 400.0**2, rel=0.01)


def test_which_way_is_up_does_not_matter() -> None:
    cup = Manifold.cylinder(1000.0, 300.0, 300.0, 64) - Manifold.cylinder(990.0, 295.0, 295.0, 64)
    upright = outer_skin_mm2([_mesh(cup)], UP)
    turned = outer_skin_mm2([_mesh(cup.rotate((-90.0, 0.0, 0.0)))], (0.0, 1.0, 0.0))
    assert turned[0] == pytest.approx(upright[0], rel=0.01)


def test_nothing_has_no_skin() -> None:
    assert outer_skin_mm2([], UP) == ()
