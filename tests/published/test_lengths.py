"""Bolt lengths."""

from __future__ import annotations

import pytest

from assembler.catalogue import tables
from assembler.engineering.lengths import Pieces, needed_length_mm, stocked_length_mm
from tests.published.reading import source


@pytest.mark.parametrize(("nut", "needed_mm", "length_mm"), [("ISO 4032", 22.8, 25.0), ("ISO 7040", 25.6, 30.0)])
@source("screw-tables")
def test_length_cases(nut: str, needed_mm: float, length_mm: float) -> None:
    # C from V2 tables: M6, grip 12, two washers of 1.8 (greatest), nut, two pitches. With nominal washers of 1.6 the
    # needs are 22.4 and 25.2; the lengths are the same.
    pieces = Pieces(
        thread=tables.thread("M6"),
        screw=tables.screw("ISO 4017", "M6"),
        nut=tables.nut(nut, "M6"),
        washer=tables.washer("ISO 7089", "M6"),
        washers=2,
    )
    assert needed_length_mm(12.0, pieces) == pytest.approx(needed_mm, abs=1e-9)
    assert stocked_length_mm(needed_mm, tables.lengths("ISO 4017", "M6"), ()) == length_mm
    assert stocked_length_mm(needed_mm - 0.4, tables.lengths("ISO 4017", "M6"), ()) == length_mm


@source("length-lists")
def test_length_series_of_iso_4017() -> None:
    # V2: bd_warehouse 0.4.0; 90 is in the series although another open table leaves it out.
    assert tables.lengths("ISO 4017", "M10") == (20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100)
    assert tables.lengths("ISO 4014", "M8") == (40, 45, 50, 55, 60, 65, 70, 80)


# V2: series and ranges as bd_warehouse 0.4.0 lists them; ISO 7380 to 60 mm also on a maker's table.
SERIES = {
    "ISO 4017": "2 3 4 5 6 8 10 12 16 20 25 30 35 40 45 50 55 60 65 70 80 90 100 110 120 130 140 150 160 180 200",
    "ISO 4762": (
        "2.5 3 4 5 6 8 10 12 16 20 25 30 35 40 45 50 55 60 65 70 80 90 100 110 120 130 140 150 160 180 200 220 240 260 "
        "280 300"
    ),
    "ISO 7380-1": "6 8 10 12 16 20 25 30 35 40 45 50 55 60 65 70 80 90 100",
    "ISO 4014": (
        "12 16 20 25 30 35 40 45 50 55 60 65 70 80 90 100 110 120 130 140 150 160 180 200 220 240 260 280 300 320 340 "
        "360 380 400 420 440 460 480 500"
    ),
}
RANGES = {
    "ISO 4017": (
        "M3 5 30, M4 6 40, M5 8 50, M6 12 60, M8 16 80, M10 20 100, M12 25 120, M14 25 140, M16 30 150, M18 35 200, "
        "M20 40 160"
    ),
    "ISO 4762": (
        "M3 5 30, M4 6 40, M5 8 50, M6 8 60, M8 10 80, M10 16 100, M12 20 120, M14 25 140, M16 25 160, M20 30 200"
    ),
    "ISO 7380-1": "M3 6 30, M4 6 40, M5 8 50, M6 10 60, M8 12 80, M10 16 100, M12 20 100, M16 25 100",
    "ISO 4014": (
        "M3 20 30, M4 25 40, M5 25 50, M6 30 60, M8 40 80, M10 45 100, M12 50 120, M14 60 140, M16 65 160, M18 70 180, "
        "M20 80 200"
    ),
}


@pytest.mark.parametrize("standard", list(SERIES))
@source("length-lists", "iso-7380")
def test_lists_of_lengths(standard: str) -> None:
    series = [float(text) for text in SERIES[standard].split()]
    for text in RANGES[standard].split(", "):
        size, low, high = text.split()
        expected = tuple(length for length in series if float(low) <= length <= float(high))
        assert tables.lengths(standard, size) == expected, size
