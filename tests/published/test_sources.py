"""Every check in this folder names a row of sources.csv that a reader can follow, and every row is named."""

from __future__ import annotations

import ast
from importlib.resources import files
from pathlib import Path

from assembler.catalogue import tables
from assembler.catalogue.records import Sureness

HERE = Path(__file__).resolve().parent
ABOUT_TESTS = {"test_every_table_has_a_check_or_says_that_it_is_from_memory"}


def _named() -> dict[str, tuple[str, ...]]:
    """By check: the rows that its decorator names."""
    found = {}
    for path in sorted(HERE.glob("test_*.py")):
        if path.name == Path(__file__).name:
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if not isinstance(node, ast.FunctionDef) or not node.name.startswith("test_") or node.name in ABOUT_TESTS:
                continue
            found[f"{path.name}::{node.name}"] = tuple(
                str(ast.literal_eval(word))
                for mark in node.decorator_list
                if isinstance(mark, ast.Call) and isinstance(mark.func, ast.Name) and mark.func.id == "source"
                for word in mark.args
            )
    return found


def test_every_check_names_a_row() -> None:
    keys = {row.key for row in tables.references()}
    for check, named in _named().items():
        assert named, check
        assert set(named) <= keys, check


def test_every_row_is_used() -> None:
    used = {key for named in _named().values() for key in named}
    for entry in files("assembler.catalogue").joinpath("data").iterdir():
        if entry.name.endswith(".csv") and entry.name != "sources.csv":
            used |= {line.rsplit(",", 1)[1] for line in entry.read_text(encoding="utf-8").splitlines()[1:]}
    assert {row.key for row in tables.references()} - used == set()


def test_rows_can_be_followed() -> None:
    keys = [row.key for row in tables.references()]
    assert len(keys) == len(set(keys))
    for row in tables.references():
        assert row.text, row.key
        # What was read somewhere can be read again there; what has no address is from memory, practice or common text.
        if row.how in (Sureness.READ, Sureness.SECOND_HAND):
            assert row.title or row.text, row.key
            assert row.address.startswith("http"), row.key
        assert not row.read or (len(row.read) == 10 and row.address), row.key
