"""The survey against brute force: every point of every part against every triangle of every other part."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, Points
from assembler.figure.tolerances import Tolerances
from tests.bench.survey_curves import bolted_cone
from tests.survey.part_sets import PartSet, three_layers, tongued_blocks
from tests.survey.test_generated_sets import joints_by_pair, surveyed

SETS: dict[str, Callable[[], PartSet]] = {
    "tongue and step": lambda: tongued_blocks(sides=12),
    "tongue with a bond line": lambda: tongued_blocks(gap=0.3, sides=12),
    "three layers": lambda: three_layers(sides=12),
    "cone": lambda: bolted_cone(facets=24),
}
_POINTS = 1500


def spread(mesh: Mesh, random: np.random.Generator) -> tuple[Points, Points, float]:
    """Random points on a surface, evenly by area, their normals, and the area that each stands for."""
    corners = mesh.corners
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    double = np.linalg.norm(cross, axis=1)
    face = random.choice(len(double), _POINTS, p=double / double.sum())
    u, v = random.random((2, _POINTS))
    u, v = np.where(u + v > 1, 1 - u, u), np.where(u + v > 1, 1 - v, v)
    a, b, c = corners[face].transpose(1, 0, 2)
    points = a + u[:, None] * (b - a) + v[:, None] * (c - a)
    return points, cross[face] / double[face, None], float(double.sum() / 2 / _POINTS)


def has_face_opposite(points: Points, normals: Points, other: Mesh, tolerances: Tolerances) -> np.ndarray:
    """Whether the line along the normal of each point meets any triangle that looks back, within the gap."""
    met = np.zeros(len(points), dtype=bool)
    low, high = -tolerances.overlap_mm, tolerances.gap_mm
    for a, b, c in other.corners:
        normal = np.cross(b - a, c - a)
        along = normals @ normal
        is_back = along < -0.7 * np.linalg.norm(normal)
        distance = np.where(is_back, (a - points) @ normal / np.where(is_back, along, 1.0), np.inf)
        is_near = (distance >= low) & (distance <= high)
        if not np.any(is_near):
            continue
        at = points[is_near] + normals[is_near] * distance[is_near, None]
        sides = [np.cross(end - start, at - start) @ normal for start, end in ((a, b), (b, c), (c, a))]
        met[np.flatnonzero(is_near)[np.all([side >= 0 for side in sides], axis=0)]] = True
    return met


@pytest.mark.parametrize("name", SETS)
def test_joints_and_areas_are_those_of_all_pairs(name: str) -> None:
    meshes = SETS[name]().meshes()
    tolerances = Tolerances()
    random = np.random.default_rng(7)
    found = joints_by_pair(surveyed(meshes))  # type: ignore[arg-type]
    for one, two in combinations(sorted(meshes), 2):
        area, doubt = 0.0, 0.0
        for here, there in ((one, two), (two, one)):
            points, normals, share = spread(meshes[PartId(here)], random)
            count = int(has_face_opposite(points, normals, meshes[PartId(there)], tolerances).sum())
            area += count * share / 2
            doubt += (count + 1) ** 0.5 * share / 2
        joint = found.get(frozenset((one, two)))
        surveyed_mm2 = joint.bond_area_mm2 if joint else 0.0
        # Four standard deviations of counting points; a contact below the area of a joint is none.
        assert abs(surveyed_mm2 - area) <= 4 * doubt + (0.0 if joint else tolerances.joint_area_mm2)
