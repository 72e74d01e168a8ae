"""Imports go only downwards, and rooms of one floor do not know each other."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "assembler"
FLOORS = {
    "errors": 0,
    "isolation": 0,
    "filegate": 1,
    "roombound": 1,
    "cache": 1,
    "words": 1,
    "progress": 1,
    "parallel": 2,
    "cluster": 3,
    "figure": 2,
    "catalogue": 2,
    "geometry": 3,
    "engineering": 3,
    "drawing": 3,
    "projectfiles": 3,
    "survey": 4,
    "planning": 4,
    "recut": 4,
    "transport": 4,
    "publishing": 5,
    "reports": 5,
    "project": 5,
    "status": 5,
    "earlier": 5,
    "publication": 6,
    "showing": 6,
    "pipeline": 7,
    "cli": 8,
    "__main__": 9,
}
OWNERS = {
    "OpenGL": 1,
    "PIL": 4,
    "cascadio": 1,
    "distributed": 1,
    "fast_simplification": 1,
    "jinja2": 1,
    "lxml": 2,
    "manifold3d": 4,
    "markupsafe": 1,
    "networkx": 4,
    "numpy": 200,
    "ortools": 3,
    "pikepdf": 1,
    "pydantic": 16,
    "pydantic_core": 1,
    "pydyf": 2,
    "pyrender": 1,
    "scipy": 25,
    "segno": 1,
    "shapely": 4,
    "tomlkit": 1,
    "tqdm": 1,
    "trimesh": 2,
    "weasyprint": 1,
    "xlsxwriter": 1,
}
"""All libraries that the program imports, and by how many modules at most. numpy is everybody's, and scipy's arrays
and trees are nearly so; pydantic stands where files come in. Of the others one to four modules own each."""
DOORS = {"drawing": 4, "planning": 6, "publishing": 6, "recut": 9, "survey": 6, "transport": 1}
"""Rooms with doors, and how many at most. Four are wanted; none may get more than it has."""
_MODULE = re.compile(r"assembler(\.[a-z_]+)+")
_HARMLESS = {"importlib.metadata", "importlib.resources.files"}
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


def _doors(room: str) -> tuple[str, ...]:
    """Modules that a room names as its doors."""
    tree = ast.parse((PACKAGE / room / "__init__.py").read_text(encoding="utf-8"))
    named = [
        node.value for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "DOORS"
    ]
    return tuple(ast.literal_eval(named[0]))


@pytest.mark.parametrize("room", DOORS)
def test_other_rooms_come_in_by_the_doors(room: str) -> None:
    """And by every one of them: what nobody asks for is no door."""
    used: dict[str, list[str]] = {}
    for module in MODULES:
        if _room(module) != room:
            for name in _imports(module):
                match name.split("."):
                    case ["assembler", at, inner, *_] if at == room and (PACKAGE / room / f"{inner}.py").exists():
                        used.setdefault(inner, []).append(str(module.relative_to(ROOT)))
    doors = _doors(room)
    assert {inner: modules for inner, modules in used.items() if inner not in doors} == {}
    assert set(doors) == set(used)
    assert len(doors) <= DOORS[room]


@pytest.mark.parametrize("room", sorted(path.parent.name for path in PACKAGE.glob("*/__init__.py")))
def test_the_map_of_a_room_names_all_its_modules(room: str) -> None:
    docs = ast.get_docstring(ast.parse((PACKAGE / room / "__init__.py").read_text(encoding="utf-8"))) or ""
    modules = {module.stem for module in (PACKAGE / room).glob("*.py")} - {"__init__"}
    assert set(re.findall(r"`(\w+)`", docs)) == modules


def _owners() -> dict[str, list[str]]:
    """By library that is neither Python's nor the program's own: the modules that import it."""
    owners: dict[str, list[str]] = {}
    for module in MODULES:
        for library in sorted({name.split(".")[0] for name in _imports(module)}):
            if library not in sys.stdlib_module_names and library != "assembler":
                owners.setdefault(library, []).append(str(module.relative_to(ROOT)))
    return owners


def test_every_library_has_few_owners() -> None:
    owners = _owners()
    assert owners.keys() == OWNERS.keys()
    assert {library: found for library, found in owners.items() if len(found) > OWNERS[library]} == {}


def test_the_program_states_what_it_imports() -> None:
    """Under the name by which it is installed where that is another."""
    installed = {
        "PIL": "pillow",
        "OpenGL": "pyrender",
        "fast_simplification": "fast-simplification",
        "pydyf": "weasyprint",
        "markupsafe": "jinja2",
        "pydantic_core": "pydantic",
    }
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    stated = [
        *project["dependencies"],
        *project["optional-dependencies"]["step"],
        *project["optional-dependencies"]["cluster"],
    ]
    names = {re.split(r"[<>=]", line)[0] for line in stated}
    assert {installed.get(library, library) for library in OWNERS} <= names


def test_only_the_command_line_imports_late() -> None:
    """What draws and sets pages takes seconds to load: it loads it where a command gets there, and no earlier."""
    late: list[str] = []
    for module in MODULES:
        if _room(module) in ("__main__", "cli"):
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


def _named_in_strings(source: str) -> list[int]:
    """Lines that import by string, or hold a string that names a module of the program."""
    lines = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import | ast.ImportFrom):
            module = getattr(node, "module", None) or ""
            names = {f"{module}.{alias.name}".strip(".") for alias in node.names}
            loaders = {name for name in names if name.split(".")[0] in ("importlib", "runpy")}
            lines += [node.lineno] * bool(loaders - _HARMLESS)
        if isinstance(node, ast.Name) and node.id in ("__import__", "exec", "eval"):
            lines.append(node.lineno)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and _MODULE.fullmatch(node.value):
            lines.append(node.lineno)
        if isinstance(node, ast.Attribute) and node.attr == "modules" and getattr(node.value, "id", "") == "sys":
            lines.append(node.lineno)
    return lines


def test_no_module_is_loaded_by_a_string_or_put_in_the_place_of_another() -> None:
    """Such an import points wherever it likes, and nothing else here could see it."""
    found = {str(module.relative_to(ROOT)): _named_in_strings(module.read_text(encoding="utf-8")) for module in MODULES}
    assert {module: lines for module, lines in found.items() if lines} == {}


@pytest.mark.parametrize(
    "source",
    [
        "import importlib",
        "from importlib import import_module",
        "import runpy",
        "__import__('assembler.cli')",
        "PAPER = 'assembler.paper'",
        "import sys\nsys.modules['pyrender.viewer'] = None",
    ],
)
def test_an_import_by_string_would_be_seen(source: str) -> None:
    assert _named_in_strings(source)


def test_versions_of_libraries_may_be_asked_for() -> None:
    assert not _named_in_strings("from importlib import metadata\nmetadata.version('numpy')\nx = 'assembler: error'")
