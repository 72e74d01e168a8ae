"""Holes that a plain flange with clean rims does not have: askew, in cones and curves, small pockets, torn rims."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.healing import heal
from assembler.survey.joints import survey_joints
from tests.bench.survey_curves import bolted_cone, curved_cut
from tests.bench.survey_figures import Recipe, sculpted
from tests.survey.part_sets import PartSet, drill, mesh_of, noisy
from tests.survey.test_generated_sets import angle_deg, offset_mm, paired, surveyed

ASKEW: dict[str, Callable[[], PartSet]] = {
    "12 degrees, spot-faced": lambda: sculpted(
        Recipe(seed=9, edge_mm=20.0, tilt_deg=12.0, is_spotfaced=True, thick_mm=(14.0, 14.0), spacing_mm=160.0)
    ),
    "3 degrees": lambda: sculpted(Recipe(seed=10, edge_mm=20.0, tilt_deg=3.0, spacing_mm=160.0)),
    "25 degrees": lambda: sculpted(Recipe(seed=10, edge_mm=20.0, tilt_deg=25.0, spacing_mm=160.0)),
    "square on a cone": bolted_cone,
    "upright in a cone": lambda: bolted_cone(is_square=False, slope_deg=20.0),
    "square on a curved cut": lambda: curved_cut(facets=96, edge_mm=20.0),
}


@pytest.fixture(scope="module")
def made() -> dict[str, PartSet]:
    return {}


def part_set_of(name: str, made: dict[str, PartSet]) -> PartSet:
    if name not in made:
        made[name] = ASKEW[name]()
    return made[name]


@pytest.mark.parametrize("name", ASKEW)
def test_axis_is_that_of_the_wall(name: str, made: dict[str, PartSet]) -> None:
    part_set = part_set_of(name, made)
    for bolt, true in paired(part_set, surveyed(part_set.meshes())):  # type: ignore[arg-type]
        assert offset_mm(bolt, true) <= 0.1
        assert angle_deg(bolt, true) <= 0.2
        assert bolt.hole_mm == pytest.approx(true.hole_mm, abs=0.1)
        assert bolt.grip_mm == pytest.approx(true.grip_mm, abs=0.05)


@pytest.mark.parametrize("name", ["12 degrees, spot-faced", "square on a cone"])
def test_axis_survives_noise(name: str, made: dict[str, PartSet]) -> None:
    part_set = part_set_of(name, made)
    meshes = {part: noisy(mesh, k) for k, (part, mesh) in enumerate(part_set.meshes().items())}
    for bolt, true in paired(part_set, surveyed(meshes)):  # type: ignore[arg-type]
        assert offset_mm(bolt, true) <= 0.1
        assert angle_deg(bolt, true) <= 0.4
        assert bolt.hole_mm == pytest.approx(true.hole_mm, abs=0.1)
        assert bolt.grip_mm == pytest.approx(true.grip_mm, abs=0.15)


def test_small_nut_pockets_are_told_from_counterbores() -> None:
    kinds = ("captive", "counterbore", "insert", "plain")
    recipe = Recipe(seed=6, edge_mm=20.0, hole_mm=4.5, sides=16, thick_mm=(6.0, 6.0), spacing_mm=70.0, kinds=kinds)
    part_set = sculpted(recipe)
    for bolt, true in paired(part_set, surveyed(part_set.meshes())):  # type: ignore[arg-type]
        assert sorted(seat.value for seat in bolt.seats) == sorted(true.seats)
        assert bolt.grip_mm == pytest.approx(true.grip_mm, abs=0.05)


def plates(places: list[tuple[float, float, float]]) -> dict[PartId, Mesh]:
    low = drill(Manifold.cube((200, 100, 10)), places, 9.0, -1, 11, 24)
    high = drill(Manifold.cube((200, 100, 12)).translate((0, 0, 10)), places, 9.0, 9, 23, 24)
    return {PartId("low"): mesh_of(low), PartId("high"): mesh_of(high)}


def test_what_a_line_through_the_hole_meets_far_behind_is_no_floor() -> None:
    # A wall that leans over half of the far mouth, 6 mm behind it.
    meshes = plates([(50.0, 50.0, 0.0)])
    high = drill(Manifold.cube((200, 100, 12)).translate((0, 0, 10)), [(50.0, 50.0, 0.0)], 9.0, 9, 28, 24)
    high += Manifold.cube((200, 52, 3)).translate((0, 48, 28)) + Manifold.cube((200, 3, 20)).translate((0, 97, 10))
    (joint,) = survey_joints({**meshes, PartId("high"): mesh_of(high)}, Tolerances()).joints
    (bolt,) = joint.bolts
    assert [seat.value for seat in bolt.seats] == ["open", "open"]
    assert bolt.grip_mm == pytest.approx(22.0, abs=0.05)


def test_rim_torn_on_one_side_is_found_by_its_wall() -> None:
    places = [(50.0, 50.0, 0.0), (120.0, 40.0, 0.0)]
    meshes = plates(places)
    low = meshes[PartId("low")]
    corners = low.corners
    at_rim = np.hypot(corners[:, :, 0] - 50, corners[:, :, 1] - 50) < 4.6
    is_top = (np.abs(corners[:, :, 2] - 10) < 1e-6).all(axis=1) & at_rim.any(axis=1)
    torn = Mesh(vertices=low.vertices, faces=low.faces[~is_top])
    assert len(torn.faces) < len(low.faces)
    (joint,) = survey_joints({**meshes, PartId("low"): torn}, Tolerances()).joints
    assert sorted(round(bolt.at_mm[0], 2) for bolt in joint.bolts) == [50.0, 120.0]
    assert all(bolt.grip_mm == pytest.approx(22.0, abs=0.05) for bolt in joint.bolts)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_each_bolt_of_a_badly_broken_mesh_is_found_once_at_most(seed: int) -> None:
    places = [(x, y, 0.0) for x in (30.0, 80.0, 130.0, 180.0) for y in (25.0, 75.0)]
    random = np.random.default_rng(seed)
    broken = {}
    for part, mesh in plates(places).items():
        kept = mesh.faces[random.random(len(mesh.faces)) > 0.03]
        broken[part] = heal(Mesh(vertices=mesh.vertices, faces=kept), Tolerances()).mesh
    survey = survey_joints(broken, Tolerances())
    found = [bolt.at_mm[:2] for joint in survey.joints for bolt in joint.bolts]
    assert len(found) == len({(round(x), round(y)) for x, y in found})
    named = sum(finding.code == "hole-without-partner" for finding in survey.findings)
    assert len(found) >= len(places) - 3
    assert len(found) + named <= len(places)
