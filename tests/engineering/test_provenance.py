"""Every number that reaches a page has a provenance."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import pkgutil
import typing
from pathlib import Path

import assembler.figure
from assembler.engineering import boltsalone, bondstress, curing, exposure, finishing, loads, transport
from assembler.engineering.provenance import NUMBER_KINDS, Mark, kind_of, provenance_rows

TESTS = Path(__file__).resolve().parent.parent
RESULTS = (boltsalone, bondstress, curing, exposure, finishing, loads, transport)
# Records whose numbers never stand on a page: how a mesh is recognised, held, looked at, and drawn.
NOT_PRINTED = {"Fingerprint", "Mesh", "View", "Picture"}


def _records() -> dict[str, type]:
    modules = [
        importlib.import_module(f"assembler.figure.{info.name}")
        for info in pkgutil.iter_modules(assembler.figure.__path__)
    ]
    return {
        name: thing
        for module in [*modules, *RESULTS]
        for name, thing in vars(module).items()
        if dataclasses.is_dataclass(thing)
        and isinstance(thing, type)
        and thing.__module__ == module.__name__
        and name not in NOT_PRINTED
    }


def _is_number(annotation: object) -> bool:
    """Whether a field holds numbers: int, float, or tuples and dicts of nothing but numbers (and names)."""
    if annotation in (int, float):
        return True
    if annotation is bool:
        return False
    inner = [part for part in typing.get_args(annotation) if part not in (Ellipsis, type(None), str)]
    return bool(inner) and all(_is_number(part) for part in inner)


def _numeric_fields() -> set[str]:
    found = set()
    for name, record in _records().items():
        hints = typing.get_type_hints(record)
        found |= {f"{name}.{field.name}" for field in dataclasses.fields(record) if _is_number(hints[field.name])}
    return found


def test_every_number_has_a_provenance() -> None:
    known = [field for kind in NUMBER_KINDS for field in kind.fields]
    assert len(known) == len(set(known)), "a field stands in two kinds"
    assert _numeric_fields() - set(known) == set(), "numbers without provenance"
    assert set(known) - _numeric_fields() == set(), "provenance of fields that are gone"


def test_a_published_mark_has_a_check_in_the_published_tests() -> None:
    for kind in NUMBER_KINDS:
        if kind.mark is Mark.PUBLISHED:
            assert kind.check.startswith("published/"), kind.title


def test_named_checks_exist() -> None:
    for kind in NUMBER_KINDS:
        if not kind.check:
            assert kind.mark is not Mark.PUBLISHED, kind.title
            continue
        path, name = kind.check.split("::")
        tree = ast.parse((TESTS / path).read_text(encoding="utf-8"))
        assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, kind.check


def test_the_table_shows_every_mark() -> None:
    rows = provenance_rows()
    assert len(rows) == len(NUMBER_KINDS)
    assert all(title and mark and note for title, mark, note in rows)


def test_lookup() -> None:
    assert kind_of("Stack.torque_nm").mark is Mark.PRACTICE
