"""Our tables against what other carriers of the same standards print."""

from __future__ import annotations

import math

import pytest

from assembler.catalogue import tables
from tests.published.reading import csv_cases

# V2. Where bd_warehouse 0.4.0 (PyPI, Apache-2.0) differs from a second reading, and what was taken instead.
KNOWN_DIFFERENCES = {
    # An engineering table page headed ISO 273 gives these; 14 and 15 at M12 are an older series of holes.
    ("ISO 273", "M12", "medium_mm"): 13.5,
    ("ISO 273", "M12", "coarse_mm"): 14.5,
    ("ISO 273", "M14", "medium_mm"): 15.5,
    ("ISO 273", "M14", "coarse_mm"): 16.5,
    ("ISO 273", "M16", "medium_mm"): 17.5,
    ("ISO 273", "M16", "coarse_mm"): 18.5,
    # The other table set has the thinner washer and the hole of the fine series; the carrier's are the older DIN ones.
    ("ISO 7093-1", "M5", "greatest_mm"): 1.1,
    ("ISO 7093-1", "M18", "greatest_mm"): 4.3,
    ("ISO 7093-1", "M20", "greatest_mm"): 4.3,
    ("ISO 7093-1", "M18", "inner_mm"): 19.0,
    ("ISO 7093-1", "M20", "inner_mm"): 21.0,
    # From memory: 16 is shorter than the diameter; a slip.
    ("ISO 4762", "M20", "shortest_mm"): 30.0,
}


def _ours(standard: str, size: str, what: str) -> float:
    if standard == "ISO 273":
        row: object = next(hole for hole in tables.clearance_holes() if hole.size == size)
    elif standard in ("ISO 4032", "ISO 7040"):
        row = tables.nut(standard, size)
    elif standard in ("ISO 7089", "ISO 7093-1"):
        row = tables.washer(standard, size)
    else:
        row = tables.screw(standard, size)
    return float(getattr(row, what))


@pytest.mark.parametrize("case", csv_cases("bd_warehouse.csv"), ids=lambda case: f"{case['standard']} {case['size']}")
def test_two_open_table_sets_agree(case: dict[str, str]) -> None:
    key = (case["standard"], case["size"], case["what"])
    expected = KNOWN_DIFFERENCES.get(key, float(case["value"]))
    assert _ours(*key) == expected


def test_clearance_holes_of_iso_273() -> None:
    # V2: ISO 273:1979 as printed on an engineering table page.
    printed = {"M6": (6.4, 6.6, 7.0), "M8": (8.4, 9.0, 10.0), "M10": (10.5, 11.0, 12.0), "M12": (13.0, 13.5, 14.5)}
    ours = {row.size: (row.fine_mm, row.medium_mm, row.coarse_mm) for row in tables.clearance_holes()}
    for size, holes in printed.items():
        assert ours[size] == holes


@pytest.mark.parametrize("row", tables.threads(), ids=lambda row: row.size)
def test_stress_area_formula_of_iso_898_1(row: object) -> None:
    # V2: nominal areas printed in ISO 898-1 (two pages agree); formula pi/4 (d - 0.9382 P)^2 from memory.
    thread = tables.thread(row.size)  # type: ignore[attr-defined]
    area = math.pi / 4.0 * (thread.diameter_mm - 0.9382 * thread.pitch_mm) ** 2
    # The standard prints three digits: 0.5 % covers its rounding.
    assert area == pytest.approx(thread.stress_area_mm2, rel=0.005)


@pytest.mark.parametrize("size", [row.size for row in tables.threads()])
def test_proof_load_is_area_times_stress(size: str) -> None:
    # V2: proof stress of class 8.8 is 580 MPa up to M16 and 600 MPa above (ISO 898-1).
    stress = 600.0 if tables.thread(size).diameter_mm > 16 else 580.0
    load = tables.strength("8.8", size).proof_n
    # Loads are printed to three digits.
    assert load == pytest.approx(stress * tables.thread(size).stress_area_mm2, rel=0.005)
