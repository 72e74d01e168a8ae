"""Holes whose mouths lie on no circle: torn on both sides, or cut off by re-meshing; and openings that are no holes."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.survey.joints import Survey, survey_joints
from tests.bench.survey_remeshed import relaxed
from tests.survey.part_sets import mesh_of, noisy

HOLE_MM = 9.0
PLACES = ((30.0, 30.0), (75.0, 32.0), (120.0, 28.0))


def plates(tool: Manifold, places: Sequence[tuple[float, float]] = PLACES) -> tuple[Manifold, Manifold]:
    """Two plates of 10 and 12 on each other at z = 10, with an opening at each place."""
    low, high = Manifold.cube((150, 60, 10)), Manifold.cube((150, 60, 12)).translate((0, 0, 10))
    for x, y in places:
        low, high = low - tool.translate((x, y, 0)), high - tool.translate((x, y, 0))
    return low, high


def bar(width_mm: float = HOLE_MM) -> Manifold:
    return Manifold.cylinder(40, width_mm / 2, circular_segments=32).translate((0, 0, -5))


def surveyed(low: Mesh, high: Mesh) -> Survey:
    return survey_joints({PartId("low"): low, PartId("high"): high}, Tolerances())


def assert_all_found(survey: Survey) -> None:
    (joint,) = survey.joints
    assert sorted(round(bolt.at_mm[0]) for bolt in joint.bolts) == [round(x) for x, _ in PLACES]
    for bolt in joint.bolts:
        place = min(PLACES, key=lambda place: abs(place[0] - bolt.at_mm[0]))
        assert bolt.at_mm[:2] == pytest.approx(place, abs=0.1)
        assert bolt.hole_mm == pytest.approx(HOLE_MM, abs=0.15)
        assert bolt.grip_mm == pytest.approx(22.0, abs=0.15)


def with_torn_rims(mesh: Mesh, height: float, seed: int) -> Mesh:
    """The same with 0.05 mm noise, and two in five corners of each mouth at a height 0.4 mm to 0.9 mm off it."""
    random = np.random.default_rng(seed)
    points = noisy(mesh, seed).vertices.copy()
    for place in PLACES:
        arm = mesh.vertices[:, :2] - place
        reach = np.linalg.norm(arm, axis=1)
        rim = np.flatnonzero((np.abs(mesh.vertices[:, 2] - height) < 1e-6) & (reach < HOLE_MM / 2 + 0.1))
        torn = random.permutation(rim)[: int(0.4 * len(rim))]
        points[torn, :2] += arm[torn] / reach[torn, None] * random.uniform(0.4, 0.9, len(torn))[:, None]
    return Mesh(vertices=points, faces=mesh.faces)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_hole_torn_on_both_sides_is_read_by_its_wall(seed: int) -> None:
    low, high = (mesh_of(solid.refine_to_length(3.0)) for solid in plates(bar()))
    assert_all_found(surveyed(with_torn_rims(low, 10.0, seed), with_torn_rims(high, 10.0, seed + 50)))


@pytest.mark.parametrize("keeps_edges", [True, False])
def test_vertices_that_a_remesher_moved_change_no_bolt(keeps_edges: bool) -> None:
    low, high = (relaxed(solid, HOLE_MM / 3, keeps_edges=keeps_edges) for solid in plates(bar()))
    assert_all_found(surveyed(low, high))


def test_a_slot_whose_edge_is_cut_off_is_read_too() -> None:
    slot = Manifold.hull(bar().translate((-4, 0, 0)) + bar().translate((4, 0, 0)))
    low = relaxed(plates(slot)[0], HOLE_MM / 3, keeps_edges=False)
    high = relaxed(plates(bar())[1], HOLE_MM / 3, keeps_edges=False)
    assert_all_found(surveyed(low, high))


def test_what_is_left_unread_on_both_sides_is_named() -> None:
    # Holes as wide as the plates are thick lose their whole wall to a coarse re-meshing.
    low, high = (Manifold.cube((150, 60, 3)), Manifold.cube((150, 60, 3)).translate((0, 0, 3)))
    for x, y in PLACES:
        low, high = low - bar().translate((x, y, 0)), high - bar().translate((x, y, 0))
    survey = surveyed(*(relaxed(solid, 3.0, keeps_edges=False, rounds=6) for solid in (low, high)))
    assert not any(joint.bolts for joint in survey.joints)
    named = [str(finding.message) for finding in survey.findings if finding.code == "unread-hole"]
    assert len(named) == len(PLACES)
    places = sorted(re.search(r"\((\d+), (\d+), 3\) mm", message).groups() for message in named)  # type: ignore[union-attr]
    found = sorted((float(x), float(y)) for x, y in places)
    assert np.allclose(found, PLACES, atol=2.0)


def test_noise_on_openings_of_another_form_raises_no_alarm() -> None:
    square = Manifold.cube((9, 9, 40), True)
    low, high = (mesh_of(solid.refine_to_length(4.0)) for solid in plates(square))
    survey = surveyed(noisy(low, 3), noisy(high, 4))
    assert not any(joint.bolts for joint in survey.joints)
    assert not survey.findings


def test_a_hole_whose_far_end_is_missing_is_named() -> None:
    low, high = (mesh_of(solid) for solid in plates(bar()))
    is_outer = np.all(high.corners[:, :, 2] > 21.9, axis=1)
    survey = surveyed(low, Mesh(vertices=high.vertices, faces=high.faces[~is_outer]))
    named = [finding for finding in survey.findings if finding.code == "hole-without-seat"]
    assert len(named) == len(PLACES)
    assert all("high" in finding.about and "low" not in finding.about for finding in named)


def test_openings_of_other_forms_are_no_bolts() -> None:
    square = Manifold.cube((12, 12, 40), True)
    cross = Manifold.cube((14, 4, 40), True) + Manifold.cube((4, 14, 40), True)
    letter = Manifold.extrude(CrossSection([[(0, 0), (9, 0), (9, 3), (3, 3), (3, 12), (0, 12)]]), 40)
    for tool in (square, cross, letter):
        for length_mm in (200.0, 3.0):
            low, high = (mesh_of(solid.refine_to_length(length_mm)) for solid in plates(tool))
            survey = surveyed(low, high)
            (joint,) = survey.joints
            assert not joint.bolts
            assert not survey.findings
