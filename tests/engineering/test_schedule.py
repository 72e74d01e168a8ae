"""Critical paths against enumeration of all paths."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.engineering.schedule import CircularOrderError, critical_path

NETWORKS = st.integers(1, 8).flatmap(
    lambda count: st.tuples(
        st.lists(st.integers(0, 20).map(float), min_size=count, max_size=count),
        st.sets(st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)).filter(lambda pair: pair[0] < pair[1])),
        st.integers(0, 9).map(float),
    )
)


def _longest(start: int, lengths: list[float], pairs: set[tuple[int, int]], wait: float) -> float:
    """Longest way from the start of an activity to the end of all, by trying every path."""
    ways = [
        wait * ((start + then) % 2) + _longest(then, lengths, pairs, wait) for first, then in pairs if first == start
    ]
    return lengths[start] + max(ways, default=0.0)


@given(NETWORKS)
def test_duration_and_slack_against_every_path(network: tuple[list[float], set[tuple[int, int]], float]) -> None:
    lengths, pairs, wait = network
    durations = {f"S{n}": length for n, length in enumerate(lengths)}
    after = {f"S{then}": [f"S{a}" for a, b in pairs if b == then] for then in range(len(lengths))}
    waits = {(f"S{a}", f"S{b}"): wait * ((a + b) % 2) for a, b in pairs}
    found = critical_path(durations, after, waits)
    assert found.duration == max(_longest(n, lengths, pairs, wait) for n in range(len(lengths)))
    for n in range(len(lengths)):
        name = f"S{n}"
        through = found.start[name] + _longest(n, lengths, pairs, wait)
        assert found.slack[name] == pytest.approx(found.duration - through)
        assert (found.slack[name] == 0) == (name in found.critical)
        for first in after[name]:
            assert found.start[name] >= found.end[first] + waits[(first, name)]


def test_a_hold_is_a_wait() -> None:
    found = critical_path({"9": 30.0, "10": 20.0, "13": 15.0}, {"13": ["10"]}, {("9", "13"): 240.0})
    assert found.start["13"] == 270.0
    assert found.critical == ("9", "13")
    assert found.slack["10"] == 250.0


def test_nothing_to_do() -> None:
    assert critical_path({}, {}).duration == 0.0


def test_circles_are_shown() -> None:
    with pytest.raises(CircularOrderError) as caught:
        critical_path({"1": 1.0, "2": 1.0, "3": 1.0, "4": 1.0}, {"2": ["1", "4"], "3": ["2"], "4": ["3"]})
    assert set(caught.value.circle) == {"2", "3", "4"}
    assert "->" in str(caught.value)


def test_bad_input_is_refused() -> None:
    with pytest.raises(ValueError, match="1 lasts -1"):
        critical_path({"1": -1.0}, {})
    with pytest.raises(ValueError, match="wait from 1 to 2"):
        critical_path({"1": 1.0, "2": 1.0}, {}, {("1", "2"): -5.0})
    with pytest.raises(KeyError, match="7 has no duration"):
        critical_path({"1": 1.0}, {"1": ["7"]})


def test_ties_are_in_natural_order() -> None:
    found = critical_path({name: 1.0 for name in ("10", "2", "1")}, {})
    assert found.critical == ("1", "2", "10")
