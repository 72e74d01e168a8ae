"""Bolt lengths."""

from __future__ import annotations

import pytest

from assembler.catalogue import tables
from assembler.engineering.lengths import Pieces, needed_length_mm, stocked_length_mm


@pytest.mark.parametrize(("nut", "needed_mm", "length_mm"), [("ISO 4032", 22.8, 25.0), ("ISO 7040", 25.6, 30.0)])
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


def test_length_series_of_iso_4017() -> None:
    # V2: bd_warehouse 0.4.0; 90 is in the series although another open table leaves it out.
    assert tables.lengths("ISO 4017", "M10") == (20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100)
    assert tables.lengths("ISO 4014", "M8") == (40, 45, 50, 55, 60, 65, 70, 80)
