"""Mass properties against closed forms, envelopes, healing and fingerprints."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.fingerprints import fingerprint, is_mirror_twin, is_same_shape, is_same_solid
from assembler.geometry.healing import heal
from assembler.geometry.overlaps import Solid
from assembler.geometry.solids import fits_envelope, mass_properties


def mesh_of(shape: trimesh.Trimesh) -> Mesh:
    return Mesh(vertices=shape.vertices, faces=shape.faces)


def box(size: tuple[float, float, float], at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Mesh:
    shape = trimesh.creation.box(size)
    shape.apply_translation(at)
    return mesh_of(shape)


def chiral() -> Mesh:
    """Three arms of different length along the axes, no mirror plane."""
    points = np.array([[0, 0, 0], [50, 4, 0], [0, 30, 7], [5, 0, 17.0]])
    return mesh_of(trimesh.convex.convex_hull(points))


def moved(mesh: Mesh, turn: Rotation, shift: np.ndarray) -> Mesh:
    return Mesh(vertices=turn.apply(mesh.vertices.copy()) + shift, faces=mesh.faces)


class TestMassProperties:
    def test_box_has_its_closed_form(self) -> None:
        # Solid cuboid: volume abc, inertia m (b2 + c2) / 12 for density 1.
        a, b, c = 10.0, 20.0, 30.0
        found = mass_properties(box((a, b, c), (100.0, -50.0, 7.0)))
        assert found.volume_mm3 == pytest.approx(a * b * c)
        assert found.area_mm2 == pytest.approx(2 * (a * b + b * c + c * a))
        assert found.centre_mm == pytest.approx((100.0, -50.0, 7.0))
        volume = a * b * c
        expected = np.diag([b * b + c * c, a * a + c * c, a * a + b * b]) * volume / 12
        np.testing.assert_allclose(found.inertia_mm5, expected, atol=1e-6 * volume)
        np.testing.assert_allclose(found.third_mm6, 0.0, atol=1e-6 * volume * 30)

    def test_tetrahedron_has_its_third_moment(self) -> None:
        # Against quadrature by brute force: points spread evenly over the solid.
        mesh = chiral()
        found = mass_properties(mesh)
        corners = mesh.vertices[:4]
        weights = np.random.default_rng(1).dirichlet(np.ones(4), 400_000)
        arm = weights @ corners - np.array(found.centre_mm)
        volume = abs(np.linalg.det(corners[1:] - corners[0])) / 6
        expected = volume * (arm * (arm**2).sum(axis=1)[:, None]).mean(axis=0)
        np.testing.assert_allclose(found.third_mm6, expected, atol=0.03 * np.abs(expected).max())

    def test_ball_converges_to_its_closed_form(self) -> None:
        found = mass_properties(mesh_of(trimesh.creation.icosphere(subdivisions=5, radius=10.0)))
        assert found.volume_mm3 == pytest.approx(4 / 3 * math.pi * 1000, rel=2e-3)
        assert found.inertia_mm5[0, 0] == pytest.approx(2 / 5 * found.volume_mm3 * 100, rel=3e-3)


class TestEnvelope:
    def test_turned_box_fits_its_own_size(self) -> None:
        turned = moved(box((390, 300, 200)), Rotation.from_euler("xyz", [33, 21, 60], degrees=True), np.zeros(3))
        assert fits_envelope(turned, (400, 310, 210))

    def test_long_rod_fits_across_the_corner(self) -> None:
        assert fits_envelope(box((600, 10, 10)), (400, 400, 400))

    def test_too_large_is_too_large(self) -> None:
        assert not fits_envelope(box((500, 450, 450)), (400, 400, 400))
        assert not fits_envelope(box((800, 10, 10)), (400, 400, 400))


class TestHealing:
    def test_sound_mesh_is_left_alone(self) -> None:
        mesh = box((1, 2, 3))
        healed = heal(mesh, Tolerances())
        assert healed.mesh is mesh
        assert healed.is_watertight
        assert healed.notes == ()

    def test_flipped_faces_are_turned_over(self) -> None:
        mesh = box((10, 20, 30))
        faces = mesh.faces.copy()
        faces[[2, 5, 7]] = faces[[2, 5, 7], ::-1]
        healed = heal(Mesh(vertices=mesh.vertices, faces=faces), Tolerances())
        assert healed.is_watertight
        assert mass_properties(healed.mesh).volume_mm3 == pytest.approx(6000.0)
        assert any("turned over" in note for note in healed.notes)

    def test_inside_out_is_turned(self) -> None:
        mesh = box((10, 20, 30))
        healed = heal(Mesh(vertices=mesh.vertices, faces=mesh.faces[:, ::-1]), Tolerances())
        assert mass_properties(healed.mesh).volume_mm3 == pytest.approx(6000.0)

    def test_double_and_flat_faces_are_dropped(self) -> None:
        mesh = box((10, 20, 30))
        faces = np.vstack((mesh.faces, mesh.faces[:2], [[0, 0, 1]]))
        healed = heal(Mesh(vertices=mesh.vertices, faces=faces), Tolerances())
        assert healed.is_watertight
        assert len(healed.mesh.faces) == 12

    def test_cracks_are_merged(self) -> None:
        mesh = box((10, 20, 30))
        corners = mesh.corners.reshape(-1, 3) + np.random.default_rng(2).uniform(-2e-4, 2e-4, (36, 3))
        soup = Mesh(vertices=corners, faces=np.arange(36).reshape(-1, 3))
        healed = heal(soup, Tolerances())
        assert healed.is_watertight
        assert len(healed.mesh.vertices) == 8

    def test_tiny_hole_is_closed_and_a_large_one_is_named(self) -> None:
        ball = trimesh.creation.icosphere(subdivisions=3, radius=20.0)
        mesh = mesh_of(ball)
        healed = heal(Mesh(vertices=mesh.vertices, faces=mesh.faces[1:]), Tolerances())
        assert healed.is_watertight
        assert any("closed" in note for note in healed.notes)
        top = mesh.corners[:, :, 2].min(axis=1) > 10.0
        opened = heal(Mesh(vertices=mesh.vertices, faces=mesh.faces[~top]), Tolerances())
        assert not opened.is_watertight
        assert opened.open_place_mm is not None
        assert opened.open_place_mm[2] == pytest.approx(10.0, abs=4.0)


class TestFingerprint:
    def test_triangulation_and_vertex_order_do_not_matter(self) -> None:
        mesh = chiral()
        finer = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).subdivide().subdivide()
        assert is_same_solid(fingerprint(mesh), fingerprint(mesh_of(finer)))

    def test_place_matters_for_the_solid_and_not_for_the_shape(self) -> None:
        mesh = chiral()
        other = moved(mesh, Rotation.from_euler("xyz", [10, 50, 80], degrees=True), np.array([100.0, 0, 0]))
        assert not is_same_solid(fingerprint(mesh), fingerprint(other))
        assert is_same_shape(fingerprint(mesh), fingerprint(other))

    @pytest.mark.parametrize("seed", range(5))
    def test_mirror_twin_is_told_apart_however_it_lies(self, seed: int) -> None:
        mesh = chiral()
        turn = Rotation.random(rng=np.random.default_rng(seed))
        mirrored = Mesh(vertices=mesh.vertices * [-1, 1, 1], faces=mesh.faces[:, ::-1])
        twin = moved(mirrored, turn, np.array([5.0, 6, 7]))
        assert is_mirror_twin(fingerprint(mesh), fingerprint(twin))
        assert not is_same_shape(fingerprint(mesh), fingerprint(twin))
        assert not is_mirror_twin(fingerprint(mesh), fingerprint(moved(mesh, turn, np.zeros(3))))

    def test_another_solid_is_another(self) -> None:
        assert not is_same_shape(fingerprint(box((10, 20, 30))), fingerprint(box((10, 20, 31))))


class TestOverlap:
    def test_flush_boxes_do_not_overlap(self) -> None:
        assert Solid(box((10, 10, 10))).overlap(Solid(box((10, 10, 10), (10, 0, 0)))).volume_mm3 == pytest.approx(0.0)

    def test_depth_is_the_thickness_of_the_common_slab(self) -> None:
        found = Solid(box((100, 100, 100))).overlap(Solid(box((100, 100, 100), (99, 0, 0))))
        assert found.volume_mm3 == pytest.approx(10000.0)
        assert found.depth_mm == pytest.approx(1.0, rel=0.03)
