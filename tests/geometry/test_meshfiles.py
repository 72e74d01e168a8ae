"""Reading mesh files: every kind, several bodies in one file, cavities, and files that cannot be used."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from assembler.errors import MeshFileError
from assembler.geometry.meshfiles import merge_equal, read_bodies
from assembler.geometry.solids import mass_properties


def block(size: tuple[float, float, float] = (10.0, 20.0, 30.0), at: tuple[float, float, float] = (0.0, 0.0, 0.0)):
    box = trimesh.creation.box(size)
    box.apply_translation(at)
    return box


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "off", "3mf", "glb"])
def test_every_kind_gives_the_same_solid(kind: str, tmp_path: Path) -> None:
    path = tmp_path / f"part.{kind}"
    block(at=(3.0, 4.0, 5.0)).export(path)
    (body,) = read_bodies(path)
    assert body.triangles == 12
    assert len(body.mesh.vertices) == 8
    properties = mass_properties(body.mesh)
    assert properties.volume_mm3 == pytest.approx(6000.0, rel=1e-6)
    assert properties.centre_mm == pytest.approx((3.0, 4.0, 5.0), abs=1e-5)


def test_text_stl_is_read(tmp_path: Path) -> None:
    path = tmp_path / "part.stl"
    path.write_text(block().export(file_type="stl_ascii"))
    (body,) = read_bodies(path)
    assert len(body.mesh.vertices) == 8
    assert mass_properties(body.mesh).volume_mm3 == pytest.approx(6000.0)


def test_binary_stl_agrees_with_another_reader(tmp_path: Path) -> None:
    path = tmp_path / "ball.stl"
    trimesh.creation.icosphere(subdivisions=4, radius=50.0).export(path)
    (body,) = read_bodies(path)
    other = trimesh.load_mesh(path)
    assert len(body.mesh.vertices) == len(other.vertices)
    assert mass_properties(body.mesh).volume_mm3 == pytest.approx(other.volume, rel=1e-9)
    assert mass_properties(body.mesh).area_mm2 == pytest.approx(other.area, rel=1e-9)


@pytest.mark.parametrize(("kind", "unit_mm"), [("glb", 1000.0), ("3mf", 1.0), ("stl", None), ("obj", None)])
def test_unit_is_known_only_where_the_file_states_it(kind: str, unit_mm: float | None, tmp_path: Path) -> None:
    path = tmp_path / f"part.{kind}"
    block().export(path)
    (body,) = read_bodies(path)
    assert body.unit_mm == unit_mm


def test_bodies_of_one_file_are_told_apart_in_order(tmp_path: Path) -> None:
    path = tmp_path / "two.stl"
    trimesh.util.concatenate([block(), block((5, 5, 5), (100, 0, 0))]).export(path)
    first, second = read_bodies(path)
    assert (first.index, second.index) == (1, 2)
    assert mass_properties(first.mesh).volume_mm3 == pytest.approx(6000.0)
    assert mass_properties(second.mesh).volume_mm3 == pytest.approx(125.0)


def test_wall_of_a_cavity_stays_with_its_body(tmp_path: Path) -> None:
    inner = block((4, 4, 4))
    inner.invert()
    path = tmp_path / "hollow.stl"
    trimesh.util.concatenate([block((10, 10, 10)), inner]).export(path)
    (body,) = read_bodies(path)
    assert mass_properties(body.mesh).volume_mm3 == pytest.approx(1000.0 - 64.0)


def test_equal_points_are_merged_and_near_ones_are_not() -> None:
    corners = np.array(
        [[[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[-0.0, 0, 0], [0, 1, 0], [0, 0, 1 + 1e-7]]], dtype=np.float32
    )
    vertices, faces = merge_equal(corners)
    assert len(vertices) == 4
    np.testing.assert_array_equal(vertices[faces], corners.astype(np.float64))


BAD = {
    "cut short.stl": lambda data: data[:-30],
    "empty.stl": lambda data: b"",
    "words.stl": lambda data: b"this is a shopping list",
    "words.ply": lambda data: b"this is a shopping list",
    "words.glb": lambda data: b"this is a shopping list",
    "words.3mf": lambda data: b"this is a shopping list",
    "no triangles.stl": lambda data: data[:80] + b"\0\0\0\0",
}


@pytest.mark.parametrize("name", BAD)
def test_unusable_file_is_one_clear_fault(name: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(BAD[name](block().export(file_type="stl")))
    with pytest.raises(MeshFileError) as raised:
        read_bodies(path)
    (fault,) = raised.value.faults
    assert name in fault.file
    assert fault.wrong
    assert fault.right


def test_coordinates_that_are_no_numbers_are_refused(tmp_path: Path) -> None:
    data = bytearray(block().export(file_type="stl"))
    data[84 + 12 : 84 + 16] = np.float32(np.nan).tobytes()
    path = tmp_path / "nan.stl"
    path.write_bytes(data)
    with pytest.raises(MeshFileError, match="not finite"):
        read_bodies(path)


def test_unknown_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "part.dwg"
    path.write_bytes(b"x")
    with pytest.raises(MeshFileError, match="STL"):
        read_bodies(path)
