from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Fingerprint
from assembler.geometry.fingerprints import fingerprint
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.keptmeshes import keep_meshes, kept_meshes
from assembler.recut.likeness import is_unchanged
from tests.recut.tower import Recipe, mesh_of, re_exported, solids

Meshes = Mapping[PartId, Mesh]
A = Recipe()


def _read(recipe: Recipe) -> Meshes:
    return {PartId(part): mesh_of(solid) for part, solid in solids(recipe).items()}


def _marks(meshes: Meshes) -> dict[PartId, Fingerprint]:
    return {part: fingerprint(mesh) for part, mesh in meshes.items()}


def _is_of(mesh: Mesh, mark: Fingerprint) -> bool:
    return is_unchanged(fingerprint(mesh), mark)


def _digests(meshes: Meshes) -> dict[PartId, str]:
    return {part: mesh_digest(mesh) for part, mesh in meshes.items()}


def _run(folder: Path, meshes: Meshes) -> Meshes:
    chosen = kept_meshes(folder, meshes, _marks(meshes), _is_of)
    keep_meshes(folder, chosen)
    return chosen


def test_a_re_export_works_with_the_mesh_that_was_kept(tmp_path: Path) -> None:
    first = _run(tmp_path, _read(A))
    assert _digests(first) == _digests(_read(A))
    for seed in range(3):
        again = {part: re_exported(mesh, seed) for part, mesh in _read(A).items()}
        assert _digests(again) != _digests(first)
        assert _digests(_run(tmp_path, again)) == _digests(first)


def test_the_same_bits_again_are_the_callers_own_mesh(tmp_path: Path) -> None:
    _run(tmp_path, _read(A))
    again = _read(A)
    assert all(mesh is again[part] for part, mesh in _run(tmp_path, again).items())


def test_only_what_was_cut_again_is_taken_over(tmp_path: Path) -> None:
    first = _run(tmp_path, _read(A))
    recut = {part: re_exported(mesh, 1) for part, mesh in _read(replace(A, bolts={1: 8})).items()}
    second = _run(tmp_path, recut)
    changed = {part for part in first if mesh_digest(first[part]) != mesh_digest(second[part])}
    assert changed == {"P02", "P03"}
    assert all(second[part] is recut[part] for part in changed)


def test_what_is_kept_is_not_written_again_and_parts_that_are_gone_are_dropped(tmp_path: Path) -> None:
    _run(tmp_path, _read(A))
    before = {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    _run(tmp_path, _read(replace(A, absent=("P06",))))
    after = {path.name: path.stat().st_mtime_ns for path in tmp_path.iterdir()}
    assert after == {name: time for name, time in before.items() if name != "P06.npz"}


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 half a file", b"no archive"])
def test_a_damaged_file_counts_as_not_there(tmp_path: Path, content: bytes) -> None:
    _run(tmp_path, _read(A))
    (tmp_path / "P03.npz").write_bytes(content)
    again = {part: re_exported(mesh, 1) for part, mesh in _read(A).items()}
    assert {part for part, mesh in _run(tmp_path, again).items() if mesh is again[part]} == {"P03"}


def test_another_solid_under_the_name_of_a_part_is_not_taken_for_it(tmp_path: Path) -> None:
    _run(tmp_path, _read(A))
    (tmp_path / "P02.npz").write_bytes((tmp_path / "P03.npz").read_bytes())
    again = {part: re_exported(mesh, 1) for part, mesh in _read(A).items()}
    assert {part for part, mesh in _run(tmp_path, again).items() if mesh is again[part]} == {"P02"}


@pytest.mark.parametrize("corner", [-1, 10**6])
def test_triangles_of_corners_that_are_not_there_count_as_not_there(tmp_path: Path, corner: int) -> None:
    mesh = _run(tmp_path, _read(A))[PartId("P03")]
    faces = mesh.faces.copy()
    faces[0, 0] = corner
    np.savez(tmp_path / "P03.npz", vertices=mesh.vertices, faces=faces)
    again = {part: re_exported(mesh, 1) for part, mesh in _read(A).items()}
    assert {part for part, mesh in _run(tmp_path, again).items() if mesh is again[part]} == {"P03"}


def test_a_file_that_says_it_is_larger_than_the_machine_counts_as_not_there(tmp_path: Path) -> None:
    _run(tmp_path, _read(A))
    lie = io.BytesIO()
    np.lib.format.write_array_header_1_0(lie, {"descr": "<f8", "fortran_order": False, "shape": (10**15, 3)})
    with zipfile.ZipFile(tmp_path / "P03.npz", "w") as archive:
        archive.writestr("vertices.npy", lie.getvalue())
    again = {part: re_exported(mesh, 1) for part, mesh in _read(A).items()}
    assert {part for part, mesh in _run(tmp_path, again).items() if mesh is again[part]} == {"P03"}


def test_small_differences_do_not_add_up(tmp_path: Path) -> None:
    first = _run(tmp_path, {PartId("P05"): _read(A)[PartId("P05")]})
    kept = first[PartId("P05")]
    for turn in range(1, 12):
        moved = {PartId("P05"): Mesh(vertices=kept.vertices + 0.001 * turn, faces=kept.faces)}
        chosen = _run(tmp_path, moved)
        if mesh_digest(chosen[PartId("P05")]) != mesh_digest(kept):
            break
    assert 1 < turn < 6


def test_an_id_that_is_no_file_name_is_refused(tmp_path: Path) -> None:
    mesh = _read(A)[PartId("P05")]
    with pytest.raises(ValueError, match="no plain file name"):
        keep_meshes(tmp_path, {PartId("../P05"): mesh})


def test_the_input_digest_of_a_re_export_is_the_same_when_solids_count(tmp_path: Path) -> None:
    project = ProjectFolder(tmp_path)
    project.parts.mkdir()
    project.figure.write_text('name = "x"\n', encoding="utf-8")
    store = tmp_path / "kept"
    digests = []
    for seed in range(2):
        meshes = {part: re_exported(mesh, seed) for part, mesh in _read(A).items()}
        (project.parts / f"other name {seed}.stl").write_bytes(bytes([seed]))
        digests.append(input_digest(project, solids=_digests(_run(store, meshes))))
    assert digests[0] == digests[1]
    recut = _run(store, _read(replace(A, bolts={1: 8})))
    assert input_digest(project, solids=_digests(recut)) != digests[0]
