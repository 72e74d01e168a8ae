"""A folder of parts runs nothing: not what is called like a module there, nor what was pickled."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import assembler
from assembler.isolation import isolated_children, leave_working_folder

PACKAGE = Path(assembler.__file__).parent
HOSTILE = ("pickle", "struct", "selectors", "multiprocessing", "numpy", "__future__", "argparse", "json", "secrets")

CALLER = """
import sys
from assembler.parallel import workers
if __name__ == "__main__":
    with workers(2) as others:
        print(*others.submit(sys.path.copy).result(), sep="\\n")
"""


@pytest.fixture
def parts(tmp_path: Path) -> Path:
    """A working folder with modules that others import."""
    folder = tmp_path / "parts"
    folder.mkdir()
    for name in HOSTILE:
        ran = tmp_path / f"ran-{name}"
        (folder / f"{name}.py").write_text(f"open({str(ran)!r}, 'w').close()\nraise SystemExit(9)\n", encoding="utf-8")
    return folder


def _called(call: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    inherited = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    environment = {**inherited, "PYTHONPATH": str(PACKAGE.parent)}
    done = subprocess.run(call, cwd=folder, env=environment, capture_output=True, text=True, check=False)
    assert sorted(path.name for path in folder.parent.glob("ran-*")) == []
    return done


def test_a_process_that_the_program_starts_does_not_look_there(parts: Path, tmp_path: Path) -> None:
    script = tmp_path / "bin" / "caller.py"
    script.parent.mkdir()
    script.write_text(CALLER, encoding="utf-8")
    done = _called([sys.executable, str(script)], parts)
    assert done.returncode == 0, done.stderr
    assert str(PACKAGE.parent) in done.stdout.splitlines()
    assert not {"", str(parts)} & set(done.stdout.splitlines())


def test_the_program_called_as_a_module_does_not_look_there(parts: Path) -> None:
    (parts / "empty").mkdir()
    done = _called([sys.executable, "-m", "assembler", "book", "empty"], parts)
    assert done.returncode == 2, done.stderr
    (line,) = done.stderr.splitlines()
    assert "figure.toml" in line


def test_the_working_folder_leaves_the_path_and_the_rest_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["", str(tmp_path), str(PACKAGE.parent), "/elsewhere"])
    leave_working_folder()
    assert sys.path == [str(PACKAGE.parent), "/elsewhere"]


def test_the_folder_of_the_program_itself_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(PACKAGE.parent)
    monkeypatch.setattr(sys, "path", [str(PACKAGE.parent)])
    leave_working_folder()
    assert sys.path == [str(PACKAGE.parent)]


def test_children_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONSAFEPATH", "")
    isolated_children()
    assert os.environ["PYTHONSAFEPATH"] == "1"


RUNS = {"pickle", "cPickle", "shelve", "marshal", "dill", "cloudpickle", "joblib", "code", "runpy", "yaml"}
"""Modules that run what they read."""


@cache
def _trees() -> list[tuple[str, ast.AST]]:
    return [
        (path.relative_to(PACKAGE).as_posix(), ast.parse(path.read_text(encoding="utf-8")))
        for path in sorted(PACKAGE.rglob("*.py"))
    ]


def _imported(tree: ast.AST) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add((node.module or "").split(".")[0])
    return names


def _calls(tree: ast.AST) -> Iterator[tuple[str, ast.Call]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield _said(node.func), node


def _said(name: ast.expr) -> str:
    if isinstance(name, ast.Attribute):
        return f"{_said(name.value)}.{name.attr}"
    return name.id if isinstance(name, ast.Name) else ""


def test_nothing_that_is_read_is_run() -> None:
    assert {name for name, tree in _trees() if _imported(tree) & RUNS} == set()
    run = [f"{name}: {said}" for name, tree in _trees() for said, _ in _calls(tree) if said in ("eval", "exec")]
    assert run == []


def test_arrays_are_read_without_pickles() -> None:
    reads = {"np.load", "numpy.load", "np.lib.format.read_array"}
    found = [(name, call) for name, tree in _trees() for said, call in _calls(tree) if said in reads]
    assert found
    for name, call in found:
        (allowed,) = [word.value for word in call.keywords if word.arg == "allow_pickle"]
        assert ast.unparse(allowed) == "False", name


def test_what_is_marked_as_markup_is_known() -> None:
    """Everything else is escaped; these are drawings whose texts were escaped where they were drawn."""
    templates = PACKAGE.parent / "templates"
    safe = {
        f"{path.name}: {piece.split('}}')[0].strip().removesuffix('|safe')}"
        for path in sorted(templates.glob("*.html"))
        for piece in path.read_text(encoding="utf-8").split("{{")
        if "|safe" in piece.split("}}")[0].replace(" ", "")
    }
    drawn = {"macros.html: box.overlay_svg", "macros.html: drawing.body_svg", "macros.html: card.face_svg"}
    assert safe == drawn | {"look.html: one.overlay_svg"}
    marked = {name for name, tree in _trees() for said, _ in _calls(tree) if said.split(".")[-1] == "Markup"}
    assert marked == {"publishing/templating.py"}
    assert not [path.name for path in templates.iterdir() if "autoescape" in path.read_text(encoding="utf-8")]
