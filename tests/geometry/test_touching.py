from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from assembler.figure.mesh import Mesh
from assembler.geometry.meshfiles import merge_equal, read_bodies
from assembler.geometry.solids import mass_properties
from assembler.geometry.touching import solids_of_faces


def _triangles(solid: Manifold) -> np.ndarray:
    mesh = solid.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]


def _merged(*solids: Manifold) -> Mesh:
    vertices, faces = merge_equal(np.concatenate([_triangles(solid) for solid in solids]))
    return Mesh(vertices=vertices, faces=faces)


BOX = Manifold.cube([10, 10, 10])


@pytest.mark.parametrize(
    "others",
    [
        [BOX.translate([10, 0, 0])],  # a whole face in common
        [BOX.translate([10, 10, 0])],  # an edge in common
        [BOX.translate([10, 0, 0]), BOX.translate([0, 10, 0]), BOX.translate([10, 10, 0])],  # four round an edge
        [BOX.translate([10, 0, 0]), BOX.translate([20, 0, 0])],
    ],
)
def test_flush_boxes_are_told_apart(others: list[Manifold]) -> None:
    mesh = _merged(BOX, *others)
    solids = solids_of_faces(mesh.vertices, mesh.faces)
    assert solids is not None
    assert solids.tolist() == np.repeat(np.arange(len(others) + 1), len(_triangles(BOX))).tolist()


def test_one_solid_stays_one() -> None:
    mesh = _merged(Manifold.sphere(10, 32) - Manifold.cylinder(40, 3, circular_segments=24, center=True))
    solids = solids_of_faces(mesh.vertices, mesh.faces)
    assert solids is not None
    assert not solids.any()


def test_an_open_mesh_does_not_tell() -> None:
    mesh = _merged(BOX, BOX.translate([10, 0, 0]))
    assert solids_of_faces(mesh.vertices, mesh.faces[1:]) is None


def test_flush_parts_in_one_file_are_bodies_of_their_own(tmp_path: Path) -> None:
    solids = [BOX, BOX.translate([0, 0, 10]), Manifold.cube([5, 5, 5]).translate([0, 0, 20])]
    corners = np.concatenate([_triangles(solid) for solid in solids])
    path = tmp_path / "all.stl"
    trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False).export(path)
    volumes = [mass_properties(body.mesh).volume_mm3 for body in read_bodies(path, is_whole_figure=True)]
    assert volumes == pytest.approx([1000.0, 1000.0, 125.0])
    # In a file of one part, what lies flush is a piece of it that was not fused.
    assert len(read_bodies(path)) == 1
