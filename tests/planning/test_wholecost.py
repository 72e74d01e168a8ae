"""What the user reads about an order while it is looked for."""

from __future__ import annotations

from assembler.figure.ids import BoltId
from assembler.planning.benches import Placed
from assembler.planning.joining import Joining
from assembler.planning.weights import NO_PATH, UNREACHABLE, weigh
from assembler.planning.wholecost import order_in_words


def placed(costs: dict[str, float], bolts: tuple[str, ...]) -> Placed:
    """One arrival that costs so much."""
    joining = Joining(
        moving=2,
        standing=1,
        ways=(),
        direction=-1,
        cost_min=sum(costs.values()),
        parts_of_cost=tuple(costs.items()),
        unreachable=tuple(BoltId(bolt) for bolt in bolts),
    )
    return Placed(joining=joining, bench=1, target=3, direction=-1, up=(0.0, 0.0, 1.0))


def test_weights_are_not_shown_as_minutes() -> None:
    items = (
        placed({"handling": 6.0, UNREACHABLE: 2 * weigh(UNREACHABLE)}, ("B1", "B2")),
        placed({"handling": 9.0, NO_PATH: weigh(NO_PATH)}, ()),
    )
    weighed = 15.0 + 2 * weigh(UNREACHABLE) + weigh(NO_PATH)
    assert order_in_words(weighed, items) == (
        "an order of 15 minutes, awkward work included; 2 bolts out of reach in it; 1 arrival without a free way in it"
    )


def test_an_order_that_works_is_given_whole() -> None:
    assert order_in_words(21.0, (placed({"handling": 21.0}, ()),)) == "an order of 21 minutes, awkward work included"
