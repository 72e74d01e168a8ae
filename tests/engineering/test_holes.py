"""Sizes from holes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.catalogue import tables
from assembler.engineering.holes import (
    HOLE_TOLERANCE_MM,
    LEAST_CLEARANCE_MM,
    inch_size_from_hole,
    neighbours,
    size_from_hole,
)


@pytest.mark.parametrize("row", tables.clearance_holes(), ids=lambda row: row.size)
@pytest.mark.parametrize("noise_mm", [0.0, 0.05, -0.05])
def test_table_holes_are_recognised_through_noise(row: object, noise_mm: float) -> None:
    for fit in ("fine", "medium", "coarse"):
        hole_mm = getattr(row, f"{fit}_mm") + noise_mm
        match = size_from_hole(hole_mm)
        assert match is not None
        # 21 mm is both M18 coarse and M20 fine: the first-choice size wins and the other is named.
        if (row.size, fit) == ("M18", "coarse"):  # type: ignore[attr-defined]
            assert (match.size, match.rivals) == ("M20", ("M18",))
            continue
        assert (match.size, match.fit) == (row.size, fit)  # type: ignore[attr-defined]
        assert match.deviation_mm == pytest.approx(noise_mm)


@pytest.mark.parametrize("hole_mm", [0.5, 2.95, 3.95, 7.5, 7.9, 12.4, 25.0, 60.0])
def test_holes_between_sizes_match_nothing(hole_mm: float) -> None:
    assert size_from_hole(hole_mm) is None


@given(st.floats(2.5, 25.0), st.floats(0.0, 3.0))
def test_a_larger_hole_never_takes_a_smaller_bolt(hole_mm: float, more_mm: float) -> None:
    small, large = size_from_hole(hole_mm), size_from_hole(hole_mm + more_mm)
    if small and large:
        assert tables.thread(small.size).diameter_mm <= tables.thread(large.size).diameter_mm


@given(st.floats(2.5, 25.0))
def test_matches_lie_within_the_tolerance(hole_mm: float) -> None:
    match = size_from_hole(hole_mm)
    nearest = min(
        (
            abs(hole_mm - value)
            for row in tables.clearance_holes()
            for value in (row.fine_mm, row.medium_mm, row.coarse_mm)
            if hole_mm >= tables.thread(row.size).diameter_mm + LEAST_CLEARANCE_MM
        ),
        default=99.0,
    )
    if match is None:
        assert nearest > HOLE_TOLERANCE_MM - 0.0051
    else:
        assert abs(match.deviation_mm) == pytest.approx(nearest, abs=0.0101)


def test_inch_holes_are_told_from_metric_ones() -> None:
    for hole_mm, size in ((7.14, "1/4 in"), (8.73, "5/16 in"), (10.32, "3/8 in")):
        match = inch_size_from_hole(hole_mm)
        assert match is not None
        assert match.size == size
    for row in tables.clearance_holes():
        assert inch_size_from_hole(row.medium_mm) is None


def test_neighbours_are_named() -> None:
    assert neighbours(7.5) == "M6 coarse 7 mm and M8 fine 8.4 mm"
    assert neighbours(1.0) == "M3 fine 3.2 mm"
    assert neighbours(90.0) == "M20 coarse 24 mm"
