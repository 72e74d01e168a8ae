"""How sure each number in the book is: a published check in the tests, or a mark that the page shows.

Every numeric field of the nouns that reach a page has an entry here; a test fails when one is missing, or names a check
that does not exist.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Mark(StrEnum):
    """What the page shows beside a number, or leaves out because a published check stands behind it."""

    PUBLISHED = "checked against a published source"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"
    STATED = "stated by the shop"
    GEOMETRY = "measured on the meshes"
    COUNTED = "counted"


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberKind:
    """One kind of number in the book.

    Parameters
    ----------
    field
        Record and field ('Stack.torque_nm').
    mark
        How sure it is, at its weakest link.
    note
        What the mark stands on, for the page.
    check
        Test that holds it, as module::name under tests/; empty only for marks other than `PUBLISHED`.
    """

    field: str
    mark: Mark
    note: str
    check: str = ""


def _kinds(record: str, names: str, mark: Mark, note: str, check: str = "") -> tuple[NumberKind, ...]:
    return tuple(NumberKind(field=f"{record}.{name}", mark=mark, note=note, check=check) for name in names.split())


_MASS = "published/test_mass_properties.py::test_closed_forms_of_solids"
_SUM = "engineering/test_counting.py::test_totals_are_sums"
_TORQUE = "published/test_torque.py::test_torque_formula"

NUMBER_KINDS: tuple[NumberKind, ...] = (
    *_kinds(
        "Stack",
        "head_mm nut_mm across_flats_mm nut_across_flats_mm key_mm head_outer_mm washer_mm washer_outer_mm",
        Mark.PUBLISHED,
        "standard's table",
        "published/test_tables.py::test_two_open_table_sets_agree",
    ),
    *_kinds(
        "Stack",
        "length_mm needed_mm protrusion_mm",
        Mark.PRACTICE,
        "two pitches past the nut; lengths of the standard's series",
        "published/test_lengths.py::test_length_cases",
    ),
    *_kinds("Stack", "grip_mm", Mark.GEOMETRY, "survey, plus the bond line the model lacks"),
    *_kinds("Stack", "washers", Mark.COUNTED, "one under the head, one under an open nut", _SUM),
    *_kinds("Stack", "torque_nm", Mark.MEMORY, "T = K F d from memory; pressure under the washer as stated", _TORQUE),
    *_kinds("HardwareLine", "torque_nm", Mark.MEMORY, "as Stack.torque_nm", _TORQUE),
    *_kinds("HardwareLine", "length_mm", Mark.PRACTICE, "as Stack.length_mm"),
    *_kinds("HardwareLine", "count", Mark.COUNTED, "sum over the bolts", _SUM),
    *_kinds("BuyLine", "count", Mark.COUNTED, "sum over the joints", _SUM),
    *_kinds("BuyLine", "spares packs pack", Mark.STATED, "the shop's spares rule and packs"),
    *_kinds("Bonding", "area_mm2", Mark.GEOMETRY, "survey"),
    *_kinds("Bonding", "volume_ml", Mark.PRACTICE, "area x bond line x (1 + waste)"),
    *_kinds("Bonding", "temperature_c", Mark.STATED, "figure.toml"),
    *_kinds(
        "Bonding",
        "open_min fixture_min handling_min full_cure_min",
        Mark.PUBLISHED,
        "the shop's data sheet, halved for each 10 C more",
        "published/test_cure_times.py::test_cure_factors",
    ),
    *_kinds("Bonding", "needed_min", Mark.PRACTICE, "the shop's rates"),
)
"""Every number kind, by record and field."""


def mark_of(field: str) -> NumberKind:
    """The entry of a field ('Stack.torque_nm').

    Raises
    ------
    KeyError
        If the field has no entry: then it must not be printed.
    """
    for kind in NUMBER_KINDS:
        if kind.field == field:
            return kind
    raise KeyError(f"{field} has no provenance; a number without one is not printed")
