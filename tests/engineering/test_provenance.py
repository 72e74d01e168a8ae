"""Every number that reaches a page has a provenance."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import pkgutil
import typing
from pathlib import Path

import pytest

import assembler.figure
from assembler.engineering import basejoint, boltsalone, bondstress, curing, exposure, finishing, loads, transport
from assembler.engineering.provenance import (
    CONSTANTS,
    NUMBER_KINDS,
    Mark,
    inputs_mark,
    kind_of,
    overall_mark,
    provenance_rows,
)
from assembler.figure.settings import Material
from tests.engineering.specimens import settings

TESTS = Path(__file__).resolve().parent.parent
RESULTS = (basejoint, boltsalone, bondstress, curing, exposure, finishing, loads, transport)
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
        if kind.rule is Mark.PUBLISHED:
            assert kind.check.startswith("published/"), kind.title


def test_named_checks_exist() -> None:
    for kind in NUMBER_KINDS:
        if not kind.check:
            assert kind.rule is not Mark.PUBLISHED, kind.title
            continue
        path, name = kind.check.split("::")
        tree = ast.parse((TESTS / path).read_text(encoding="utf-8"))
        assert name in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, kind.check


def test_the_table_shows_every_mark() -> None:
    rows = provenance_rows()
    assert len(rows) == len(NUMBER_KINDS)
    assert all(title and rule and note for title, rule, _, note in rows)


def test_lookup() -> None:
    assert kind_of("Stack.torque_nm").rule is Mark.PRACTICE
    with pytest.raises(KeyError, match="no provenance"):
        kind_of("Nothing.at_all")


def _engineering_constants() -> dict[str, str]:
    """Public numbers of this room by module and name, with the text below them."""
    found = {}
    for path in sorted((TESTS.parent / "assembler" / "engineering").glob("*.py")):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        for node, following in zip(body, [*body[1:], ast.Pass()], strict=True):
            if not isinstance(node, ast.Assign):
                continue
            said = (
                str(ast.literal_eval(following.value))
                if isinstance(following, ast.Expr) and isinstance(following.value, ast.Constant)
                else ""
            )
            numbers = [one for one in ast.walk(node.value) if isinstance(one, ast.Constant)]
            if not numbers or any(isinstance(one.value, str) for one in numbers):
                continue
            for target in node.targets:
                names = target.elts if isinstance(target, ast.Tuple) else [target]
                for name in names:
                    if isinstance(name, ast.Name) and name.id.isupper() and not name.id.startswith("_"):
                        found[f"{path.stem}.{name.id}"] = said
    return found


def test_every_constant_has_a_mark_and_says_the_same_where_it_stands() -> None:
    found = _engineering_constants()
    assert set(found) == set(CONSTANTS)
    for name, said in found.items():
        assert said, f"{name} does not say what it is"
        if "from memory" in said.lower() and "own sum from memory" not in said:
            assert CONSTANTS[name] is Mark.MEMORY, name
        if "no source" in said:
            assert CONSTANTS[name] is Mark.PRACTICE, name
        if CONSTANTS[name] is Mark.PUBLISHED:
            assert any(word in said for word in ("second-hand", "read in", "ISO", "EN ", "least value")), name


def test_marks_follow_from_what_a_number_rests_on() -> None:
    by_title = {kind.title: kind for kind in NUMBER_KINDS}
    titles = list(by_title)
    assert len(titles) == len(set(titles))
    for kind in NUMBER_KINDS:
        assert set(kind.rests_on) <= set(titles), kind.title
        assert set(kind.constants) <= set(CONSTANTS), kind.title
        # Nothing is surer than what it rests on.
        for other in kind.rests_on:
            assert list(Mark).index(overall_mark(kind)) >= list(Mark).index(overall_mark(by_title[other])), kind.title
    # Times rest on rates that nobody measured; masses on densities that the shop states, or only remembers.
    assert inputs_mark(kind_of("Plan.total_min")) is Mark.PRACTICE
    assert inputs_mark(kind_of("Part.mass_kg")) is Mark.STATED
    remembered = settings(
        materials={"plastic": Material(name="plastic", density_kg_m3=950.0, bearing_mpa=15.0, source="from memory")}
    )
    assert inputs_mark(kind_of("Part.mass_kg"), remembered) is Mark.MEMORY
    assert inputs_mark(kind_of("Stability.tip_deg"), remembered) is Mark.MEMORY
    assert inputs_mark(kind_of("Lift.people")) is Mark.PRACTICE
    assert inputs_mark(kind_of("Access.reach_mm")) is Mark.MEMORY
    assert inputs_mark(kind_of("Part.triangles")) is None
    assert dict((title, goes_in) for title, _, goes_in, _ in provenance_rows(remembered))["tip angle"] == "from memory"


def test_every_table_goes_into_a_kind() -> None:
    used = {name for kind in NUMBER_KINDS for name in kind.tables}
    # Clearance holes tell sizes apart, typical materials and adhesives are copied into a new figure.toml.
    apart = {"adhesives", "clearance_holes", "inch_holes", "materials", "sources"}
    data = {path.stem for path in (TESTS.parent / "assembler" / "catalogue" / "data").glob("*.csv")}
    assert used | apart == data
