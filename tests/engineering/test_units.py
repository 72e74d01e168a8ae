"""Units are in the names, and a value of one unit is not handed to a name of another."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "assembler"
ROOMS = ("catalogue", "engineering")
# Longest first, so that '_mm2_min' is not read as '_min'.
UNITS = (
    "kg_m3",
    "m2_l",
    "mm2_min",
    "kg_m2",
    "m_s2",
    "m_s",
    "mm2",
    "mm3",
    "mm5",
    "mm6",
    "mm",
    "nmm",
    "nm",
    "rad",
    "n",
    "mpa",
    "pa",
    "kg",
    "ml",
    "l",
    "c",
    "min",
    "deg",
    "h",
    "g",
    "percent",
    "px",
)
MODULES = sorted(path for room in ROOMS for path in (PACKAGE / room).rglob("*.py"))


def _unit(name: str) -> str:
    """Unit at the end of a name, or ''."""
    for unit in UNITS:
        if name.lower().endswith(f"_{unit}"):
            return unit
    return ""


def _named(node: ast.expr) -> str:
    if isinstance(node, ast.Name):
        return node.id
    return node.attr if isinstance(node, ast.Attribute) else ""


def _mixed(tree: ast.AST) -> list[str]:
    """Keyword arguments, assignments, sums and comparisons that bring two units together."""
    pairs: list[tuple[str, str, int]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.keyword) and node.arg:
            pairs.append((node.arg, _named(node.value), node.value.lineno))
        elif isinstance(node, ast.Assign) and len(node.targets) == 1:
            pairs.append((_named(node.targets[0]), _named(node.value), node.lineno))
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add | ast.Sub):
            pairs.append((_named(node.left), _named(node.right), node.lineno))
        elif isinstance(node, ast.Compare):
            for one, other in zip([node.left, *node.comparators], node.comparators, strict=False):
                pairs.append((_named(one), _named(other), node.lineno))
    return [
        f"line {line}: {one} and {other}"
        for one, other, line in pairs
        if _unit(one) and _unit(other) and _unit(one) != _unit(other)
    ]


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_no_value_changes_its_unit_on_the_way(module: Path) -> None:
    assert _mixed(ast.parse(module.read_text(encoding="utf-8"))) == []


def test_the_check_sees_a_mix() -> None:
    for text in ("f(gap_mm=gap_c)", "mass_kg = load_n", "x = a_mm + b_mm2", "a_min < b_h"):
        assert len(_mixed(ast.parse(text))) == 1, text
    assert _mixed(ast.parse("f(gap_mm=gap_mm)\nx_mm = y_mm + z_mm")) == []


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_scalars_carry_their_unit(module: Path) -> None:
    """Every float parameter and field of a public name has a unit or is a known pure number."""
    pure = {
        "waste",
        "drag",
        "share",
        "safety",
        "multiplier",
        "limit",
        "load",
        "horizontal",
        "vertical",
        "distance",
        "asymmetric",
        "frequency",
        "coupling",
        "nut_factor",
        "low",
        "high",
        "value",
        "duration",
        "amount",
        "height",
        "slip_safety",
        "gap_safety",
        "near",
        "far",
        "origin_height",
        "height_slope",
        "highest",
        "distance_share",
        "day_share",
        "night_share",
        "shortest",
        "longest",
        "origin_vertical",
        "rate",
        "lifts_min",
        "tolerance",
        "tail",
        "friction",
        "minutes",
    }
    missing = []
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        named = []
        if isinstance(node, ast.arg) and node.annotation is not None:
            named = [(node.arg, node.annotation)]
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            named = [(node.target.id, node.annotation)]
        for name, annotation in named:
            is_float = isinstance(annotation, ast.Name) and annotation.id == "float"
            if is_float and not name.startswith("_") and not _unit(name) and name not in pure:
                missing.append(name)
    assert missing == []
