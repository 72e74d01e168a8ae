"""Everything adds up."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.counting import buy_lines, hardware_lines, spares, totals
from assembler.engineering.fastening import stacks_for_joints
from assembler.figure.joints import Seat
from assembler.figure.settings import HardwareChoice
from tests.engineering.specimens import MATERIALS, bolt, joint, ring, settings

CHOICE = HardwareChoice()


def _three_joints() -> list[object]:
    captive = [bolt(f"J02.{n}", seats=(Seat.OPEN, Seat.CAPTIVE), at_mm=(40.0 * n, 0.0, 0.0)) for n in range(3)]
    small = [bolt(f"J03.{n}", hole_mm=6.6, at_mm=(40.0 * n, 0.0, 0.0)) for n in range(5)]
    return [joint(ring(8)), joint(captive, id="J02"), joint(small, id="J03")]


def test_totals_are_sums_of_the_bags() -> None:
    stacks, _ = stacks_for_joints(_three_joints(), settings(), MATERIALS)  # type: ignore[arg-type]
    lines = hardware_lines(stacks, CHOICE)
    assert len(stacks) == 16
    by_kind = Counter(
        {kind: sum(line.count for line in lines if line.kind == kind) for kind in ("screw", "nut", "washer")}
    )
    # 8 and 5 open bolts take two washers, 3 captive ones take one.
    assert by_kind == {"screw": 16, "nut": 16, "washer": 29}
    summed = totals(lines)
    assert Counter({line.item: line.count for line in summed}) == sum(
        (Counter({line.item: line.count}) for line in lines), Counter()
    )
    bought = buy_lines(lines, CHOICE)
    assert {line.item: line.count for line in bought} == {line.item: line.count for line in summed}
    for line in bought:
        assert line.packs * line.pack >= line.count + line.spares > (line.packs - 1) * line.pack


def test_lines_of_bags_make_the_whole_whatever_the_split() -> None:
    stacks, _ = stacks_for_joints(_three_joints(), settings(), MATERIALS)  # type: ignore[arg-type]
    whole = totals(hardware_lines(stacks, CHOICE))
    for cut in range(len(stacks) + 1):
        parts = hardware_lines(stacks[:cut], CHOICE) + hardware_lines(stacks[cut:], CHOICE)
        assert totals(parts) == whole


def test_designations() -> None:
    stacks, _ = stacks_for_joints([joint([bolt()])], settings(), MATERIALS)
    assert [line.item for line in hardware_lines(stacks, CHOICE)] == [
        "Hexagon head screw ISO 4017 - M8 x 35 - 8.8",
        "Plain washer ISO 7089 - M8 - 200 HV",
        "Hexagon nut ISO 4032 - M8 - 8",
    ]
    stainless = HardwareChoice(property_class="A2-70")
    assert [line.item for line in hardware_lines(stacks, stainless)] == [
        "Hexagon head screw ISO 4017 - M8 x 35 - A2-70",
        "Plain washer ISO 7089 - M8 - A2",
        "Hexagon nut ISO 4032 - M8 - A2-70",
    ]


@pytest.mark.parametrize(("count", "extra"), [(0, 0), (1, 2), (40, 2), (41, 3), (60, 3), (100, 5), (101, 6)])
def test_spares_by_the_rule(count: int, extra: int) -> None:
    # 5 %, rounded up, at least 2.
    assert spares(count, CHOICE) == extra


@given(st.integers(1, 5000), st.integers(0, 500))
def test_more_pieces_never_mean_fewer_spares(count: int, more: int) -> None:
    assert spares(count, CHOICE) <= spares(count + more, CHOICE)
    assert spares(count, CHOICE) >= CHOICE.spares_least
