"""A run with the cache of earlier ones plans what a run without any plans, whatever was cut again since."""

from __future__ import annotations

import math
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
import trimesh
from manifold3d import Manifold

from assembler import pipeline
from assembler.projectfiles.planfile import plan_json
from tests import specimens

LEVEL_MM = 300.0
LOW, UP = "P02", "P04"
"""Left halves of the two levels of the tower."""


def _quiet(_: str) -> None:
    return


def _export(name: str, body: Manifold, folder: Path) -> None:
    mesh = specimens.mesh_of(body)
    trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(folder / f"{name}.stl")


def _said(root: Path) -> tuple[str, str]:
    """The plan and the joints that a run writes."""
    plan = plan_json(pipeline.plan_project(pipeline.open_project(root, _quiet), _quiet).plan)
    return plan, (root / "joints.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def solids() -> dict[str, Manifold]:
    """A tower of two levels on a base, each in two halves."""
    return dict(specimens.tower(2).solids)


@pytest.fixture(scope="module")
def project(solids: dict[str, Manifold], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Surveyed and planned once."""
    folder = tmp_path_factory.mktemp("tower")
    (folder / "exports").mkdir()
    for name, body in solids.items():
        _export(name, body, folder / "exports")
    pipeline.survey_project(folder / "exports", folder / "project", unit="mm", progress=_quiet)
    _said(folder / "project")
    return folder / "project"


def _pocket_and_bolt(solids: dict[str, Manifold], parts: Path) -> None:
    """A pocket inside one part, and one bolt more between it and the next."""
    pocket = specimens.box((-300, -30, 140), (-203, 30, 160))
    hole = specimens.rod((-185 * math.cos(0.4), 185 * math.sin(0.4), LEVEL_MM), (0, 0, 1), 4.5, 30)
    _export(LOW, solids[LOW] - pocket - hole, parts)
    _export(UP, solids[UP] - hole, parts)


def _split_and_taller(solids: dict[str, Manifold], parts: Path) -> None:
    """One part becomes two; another grows, and with it the box of the figure and every grid."""
    top, low = solids[LOW].split_by_plane((0, 0, 1), 150)
    (parts / f"{LOW}.stl").unlink()
    _export(f"{LOW}_top", top, parts)
    _export(f"{LOW}_low", low, parts)
    _export(UP, solids[UP] + specimens.box((-205, -20, 590), (-190, 20, 630)), parts)


@pytest.mark.parametrize("cut", [_pocket_and_bolt, _split_and_taller])
def test_the_plan_after_a_re_cut_is_that_of_a_run_without_a_cache(
    cut: Callable[[dict[str, Manifold], Path], None], solids: dict[str, Manifold], project: Path, tmp_path: Path
) -> None:
    warm, cold = tmp_path / "one" / "project", tmp_path / "two" / "project"
    for root in (warm, cold):
        shutil.copytree(project, root)
        cut(solids, root / "parts")
    shutil.rmtree(cold / ".cache")
    assert _said(warm) == _said(cold)


def test_a_damaged_cache_changes_nothing(project: Path, tmp_path: Path) -> None:
    plain = _said(project)
    harmed = tmp_path / "project"
    shutil.copytree(project, harmed)
    (file,) = (path for path in (harmed / ".cache").rglob("*") if path.is_file())
    data = file.read_bytes()
    for damaged in (data[: len(data) // 2], b"", data[:8192] + bytes(len(data) - 8192)):
        file.write_bytes(damaged)
        assert _said(harmed) == plain


def test_a_refused_run_leaves_no_cache(tmp_path: Path) -> None:
    exports = tmp_path / "exports"
    exports.mkdir()
    _export("good", specimens.box((0, 0, 0), (200, 200, 200)), exports)
    (exports / "bad.stl").write_bytes(b"no mesh")
    with pytest.raises(pipeline.InputError):
        pipeline.survey_project(exports, tmp_path / "project", unit="mm", progress=_quiet)
    assert not (tmp_path / "project").exists()
