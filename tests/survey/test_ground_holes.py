"""Holes in what stands on the ground are found, told from bolts of joints, and asked for."""

from __future__ import annotations

from collections.abc import Sequence

from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.tolerances import Tolerances
from assembler.survey.groundholes import ground_holes
from assembler.survey.joints import survey_joints
from tests.specimens import box, mesh_of, rod

UP = (0.0, 0.0, 1.0)
CORNERS = ((-150.0, -150.0), (150.0, -150.0), (150.0, 150.0), (-150.0, 150.0))


def drilled(body: Manifold, places: Sequence[tuple[float, float]], width_mm: float, low_mm: float) -> Manifold:
    for x, y in places:
        body -= rod((x, y, low_mm), UP, width_mm / 2.0, 60.0)
    return body


def messages(plate: Manifold, post: Manifold) -> list[str]:
    meshes = {PartId("L1"): mesh_of(plate), PartId("L2"): mesh_of(post)}
    joints = survey_joints(meshes, Tolerances()).joints
    assert [joint.parts for joint in joints]
    return [finding.message for finding in ground_holes(meshes, joints, UP)]


def test_holes_in_the_foot_are_asked_for_by_size() -> None:
    plate = drilled(box((-200, -200, 0), (200, 200, 20)), CORNERS, 11.0, 0.0)
    post = drilled(box((-60, -60, 20), (60, 60, 400)), [(0.0, 0.0)], 9.0, 400.0)
    assert messages(plate, post) == ["4 holes of 11 mm in the foot of L1: anchors?"]


def test_a_blind_hole_in_the_foot_counts_and_a_wide_opening_does_not() -> None:
    plate = box((-200, -200, 0), (200, 200, 40)) - rod((100, 100, 0), UP, 8.0, 20.0)
    plate -= Manifold.cylinder(5.0, 30.0, 30.0, 48)
    assert messages(plate, box((-60, -60, 40), (60, 60, 400))) == ["1 hole of 16 mm in the foot of L1: anchors?"]


def test_bolts_of_joints_that_end_at_the_ground_are_no_anchors() -> None:
    places = ((-40.0, -40.0), (40.0, 40.0))
    plate = drilled(box((-200, -200, 0), (200, 200, 20)), places, 9.0, 0.0)
    post = drilled(box((-60, -60, 20), (60, 60, 40)), places, 9.0, 30.0)
    assert messages(plate, post) == []
