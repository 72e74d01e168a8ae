"""Bad input gets one clear line a fault, exit code 2, no traceback, and nothing half-written."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from assembler.cli import main
from tests.pipeline.tower import write_tower


@pytest.fixture(scope="module")
def surveyed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bad")
    assert main(["survey", str(write_tower(folder / "parts")), str(folder / "tower")]) == 0
    return folder / "tower"


@pytest.fixture
def project(surveyed: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(surveyed, tmp_path / "tower"))


def _snapshot(folder: Path) -> dict[str, bytes]:
    """Files and their content; what is kept only to save time, and may be deleted at any time, does not count."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file() and ".cache" not in path.parts]
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}


def _refused(capsys: pytest.CaptureFixture[str], folder: Path, *call: str) -> list[str]:
    capsys.readouterr()
    before = _snapshot(folder)
    assert main(list(call)) == 2
    assert _snapshot(folder) == before
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "Traceback" not in captured.err
    return [line for line in captured.err.splitlines() if line.startswith("assembler: ")]


def _edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_missing_parts_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = _refused(capsys, tmp_path, "survey", str(tmp_path / "nowhere"), str(tmp_path / "project"))
    assert "nowhere" in line


def test_the_command_says_one_line_and_nothing_else(tmp_path: Path) -> None:
    """Though others have come to draw already: in a process of its own, as a user calls it."""
    (tmp_path / "empty").mkdir()
    call = [sys.executable, "-m", "assembler", "book", str(tmp_path / "empty")]
    done = subprocess.run(call, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2])
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "figure.toml" in line
    assert done.stdout == ""


def test_a_folder_without_parts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "notes.txt").write_text("nothing here")
    (line,) = _refused(capsys, tmp_path, "survey", str(tmp_path / "parts"), str(tmp_path / "project"))
    assert "STL" in line


def test_files_that_are_no_meshes_are_all_named_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    parts = write_tower(tmp_path / "parts")
    (parts / "arm.stl").write_bytes(b"solid \x00\x01 nonsense")
    (parts / "leg.ply").write_text("this is a letter to a friend")
    lines = _refused(capsys, tmp_path, "survey", str(parts), str(tmp_path / "project"))
    assert len(lines) == 2
    assert "arm.stl" in lines[0]
    assert "leg.ply" in lines[1]


def test_a_recut_before_any_book_was_issued(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = _refused(capsys, project, "recut", str(project))
    assert "no book was issued yet" in line
    assert "--issue" in line


def test_a_mesh_that_has_become_unreadable(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mesh = project / "parts" / "ring upper.stl"
    mesh.write_bytes(mesh.read_bytes()[:5000])
    (line,) = _refused(capsys, project, "book", str(project))
    assert "ring upper.stl" in line


def test_a_project_folder_that_is_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    (line,) = _refused(capsys, tmp_path, "survey", str(tmp_path), str(tmp_path / "taken"))
    assert "is a file" in line


def test_no_project(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = _refused(capsys, tmp_path, "book", str(tmp_path))
    assert "assembler survey" in line


def test_a_joint_naming_an_unknown_part(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _edit(project / "joints.toml", '"P03"', '"P33"')
    lines = _refused(capsys, project, "check", str(project))
    assert any("joints.toml" in line and "P33" in line and "P01, P02, P03" in line for line in lines)


def test_a_negative_thickness(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _edit(project / "figure.toml", "bond_line_mm = 0.3", "bond_line_mm = -0.3")
    (line,) = _refused(capsys, project, "book", str(project))
    assert "adhesive.bond_line_mm: got -0.3" in line


def test_a_negative_grip(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _edit(project / "joints.toml", "grip_mm = 20.0", "grip_mm = -20.0")
    (line,) = _refused(capsys, project, "book", str(project))
    assert "grip_mm: got -20.0" in line


def test_an_unknown_step(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (line,) = _refused(capsys, project, "check", str(project), "--step", "99")
    assert "'99'" in line


@pytest.mark.parametrize(
    "call", [["paint"], ["book"], ["survey", "a"], ["check", "a", "--loud"], ["book", "a", "--workers", "0"]]
)
def test_a_wrong_call_is_one_line(call: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as caught:
        main(call)
    assert caught.value.code == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1
