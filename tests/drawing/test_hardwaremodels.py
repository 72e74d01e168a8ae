"""Hardware models are closed bodies of the true size, measured by manifold3d."""

from __future__ import annotations

from dataclasses import replace

import manifold3d as m3
import numpy as np
import pytest

from assembler.drawing.explode import axes_of, hang
from assembler.drawing.hardwaremodels import nominal_mm, nut, screw, washer
from assembler.figure.hardware import Stack
from assembler.figure.mesh import Mesh
from tests.drawing.specimens import skittle, stack_for


@pytest.fixture
def stack() -> Stack:
    joint = skittle().plan.joints[0]
    return stack_for(joint.bolts[0], joint.id)


def volume(mesh: Mesh) -> float:
    solid = m3.Manifold(
        m3.Mesh(vert_properties=mesh.vertices.astype(np.float32), tri_verts=mesh.faces.astype(np.uint32))
    )
    assert solid.status() == m3.Error.NoError
    return solid.volume()


def polygon(radius: float, sides: int) -> float:
    return 0.5 * sides * radius**2 * np.sin(2.0 * np.pi / sides)


def test_washer_and_nut_are_closed_rings_of_the_true_size(stack):
    ring = washer(stack)
    assert volume(ring) == pytest.approx((polygon(8.0, 32) - polygon(4.25, 32)) * 1.8, rel=1e-4)
    hexagon = nut(stack)
    assert np.ptp(hexagon.vertices[:, 2]) == pytest.approx(6.8)
    exact = (6.0 * (13.0 / 2.0) ** 2 * np.tan(np.pi / 6.0) - np.pi * 16.0) * 6.8
    assert volume(hexagon) == pytest.approx(exact, rel=0.01)


def test_screw_has_its_length_and_width_across_flats(stack):
    body = screw(stack)
    assert body.vertices[:, 2].min() == pytest.approx(-30.0)
    assert body.vertices[:, 2].max() == pytest.approx(5.3)
    head = body.vertices[body.vertices[:, 2] > 1.0]
    corners = np.hypot(head[:, 0], head[:, 1])
    assert corners.max() * np.cos(np.pi / 6.0) * 2.0 == pytest.approx(13.0)
    socket = screw(replace(stack, across_flats_mm=0.0, key_mm=6.0, head_outer_mm=13.0))
    assert np.hypot(socket.vertices[:, 0], socket.vertices[:, 1]).max() == pytest.approx(6.5)


def test_size_must_be_metric(stack):
    assert nominal_mm(stack) == 8.0
    with pytest.raises(ValueError, match="size '5/16' is not of the form 'M8'"):
        nominal_mm(replace(stack, size="5/16"))


def test_pieces_hang_on_their_axis_in_the_order_of_assembly():
    step = skittle().drawn[2]
    shift = (0.0, 0.0, 135.0)
    for axis in axes_of(step):
        pieces = hang(axis, dict.fromkeys(step.moves, shift))
        at, along = np.asarray(axis.bolt.at_mm), np.asarray(axis.bolt.axis)
        heights = {}
        for piece in pieces:
            away = np.asarray(piece.middle_mm) - at
            assert np.linalg.norm(away - along * (away @ along)) < 1e-6
            heights.setdefault(piece.kind, []).append(away @ along)
        assert [len(heights[kind]) for kind in ("screw", "washer", "nut")] == [1, 2, 1]
        lower, upper = sorted(heights["washer"])
        assert heights["screw"][0] < lower < 0.0 < 135.0 < upper < heights["nut"][0]


def test_closed_bolt_sits_on_its_seats():
    axis = axes_of(skittle().drawn[2])[0]
    pieces = {piece.kind: piece for piece in hang(axis, {}, spread=0.0)}
    z = axis.bolt.at_mm[2]
    assert pieces["screw"].item.shift_mm[2] == pytest.approx(z - 8.0 - 1.8)
    assert pieces["nut"].item.shift_mm[2] == pytest.approx(z + 8.0 + 1.8)
