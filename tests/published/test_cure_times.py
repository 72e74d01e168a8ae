"""Times of adhesives at other temperatures."""

from __future__ import annotations

import pytest

from assembler.engineering.bonding import bonding_for_joints
from assembler.engineering.curing import FACTORS_10_C, cure_factor, minutes_at
from assembler.figure.findings import Level
from assembler.figure.joints import Method
from assembler.figure.settings import Climate
from tests.engineering.specimens import joint, settings
from tests.published.reading import json_cases, source

CASES = json_cases("cure_factors.json")


@pytest.mark.parametrize(("at_c", "factor"), sorted(CASES["factors"].items()))
@source("ten-degrees")
def test_cure_factors(at_c: str, factor: float) -> None:
    # C from V2: a reaction doubles for each 10 C more (two manufacturers' glossaries of cure terms).
    assert cure_factor(CASES["sheet_c"], float(at_c)) == pytest.approx(factor, abs=5e-5)


@source("ten-degrees")
def test_pot_life_halves_at_30_c() -> None:
    # V2: 'the pot life quoted at 21 to 23 C is halved at 30 C' (glossary): 0.5 lies between the factors of both ends.
    assert cure_factor(21.0, 30.0) < 0.55
    assert 0.5 < cure_factor(23.0, 30.0) < 0.65


@source("ten-degrees")
def test_no_times_below_the_range() -> None:
    # V2: below about 10 C many systems nearly stop: a stop, not an extrapolation.
    assert minutes_at(60.0, 23.0, 9.9, 10.0, 35.0) is None
    assert minutes_at(60.0, 23.0, 10.0, 10.0, 35.0) == pytest.approx(60 * 2.4623, abs=0.01)


@pytest.mark.parametrize(("at_c", "gel_min", "cure_min"), [(25.0, 10.0, 60.0), (35.0, 5.0, 30.0), (45.0, 2.5, 15.0)])
@source("ten-degrees")
def test_worked_example_of_the_ten_degree_rule(at_c: float, gel_min: float, cure_min: float) -> None:
    # V2: a manufacturer's page on two-part adhesives: gel 10 min and cure 60 min at 25 C; half of both at 35 C, and
    # again at 45 C.
    assert minutes_at(10.0, 25.0, at_c, 0.0, 48.0) == pytest.approx(gel_min)
    assert minutes_at(60.0, 25.0, at_c, 0.0, 48.0) == pytest.approx(cure_min)


@source("ten-degrees")
def test_a_whole_hold_from_the_sheet_to_the_night() -> None:
    # C from V2: 480 min at 23 C, held over a night of 16 C: 480 x 2^0.7 = 779.8 min. Open time counts by day, at 20 C:
    # 25 x 2^0.3 = 30.8 min; full cure 7200 x 2^0.7 = 11 697 min.
    shop = settings(climate=Climate(shop_c=20.0, night_min_c=16.0))
    (bonding,), findings = bonding_for_joints([joint(method=Method.BONDED)], shop)
    assert bonding.handling_min == pytest.approx(779.8, abs=0.05)
    assert bonding.fixture_min == pytest.approx(389.9, abs=0.05)
    assert bonding.open_min == pytest.approx(30.78, abs=0.005)
    assert bonding.full_cure_min == pytest.approx(11696.7, abs=0.5)
    assert (bonding.temperature_c, bonding.hold_c) == (20.0, 16.0)
    assert findings == ()


@source("ten-degrees")
def test_no_hold_is_computed_below_the_range() -> None:
    # V2: below about 10 C many systems nearly stop: the times are those at the end of the range, and a stop says so.
    (bonding,), (finding,) = bonding_for_joints(
        [joint(method=Method.BONDED)], settings(climate=Climate(shop_c=20.0, night_min_c=4.0))
    )
    assert bonding.handling_min == pytest.approx(480.0 * 2.4623, abs=0.05)
    assert finding.level is Level.STOP


@source("ten-degrees")
def test_between_which_factors_the_rule_lies() -> None:
    # V2: a maker gives 1.5 to 2.5 for 10 C. 480 min at 16 C instead of 23: x 1.328 = 638, and x 1.899 = 912 min.
    low, high = (480.0 * cure_factor(23.0, 16.0, rate) for rate in FACTORS_10_C)
    assert low == pytest.approx(637.6, abs=0.2)
    assert high == pytest.approx(911.6, abs=0.2)
