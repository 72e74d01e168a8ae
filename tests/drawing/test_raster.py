"""Buffers against closed forms: a box square on, its distance, its normals, its number."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from assembler.drawing.camera import Camera
from assembler.drawing.raster import Rasteriser
from assembler.drawing.scenes import Item, Role
from assembler.figure.mesh import Mesh


def box(size: tuple[float, float, float], at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Mesh:
    body = trimesh.creation.box(size)
    return Mesh(vertices=body.vertices + np.asarray(at), faces=body.faces)


def front_camera(mm_per_px: float = 1.0) -> Camera:
    return Camera(
        eye=(0.0, -1.0, 0.0),
        up=(0.0, 0.0, 1.0),
        centre_mm=(0.0, 0.0, 0.0),
        mm_per_px=mm_per_px,
        width_px=80,
        height_px=60,
    )


@pytest.fixture(scope="module")
def rasteriser():
    shapes = {"near": box((10.0, 10.0, 10.0), (0.0, -20.0, 0.0)), "far": box((40.0, 10.0, 30.0), (0.0, 30.0, 0.0))}
    with Rasteriser(shapes) as made:
        yield made


def item(name: str, **place) -> Item:
    return Item(name=name, shape=name, role=Role.STANDING, **place)


def test_ids_depth_and_normals_of_two_boxes(rasteriser):
    seen = rasteriser.draw([item("far"), item("near")], front_camera())
    assert int((seen.ids == 2).sum()) == 100
    assert int((seen.ids == 1).sum()) == 40 * 30 - 100
    assert np.allclose(seen.near_mm[seen.ids == 2], 25.0, atol=1e-3)
    assert np.allclose(seen.near_mm[seen.ids == 1], -25.0, atol=1e-3)
    assert np.allclose(seen.normals[seen.ids > 0], [0.0, 0.0, 1.0], atol=0.01)
    assert not seen.normals[seen.ids == 0].any()


def test_order_of_items_does_not_change_what_is_seen(rasteriser):
    first = rasteriser.draw([item("far"), item("near")], front_camera())
    second = rasteriser.draw([item("near"), item("far")], front_camera())
    assert np.array_equal(first.ids == 1, second.ids == 2)
    assert np.array_equal(first.near_mm, second.near_mm)


def test_shifted_turned_and_repeated_shapes(rasteriser):
    quarter = ((0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0))
    seen = rasteriser.draw(
        [item("far", turn=quarter), item("near", shift_mm=(25.0, 0.0, 0.0)), item("near")], front_camera()
    )
    assert int((seen.ids == 3).sum()) == 100
    columns = np.nonzero((seen.ids == 2).any(axis=0))[0]
    assert (columns.min(), columns.max()) == (60, 69)
    assert int((seen.ids == 1).sum()) == 30 * 40 - 100


def test_near_cut_takes_away_what_stands_before_it(rasteriser):
    seen = rasteriser.draw([item("far"), item("near")], front_camera(), nearest_mm=0.0)
    assert set(np.unique(seen.ids)) == {0, 1}


def test_more_than_255_items_keep_their_numbers(rasteriser):
    small = [item("near", shift_mm=(0.0, 0.0, 1000.0)) for _ in range(299)]
    seen = rasteriser.draw([*small, item("near")], front_camera())
    assert set(np.unique(seen.ids)) == {0, 300}


def test_items_without_mesh_draw_nothing(rasteriser):
    seen = rasteriser.draw([item("missing")], front_camera())
    assert not seen.ids.any()
