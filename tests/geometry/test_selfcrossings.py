"""Surfaces that pass through themselves, against closed cases and against all pairs of faces by brute force."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold
from scipy.spatial import ConvexHull

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.geometry.selfcrossings import DEEP_MM, find_crossings
from assembler.survey.crossings import self_crossings
from tests.bench.survey_figures import FIGURES, sculpted
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
    """All pairs of faces without a common corner that no shorter move takes apart: hulls of corner differences."""
    found = set()
    for one, two in combinations(range(len(mesh.faces)), 2):
        if set(mesh.faces[one]) & set(mesh.faces[two]):
            continue
        a, b = mesh.vertices[mesh.faces[one]], mesh.vertices[mesh.faces[two]]
        if (a.max(axis=0) < b.min(axis=0)).any() or (b.max(axis=0) < a.min(axis=0)).any():
            continue
        difference = (a[:, None] - b[None]).reshape(-1, 3)
        # Faces in parallel planes have no hull. Qhull's offsets are the distances of the origin from the hull's faces.
        is_flat = np.linalg.matrix_rank(difference - difference[0], tol=1e-6) < 3
        if not is_flat and -ConvexHull(difference).equations[:, 3].max() > deep:
            found.add((one, two))
    return found


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


def tube(turns_mm: float, radius: float = 10.0) -> Mesh:
    """One skin about a helix that comes round once; the ends lie `turns_mm` apart along its axis."""
    along, around = np.linspace(0.0, 2.12 * np.pi, 160), np.linspace(0.0, 2 * np.pi, 24, endpoint=False)
    out = np.column_stack((np.cos(along), np.sin(along), np.zeros_like(along)))
    ring = out[:, None] * np.cos(around)[None, :, None] + np.array([0, 0, 1.0]) * np.sin(around)[None, :, None]
    middle = 60.0 * out + np.outer(along / (2 * np.pi) * turns_mm, (0, 0, 1.0))
    vertices = np.vstack(((middle[:, None] + radius * ring).reshape(-1, 3), middle[:1], middle[-1:]))
    here = np.arange(159 * 24).reshape(159, 24)
    beside = np.roll(here, -1, axis=1)
    ends = [
        (24 * 160 + end, row + k, row + (k + 1) % 24)[:: 1 - 2 * end]
        for end, row in ((0, 0), (1, 159 * 24))
        for k in range(24)
    ]
    sides = np.vstack((np.dstack((here, here + 24, beside)), np.dstack((beside, here + 24, beside + 24))))
    return Mesh(vertices=vertices, faces=np.vstack((sides.reshape(-1, 3), ends)))


def test_a_tube_is_found_where_it_runs_two_millimetres_into_itself() -> None:
    assert find_crossings(tube(21.0)) is None
    for mesh in (tube(18.0), noisy(tube(18.0), 3)):
        crossings = find_crossings(mesh)
        assert crossings is not None
        assert all(np.hypot(*place[:2]) == pytest.approx(60.0, abs=4.0) for place in crossings.places_mm)
        assert all(-11.0 < place[2] < 21.0 for place in crossings.places_mm)


def test_a_flange_that_ends_in_a_facetted_skin_does_not_cross_it() -> None:
    """Where solids were united, faces stand on others between their corners: thousands of touches, rounded."""
    for number, mesh in enumerate(list(sculpted(FIGURES["seats"]).meshes().values())[:2]):
        assert find_crossings(mesh) is None
        assert find_crossings(noisy(mesh, number)) is None


def test_finding_names_part_and_place() -> None:
    crossed = joined(ball(50.0), ball(50.0, (60.0, 0.0, 0.0)))
    (finding,) = self_crossings({PartId("P1"): ball(40.0), PartId("P2"): crossed})
    assert finding.code == "self-intersection"
    assert finding.about == ("P2",)
    assert "(30, 0, 0) mm" in str(finding.message) or "(30, -0, 0) mm" in str(finding.message)
