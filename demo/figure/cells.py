"""Which pieces the cuts leave, each as its full outer body and the cavity inside it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from manifold3d import Manifold, OpType

from demo.figure.flanges import Ring, ring
from demo.figure.layout import Cut

# Hollows run past the cut: a hollow that ended in the same oblique plane as the outer body would, by rounding,
# leave skins of no thickness across the opening.
_PAST_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A piece of the figure.

    Attributes
    ----------
    outer, hollow : Manifold
        The outer body, and what is hollow inside it.
    sides : frozenset of (str, str)
        The cuts that the piece went through, each with "front" or "back": two parts meet at a cut only when they
        lie on different sides of it.
    """

    outer: Manifold
    hollow: Manifold
    sides: frozenset[tuple[str, str]] = frozenset()

    def part(self) -> Manifold:
        """Return the printed part."""
        return self.outer - self.hollow


def cut_cells(cells: dict[str, Cell], cavity: Manifold, cuts: Iterable[Cut]) -> tuple[dict[str, Cell], dict[str, Ring]]:
    """Return the cells after some cuts, and the flange ring of each of those cuts.

    Parameters
    ----------
    cells : dict of str to Cell
        What there is before; left as it is.
    cavity : Manifold
        The whole cavity; each cut's outline is taken from it, so that a ring runs on straight where another cut
        has already opened the shell.
    cuts : iterable of Cut
        Made in this order.
    """
    cells = dict(cells)
    rings = {}
    for cut in cuts:
        found = ring(cavity, cut)
        rings[cut.name] = found
        for piece, front, back in cut.splits:
            cell = cells.pop(piece)
            ringed = replace(cell, hollow=cell.hollow - found.solid)
            cells[front], cells[back] = _split(ringed, cut)
    return cells, rings


def _split(cell: Cell, cut: Cut) -> tuple[Cell, Cell]:
    """Return the cell's halves; what lies outside the cut's window stays behind."""
    outer = _split_solid(cell.outer, cut, 0.0)
    hollow = _split_solid(cell.hollow, cut, _PAST_MM)
    front, back = (
        Cell(outer=outer[k], hollow=hollow[k], sides=cell.sides | {(cut.name, side)})
        for k, side in enumerate(("front", "back"))
    )
    return front, back


def _split_solid(solid: Manifold, cut: Cut, past_mm: float) -> tuple[Manifold, Manifold]:
    """Return what is in front of and behind a cut, each running `past_mm` past it."""
    box = cut.window.box()
    bounds = solid.bounding_box()
    if not cut.beyond and cut.window.contains(bounds[:3]) and cut.window.contains(bounds[3:]):
        if past_mm == 0.0:
            return cut.plane.split(solid)
        return cut.plane.moved(-past_mm).split(solid)[0], cut.plane.moved(past_mm).split(solid)[1]
    boxes = [window.box() for window in cut.beyond]
    front, back = (
        Manifold.batch_boolean([cut.plane.moved(by).split(box)[0], *boxes], OpType.Add) for by in (-past_mm, past_mm)
    )
    return solid ^ front, solid - back
