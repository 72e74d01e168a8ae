"""Part files that an earlier run read: the same bodies and findings, without reading, and only for the same bytes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from assembler.errors import MeshFileError
from assembler.figure.mesh import mesh_digest
from assembler.figure.tolerances import Tolerances
from assembler.projectfiles.cachefolder import CacheFolder
from assembler.projectfiles.keptarrays import KeptArrays
from assembler.survey.intake import Intake, read_parts


def _intake(folder: Path, cache: Path | None, unit_mm: float | None = 1.0) -> Intake:
    kept = KeptArrays(CacheFolder(root=cache) if cache else None, common="code")
    intake = read_parts(folder, unit_mm=unit_mm, tolerances=Tolerances(), kept=kept)
    kept.save()
    return intake


def _same(one: Intake, two: Intake) -> bool:
    def said(intake: Intake) -> list[tuple[object, ...]]:
        return [
            (body.file, body.triangles, body.is_watertight, body.notes, body.fingerprint, body.unit_mm)
            + (body.unit_origin, mesh_digest(body.mesh))
            for body in intake.bodies
        ]

    return said(one) == said(two) and one.findings == two.findings


@pytest.fixture
def parts(tmp_path: Path) -> Path:
    """A sound box, a box with a hole in its surface and doubled corners, and two bodies in one file."""
    folder = tmp_path / "parts"
    folder.mkdir()
    trimesh.creation.box((100, 80, 60)).export(folder / "whole.stl")
    corners = np.asarray(trimesh.creation.box((50, 60, 70)).triangles)
    torn = trimesh.Trimesh(corners[1:].reshape(-1, 3), np.arange(33).reshape(-1, 3), process=False)
    torn.export(folder / "torn.ply")
    both = [trimesh.creation.box((10, 10, 10)), trimesh.creation.box((5, 5, 5))]
    both[1].apply_translation((100, 0, 0))
    trimesh.util.concatenate(both).export(folder / "both.stl")
    return folder


def test_what_was_kept_is_what_is_read(parts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = _intake(parts, None)
    assert plain.findings
    assert _same(_intake(parts, tmp_path / "cache"), plain)

    def no_more(*_: object, **__: object) -> None:
        raise AssertionError("a file was read that was read before")

    monkeypatch.setattr("assembler.survey.intake.read_bodies", no_more)
    monkeypatch.setattr("assembler.survey.intake.heal", no_more)
    assert _same(_intake(parts, tmp_path / "cache"), plain)


def test_other_bytes_another_name_and_another_unit_are_read_anew(parts: Path, tmp_path: Path) -> None:
    _intake(parts, tmp_path / "cache")
    trimesh.creation.box((100, 80, 61)).export(parts / "whole.stl")
    (parts / "torn.ply").rename(parts / "broken.ply")
    for unit_mm in (1.0, 25.4, None):
        assert _same(_intake(parts, tmp_path / "cache", unit_mm), _intake(parts, None, unit_mm))


def test_damaged_entries_are_read_anew(parts: Path, tmp_path: Path) -> None:
    plain = _intake(parts, tmp_path / "cache")
    for file in (tmp_path / "cache").glob("*/*/*.bin"):
        file.write_bytes(file.read_bytes()[:-7])
    assert _same(_intake(parts, tmp_path / "cache"), plain)


def test_gltf_that_holds_its_mesh_itself_is_read_anew_when_it_changes(tmp_path: Path) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    for size in (0.1, 0.2):
        files = trimesh.Scene(trimesh.creation.box((size, size, size))).export(file_type="gltf", embed_buffers=True)
        (folder / "box.gltf").write_bytes(files["model.gltf"])
        (body,) = _intake(folder, tmp_path / "cache").bodies
        assert body.fingerprint.volume_mm3 == pytest.approx((1000 * size) ** 3, rel=1e-5)


def test_gltf_with_its_mesh_in_another_file_is_refused(tmp_path: Path) -> None:
    for name, data in trimesh.Scene(trimesh.creation.box((0.1, 0.1, 0.1))).export(file_type="gltf").items():
        (tmp_path / ("box.gltf" if name.endswith("gltf") else name)).write_bytes(data)
    with pytest.raises(MeshFileError, match="lies in another file; export as GLB"):
        _intake(tmp_path, None)
