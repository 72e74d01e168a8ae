"""Cuts against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from assembler.drawing.cutview import kept_below
from assembler.figure.mesh import Mesh


def ball() -> Mesh:
    body = trimesh.creation.icosphere(subdivisions=4, radius=10.0)
    return Mesh(vertices=body.vertices, faces=body.faces)


@pytest.mark.parametrize("offset", [-4.0, 0.0, 5.0])
def test_what_is_left_is_closed_and_has_the_volume_of_a_cap(offset):
    left = kept_below(ball(), (0.0, 0.0, 2.0), offset)
    body = trimesh.Trimesh(left.vertices, left.faces)
    assert body.is_watertight
    assert left.vertices[:, 2].max() == pytest.approx(offset)
    high = 10.0 + offset
    assert body.volume == pytest.approx(np.pi * high**2 * (30.0 - high) / 3.0, rel=0.01)


def test_plane_beyond_the_body_leaves_all_or_nothing():
    assert len(kept_below(ball(), (1.0, 0.0, 0.0), 11.0).faces) == len(ball().faces)
    assert len(kept_below(ball(), (1.0, 0.0, 0.0), -11.0).faces) == 0


def test_open_mesh_is_not_cut():
    whole = ball()
    assert kept_below(Mesh(vertices=whole.vertices, faces=whole.faces[1:]), (0.0, 0.0, 1.0), 0.0) is None
