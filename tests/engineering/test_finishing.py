"""Quantities of a finish route."""

from __future__ import annotations

import pytest

from assembler.catalogue import tables
from assembler.engineering.finishing import FINISH_WASTE, finish_quantities
from assembler.figure.settings import FinishOperation


def test_a_litre_at_one_millimetre_covers_a_square_metre() -> None:
    # C: 1 l / 1 mm = 1 m2, so a coverage of 1 m2 a litre is a coat of 1 mm.
    coat = FinishOperation(name="coat", on="surface", coverage_m2_l=1.0)
    (found,) = finish_quantities([coat], 0.0, 1e6)
    assert found.product_l / (1 + FINISH_WASTE) == pytest.approx(1.0)


def test_filler_is_groove_times_length() -> None:
    fill = FinishOperation(name="fill", on="seams", groove_mm2=6.0, coats=2, wait_min=60.0)
    (found,) = finish_quantities([fill], 10000.0, 5e6)
    assert found.product_l == pytest.approx(2 * 6.0 * 10000.0 / 1e6 * 1.3)
    assert (found.amount, found.unit, found.wait_min) == (10.0, "m", 120.0)


def test_work_without_product() -> None:
    sand = FinishOperation(name="sand", on="surface", note="dust")
    (found,) = finish_quantities([sand], 10000.0, 5e6)
    assert (found.product_l, found.amount, found.unit, found.note) == (0.0, 5.0, "m2", "dust")


@pytest.mark.parametrize("name", sorted({row.route for row in tables.finish_routes()}))
def test_known_routes_scale_with_the_figure(name: str) -> None:
    route = [
        FinishOperation(
            name=row.name, on=row.on, coverage_m2_l=row.coverage_m2_l, groove_mm2=row.groove_mm2, coats=row.coats
        )
        for row in tables.finish_routes()
        if row.route == name
    ]
    small, large = finish_quantities(route, 8000.0, 3e6), finish_quantities(route, 16000.0, 6e6)
    assert [item.name for item in small] == [operation.name for operation in route]
    assert any(one.product_l > 0 for one in small)
    for one, two in zip(small, large, strict=True):
        assert two.product_l == pytest.approx(2 * one.product_l)
