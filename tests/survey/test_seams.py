"""Which edges of a joint are seen from outside, and that this goes by the axis that points up."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.survey.joints import survey_joints
from tests.survey.part_sets import mesh_of, quartered_tower


def with_y_up(mesh: Mesh) -> Mesh:
    """The same body as a file with y up holds it: a quarter turn about x."""
    return Mesh(vertices=mesh.vertices[:, [0, 2, 1]] * (1.0, 1.0, -1.0), faces=mesh.faces)


def halves_of_a_lid() -> dict[PartId, Mesh]:
    """A lid of 400 x 300 x 60 with walls of 10, cut across: its inner edges are seen from below only."""
    lid = Manifold.cube((400, 300, 60), True) - Manifold.cube((380, 280, 60), True).translate((0, 0, -10))
    side = Manifold.cube((400, 400, 400), True).translate((200, 0, 0))
    return {PartId("P1"): mesh_of(lid ^ side), PartId("P2"): mesh_of(lid - side)}


def test_what_is_seen_from_below_only_is_no_seam() -> None:
    (joint,) = survey_joints(halves_of_a_lid(), Tolerances()).joints
    # Across the top and down both sides; the ends of the walls face down and are seen from the side at most.
    assert 420.0 - 1.0 <= joint.seam_mm <= 440.0 + 1.0


def test_a_figure_with_y_up_has_the_same_seams() -> None:
    for meshes in (halves_of_a_lid(), quartered_tower().meshes()):
        upright = survey_joints(meshes, Tolerances())
        lying = survey_joints(
            {part: with_y_up(mesh) for part, mesh in meshes.items()}, Tolerances(), up=(0.0, 1.0, 0.0)
        )
        assert len(upright.joints) == len(lying.joints)
        there = {joint.parts: joint for joint in lying.joints}
        heights = [joint.centre_mm[1] for joint in lying.joints]
        assert heights == pytest.approx(sorted(heights), abs=0.1)
        for one in upright.joints:
            two = there[one.parts]
            assert two.seam_mm == pytest.approx(one.seam_mm, abs=0.1)
            assert np.allclose(np.multiply(one.centre_mm, 1.0)[[0, 2, 1]] * (1.0, 1.0, -1.0), two.centre_mm, atol=0.01)


def test_without_the_axis_that_points_up_the_lid_would_show_its_inside() -> None:
    meshes = {part: with_y_up(mesh) for part, mesh in halves_of_a_lid().items()}
    (joint,) = survey_joints(meshes, Tolerances()).joints
    assert joint.seam_mm > 600.0
