"""How much filler, primer and coat a finish route takes, and how long it waits.

Goes in: operations of the route, length of the visible seams, outer surface. Comes out: quantities by operation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assembler.figure.settings import FinishOperation

FINISH_WASTE = 0.3
"""Share added to filler and coats for mixing, tools and overspray (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishQuantity:
    """What one operation takes.

    Parameters
    ----------
    name, on
        The operation and what it is done on.
    amount, unit
        Length (m) of seam or area (m2) to be worked.
    product_l
        Product for all coats with waste; 0 when none is used.
    coats, wait_min
        Coats, and the wait after all of them together.
    note
        For the page.
    """

    name: str
    on: str
    amount: float
    unit: str
    product_l: float
    coats: int
    wait_min: float
    note: str


def finish_quantities(
    route: Sequence[FinishOperation], seam_mm: float, surface_mm2: float
) -> tuple[FinishQuantity, ...]:
    """Product, work and wait of each operation, in the order of the route.

    Seams: groove x length x coats. Surface: area / coverage x coats. Both with 30 % waste.

    Parameters
    ----------
    route
        Operations.
    seam_mm
        Length of all visible seams.
    surface_mm2
        Outer surface.
    """
    return tuple(_quantity(operation, seam_mm, surface_mm2) for operation in route)


def _quantity(operation: FinishOperation, seam_mm: float, surface_mm2: float) -> FinishQuantity:
    on_seams = operation.on == "seams"
    litres = operation.groove_mm2 * seam_mm / 1e6 if on_seams else 0.0
    if operation.coverage_m2_l > 0 and not on_seams:
        litres = surface_mm2 / 1e6 / operation.coverage_m2_l
    return FinishQuantity(
        name=operation.name,
        on=operation.on,
        amount=seam_mm / 1000.0 if on_seams else surface_mm2 / 1e6,
        unit="m" if on_seams else "m2",
        product_l=litres * operation.coats * (1.0 + FINISH_WASTE),
        coats=operation.coats,
        wait_min=operation.coats * operation.wait_min,
        note=operation.note,
    )
