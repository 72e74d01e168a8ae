"""Which axis of the files points up changes nothing but the frame of the answer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from assembler.figure.parts import Vector
from assembler.planning.order import plan_build
from tests import specimens
from tests.specimens import Assembly, part_of


def _turned(vector: Vector) -> Vector:
    """(x, y, z) as (y, z, x): what was up along the third axis is up along the second."""
    x, y, z = vector
    return (y, z, x)


def _y_up(made: Assembly) -> dict[str, Any]:
    """The same figure exported with y up."""
    given = made.given
    meshes = {name: replace(mesh, vertices=mesh.vertices[:, [1, 2, 0]]) for name, mesh in given["meshes"].items()}
    joints = tuple(
        replace(
            joint,
            normal=_turned(joint.normal),
            centre_mm=_turned(joint.centre_mm),
            bolts=tuple(replace(bolt, at_mm=_turned(bolt.at_mm), axis=_turned(bolt.axis)) for bolt in joint.bolts),
        )
        for joint in given["joints"]
    )
    parts = tuple(part_of(part.id, meshes[part.id]) for part in given["parts"])
    settings = replace(given["settings"], up=(0.0, 1.0, 0.0))
    return {**given, "meshes": meshes, "joints": joints, "parts": parts, "settings": settings}


@pytest.mark.parametrize("make", [lambda: specimens.tower(2), lambda: specimens.eccentric_tower(4, 40.0)])
def test_y_up_gives_the_same_order_lifts_and_props(make: Any) -> None:
    upright, turned = plan_build(**make().given), plan_build(**_y_up(make()))
    assert turned.up == (0.0, 1.0, 0.0)
    assert [step.moves for step in turned.steps] == [step.moves for step in upright.steps]
    for one, other in zip(turned.steps, upright.steps, strict=True):
        assert [leg.direction for leg in one.path] == [pytest.approx(_turned(leg.direction)) for leg in other.path]
        if one.lift and other.lift:
            assert (one.lift.people, one.lift.rule) == (other.lift.people, other.lift.rule)
            assert one.lift.centre_mm == pytest.approx(_turned(other.lift.centre_mm))
        if one.stability and other.stability:
            assert one.stability.tip_deg == pytest.approx(other.stability.tip_deg)
            assert one.stability.needs_prop == other.stability.needs_prop
