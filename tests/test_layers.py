"""Imports go only downwards, and rooms of one floor do not know each other."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "assembler"
FLOORS = {
    "errors": 0,
    "isolation": 0,
    "filegate": 1,
    "roombound": 1,
    "assistants": 1,
    "codemark": 1,
    "figure": 2,
    "catalogue": 2,
    "geometry": 3,
    "engineering": 3,
    "drawing": 3,
    "projectfiles": 3,
    "survey": 4,
    "planning": 4,
    "recut": 4,
    "publishing": 5,
    "reports": 5,
    "project": 5,
    "earlier": 5,
    "reuse": 5,
    "partsread": 4,
    "likely": 6,
    "planned": 6,
    "drawnahead": 7,
    "illustrated": 7,
    "paper": 8,
    "pipeline": 9,
    "cli": 10,
    "__main__": 11,
}
# Each library has one to three owner modules; numpy is everybody's.
OWNERS = {
    "pyrender": 1,
    "weasyprint": 1,
    "pydyf": 2,
    "xlsxwriter": 1,
    "segno": 1,
    "jinja2": 1,
    "tomlkit": 1,
    "jsonschema": 0,
    "trimesh": 3,
    "fcl": 1,
    "lxml": 2,
    "cascadio": 1,
}
MODULES = sorted(PACKAGE.rglob("*.py"))


def _room(module: Path) -> str:
    top = module.relative_to(PACKAGE).parts[0]
    return top.removesuffix(".py")


def _imports(module: Path) -> set[str]:
    """Every module named in an import statement, those in function bodies and under TYPE_CHECKING too."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names.update(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative import"
            names.add(node.module or "")
            names.update(f"{node.module}.{alias.name}" for alias in node.names)
    return names


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_downwards(module: Path) -> None:
    room = _room(module)
    if room == "__init__":
        return
    assert room in FLOORS, f"{module.name} stands on no floor: add its room to FLOORS"
    for name in _imports(module):
        if not name.startswith("assembler."):
            continue
        target = name.split(".")[1]
        if target not in FLOORS or target == room:
            continue
        assert FLOORS[target] < FLOORS[room], f"{module.relative_to(ROOT)} (floor {FLOORS[room]}) imports {name}"


@pytest.mark.parametrize("library", sorted(OWNERS))
def test_libraries_have_few_owners(library: str) -> None:
    owners = [
        str(module.relative_to(ROOT))
        for module in MODULES
        if any(name.split(".")[0] == library for name in _imports(module))
    ]
    assert len(owners) <= OWNERS[library], owners


LATE = {"__main__", "cli", "pipeline", "drawnahead"}
"""What draws and sets pages takes seconds to load: these load it where a command gets there, and no earlier."""


def test_few_import_late() -> None:
    late: list[str] = []
    for module in MODULES:
        if _room(module) in LATE:
            continue
        tree = ast.parse(module.read_text(encoding="utf-8"))
        for function in ast.walk(tree):
            if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
                late += [
                    f"{module.relative_to(ROOT)}:{node.lineno}"
                    for node in ast.walk(function)
                    if isinstance(node, ast.Import | ast.ImportFrom)
                ]
    assert not late
