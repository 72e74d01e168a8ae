"""Times of adhesives at other temperatures."""

from __future__ import annotations

import pytest

from assembler.engineering.curing import cure_factor, minutes_at
from tests.published.reading import json_cases

CASES = json_cases("cure_factors.json")


@pytest.mark.parametrize(("at_c", "factor"), sorted(CASES["factors"].items()))
def test_cure_factors(at_c: str, factor: float) -> None:
    # C from V2: a reaction doubles for each 10 C more (two manufacturers' glossaries of cure terms).
    assert cure_factor(CASES["sheet_c"], float(at_c)) == pytest.approx(factor, abs=5e-5)


def test_pot_life_halves_at_30_c() -> None:
    # V2: 'the pot life quoted at 21 to 23 C is halved at 30 C' (glossary): 0.5 lies between the factors of both ends.
    assert cure_factor(21.0, 30.0) < 0.55
    assert 0.5 < cure_factor(23.0, 30.0) < 0.65


def test_no_times_below_the_range() -> None:
    # V2: below about 10 C many systems nearly stop: a stop, not an extrapolation.
    assert minutes_at(60.0, 23.0, 9.9, 10.0, 35.0) is None
    assert minutes_at(60.0, 23.0, 10.0, 10.0, 35.0) == pytest.approx(60 * 2.4623, abs=0.01)


@pytest.mark.parametrize(("at_c", "gel_min", "cure_min"), [(25.0, 10.0, 60.0), (35.0, 5.0, 30.0), (45.0, 2.5, 15.0)])
def test_worked_example_of_the_ten_degree_rule(at_c: float, gel_min: float, cure_min: float) -> None:
    # V2: a manufacturer's page on two-part adhesives: gel 10 min and cure 60 min at 25 C; half of both at 35 C, and
    # again at 45 C.
    assert minutes_at(10.0, 25.0, at_c, 0.0, 48.0) == pytest.approx(gel_min)
    assert minutes_at(60.0, 25.0, at_c, 0.0, 48.0) == pytest.approx(cure_min)
