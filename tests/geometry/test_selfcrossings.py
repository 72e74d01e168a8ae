"""Surfaces that pass through themselves, against closed cases and against all pairs of faces by brute force."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, Points
from assembler.geometry.selfcrossings import DEEP_MM, find_crossings
from assembler.survey.crossings import self_crossings
from tests.survey.part_sets import mesh_of, noisy, seat_zoo


def joined(*meshes: Mesh) -> Mesh:
    """Several surfaces in one mesh, nothing merged."""
    shifts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    return Mesh(
        vertices=np.vstack([mesh.vertices for mesh in meshes]),
        faces=np.vstack([mesh.faces + shift for mesh, shift in zip(meshes, shifts, strict=False)]),
    )


def ball(radius: float, at: tuple[float, float, float] = (0.0, 0.0, 0.0), fine: int = 4) -> Mesh:
    made = trimesh.creation.icosphere(subdivisions=fine, radius=radius)
    return Mesh(vertices=made.vertices + at, faces=made.faces)


def brute_force(mesh: Mesh, deep: float) -> set[tuple[int, int]]:
    """All pairs of faces without a common corner of which an edge of one runs through the other: linear equations."""
    found = set()
    for one, two in combinations(range(len(mesh.faces)), 2):
        if set(mesh.faces[one]) & set(mesh.faces[two]):
            continue
        a, b = mesh.vertices[mesh.faces[one]], mesh.vertices[mesh.faces[two]]
        if _runs_through(a, b, deep) or _runs_through(b, a, deep):
            found.add((one, two))
    return found


def _runs_through(triangle: Points, other: Points, deep: float) -> bool:
    normal = np.cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
    normal /= np.linalg.norm(normal)
    for start, end in ((0, 1), (1, 2), (2, 0)):
        p, q = other[start], other[end]
        off = (p - triangle[0]) @ normal, (q - triangle[0]) @ normal
        if off[0] * off[1] >= 0 or min(abs(off[0]), abs(off[1])) <= deep:
            continue
        matrix = np.column_stack((triangle[1] - triangle[0], triangle[2] - triangle[0], p - q))
        u, v, t = np.linalg.solve(matrix, p - triangle[0])
        if u >= 0 and v >= 0 and u + v <= 1 and 0 < t < 1:
            return True
    return False


@pytest.mark.parametrize("seed", range(2))
def test_same_pairs_as_by_brute_force(seed: int) -> None:
    random = np.random.default_rng(seed)
    pieces = [ball(20.0, tuple(random.uniform(-12, 12, 3)), fine=1) for _ in range(2)]
    mesh = joined(*pieces)
    crossings = find_crossings(mesh)
    assert crossings is not None
    assert {(int(a), int(b)) for a, b in crossings.pairs} == brute_force(mesh, DEEP_MM)


@pytest.mark.parametrize("fine", [3, 5])
def test_two_balls_cross_along_one_circle(fine: int) -> None:
    crossings = find_crossings(joined(ball(50.0, fine=fine), ball(50.0, (60.0, 0.0, 0.0), fine=fine)))
    assert crossings is not None
    (place,) = crossings.places_mm
    assert place == pytest.approx((30.0, 0.0, 0.0), abs=1.5)


def test_a_corner_pulled_through_the_wall_is_found() -> None:
    shell = mesh_of(Manifold.sphere(80, 96) - Manifold.sphere(74, 96))
    vertices = shell.vertices.copy()
    top = int(np.argmax(vertices[:, 2]))
    vertices[top, 2] -= 10.0
    crossings = find_crossings(Mesh(vertices=vertices, faces=shell.faces))
    assert crossings is not None
    assert crossings.places_mm[0][2] == pytest.approx(74.0, abs=2.0)
    assert find_crossings(shell) is None


def test_long_faces_are_compared_too() -> None:
    box = mesh_of(Manifold.cube((400, 300, 10), True))
    crossings = find_crossings(joined(box, mesh_of(Manifold.cube((20, 20, 200), True).translate((150, 100, 0)))))
    assert crossings is not None
    assert all(place[:2] == pytest.approx((150, 100), abs=60) for place in crossings.places_mm)


def test_flush_solids_and_noise_do_not_cross() -> None:
    flush = joined(mesh_of(Manifold.cube((50, 50, 20))), mesh_of(Manifold.cube((50, 50, 20)).translate((0, 0, 20))))
    assert find_crossings(flush) is None
    assert find_crossings(noisy(ball(80.0, fine=5), 1)) is None
    for mesh in seat_zoo().meshes().values():
        assert find_crossings(mesh) is None
        # Noise turns needles of a flange about their long side; that is no crossing.
        assert find_crossings(noisy(mesh, 2)) is None


def test_finding_names_part_and_place() -> None:
    crossed = joined(ball(50.0), ball(50.0, (60.0, 0.0, 0.0)))
    (finding,) = self_crossings({PartId("P1"): ball(40.0), PartId("P2"): crossed})
    assert finding.code == "self-intersection"
    assert finding.about == ("P2",)
    assert "(30, 0, 0) mm" in finding.message or "(30, -0, 0) mm" in finding.message
