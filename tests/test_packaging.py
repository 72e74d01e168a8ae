"""The wheel carries everything the program reads at run time."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder into which the built wheel was installed, without the checkout being in reach."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)]
    subprocess.run(build, check=True, capture_output=True, cwd=folder)
    (wheel,) = folder.glob("*.whl")
    target = folder / "site"
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index", "--target", str(target)]
    subprocess.run([*pip, str(wheel)], check=True, capture_output=True, cwd=folder)
    return target


def _run(installed: Path, code: str) -> str:
    environment = {**os.environ, "PYTHONPATH": str(installed)}
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, cwd=installed, env=environment
    )
    return done.stdout.strip()


def test_the_program_runs_from_the_wheel(installed: Path) -> None:
    where = _run(installed, "import assembler.pipeline; print(assembler.__file__)")
    assert Path(where).is_relative_to(installed)


def test_templates_tables_and_schema_are_in_the_wheel(installed: Path) -> None:
    package = installed / "assembler"
    for folder, suffix in (("templates", ".html"), ("templates", ".css")):
        source = {path.relative_to(ROOT / folder) for path in (ROOT / folder).rglob(f"*{suffix}")}
        assert source, f"no {suffix} in {folder}"
        assert source == {
            path.relative_to(package / "_templates") for path in (package / "_templates").rglob(f"*{suffix}")
        }
    for data in ROOT.joinpath("assembler").rglob("*"):
        if data.is_file() and data.suffix not in {".py", ".pyc"}:
            assert (installed / data.relative_to(ROOT)).read_bytes() == data.read_bytes()


def test_help_comes_at_once_without_loading_the_program(installed: Path) -> None:
    code = (
        "import sys, assembler.cli\n"
        "try:\n    assembler.cli.main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'trimesh', 'pyrender', 'weasyprint', 'networkx', 'pydantic'} & set(sys.modules)\n"
        "assert not heavy, heavy\n"
    )
    assert "survey" in _run(installed, code)
