"""Mating faces against the area of the specimen's flanges in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from assembler.drawing.camera import direction, framed
from assembler.drawing.mating import marked, shown_share
from assembler.drawing.scenes import Role
from assembler.figure.ids import JointId
from tests.drawing.specimens import HOLE_MM, radius_at, skittle

JOINTS = {joint.id: joint for joint in skittle().plan.joints}


@pytest.fixture(scope="module")
def studio(tmp_path_factory):
    with skittle().studio(tmp_path_factory.mktemp("mating")) as made:
        yield made


def test_area_of_a_half_ring_less_its_holes(studio):
    found = studio.mating(JOINTS["J03"])
    outer = radius_at(300.0)
    exact = 0.5 * np.pi * (outer**2 - (outer - 45.0) ** 2) - 4.0 * np.pi * HOLE_MM**2 / 4.0
    # One pixel of the map is 1.3 mm wide: 2 % of a 45 mm rim on both of its sides.
    assert found.area_mm2 == pytest.approx(exact, rel=0.03)


def test_points_on_the_face_are_held_and_others_not(studio):
    found = studio.mating(JOINTS["J03"])
    middle = radius_at(300.0) - 22.0
    on_it = np.array([[middle, 0.0, 300.0], [middle * np.cos(0.8), middle * np.sin(0.8), 300.0]])
    assert found.holds(on_it).all()
    assert not found.holds(on_it + [0.0, 0.0, 5.0]).any()
    assert not found.holds(np.array([[0.0, 0.0, 300.0], [-middle, 0.0, 300.0], [9999.0, 0.0, 300.0]])).any()


def test_share_in_sight_from_above_is_all_and_from_below_none(studio):
    found = studio.mating(JOINTS["J03"])
    items = studio.items(["P01"], Role.STANDING)
    for elevation, expected in ((60.0, 1.0), (-60.0, 0.0)):
        eye = direction(200.0, elevation, (0.0, 0.0, 1.0))
        camera = framed(studio.box("P01"), eye, (0.0, 0.0, 1.0), 400, 300)
        seen = studio.rasteriser.draw(items, camera)
        share = shown_share(int(marked(seen, camera, items, found, "P01").sum()), camera, found)
        assert share == pytest.approx(expected, abs=0.06)


def test_parts_that_do_not_touch_have_no_mating_face(studio):
    from dataclasses import replace

    joint = replace(JOINTS["J03"], id=JointId("J99"), parts=("P01", "P05"))
    assert not studio.mating(joint).mask.any()
