"""Which connected sets of units may be sections, and the fewest of them that make the whole.

A unit is what no site joint can part. What fits still fits with something taken off: sets are grown, and a set that
does not fit is grown no further.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from assembler.planning.scene import members

MOST = 1500
"""Sets that are held against the way one by one; of figures that have more, slabs only."""

_LIMIT = 20.0
"""Deterministic seconds of the solver."""

UnitSet = int
"""Bit k stands for unit number k."""


def grown_sets(joined: Sequence[UnitSet], fits: Callable[[UnitSet], bool]) -> tuple[list[UnitSet], bool]:
    """Every connected set that fits, and whether these are all.

    Parameters
    ----------
    joined
        For each unit those that it is joined to.
    fits
        Whether a set passes; true of every part of a set that passes.
    """
    level = [1 << unit for unit in range(len(joined)) if fits(1 << unit)]
    found = list(level)
    tried = set(level)
    while level:
        grown = []
        for one in level:
            for unit in members(_around(one, joined)):
                wider = one | 1 << unit
                if wider in tried:
                    continue
                if len(tried) >= MOST:
                    return found, False
                tried.add(wider)
                if fits(wider):
                    grown.append(wider)
        found += grown
        level = grown
    return found, True


def slabs(
    joined: Sequence[UnitSet],
    fits: Callable[[UnitSet], bool],
    centres: NDArray[np.float64],
    directions: Iterable[NDArray[np.float64]],
) -> list[UnitSet]:
    """Connected pieces of slabs across some directions, and what is left of the whole without each of them.

    Parameters
    ----------
    joined, fits
        As for `grown_sets`.
    centres : (n, 3) float64, mm
        Of the units.
    directions
        Unit vectors.
    """
    whole = (1 << len(joined)) - 1
    found: dict[UnitSet, None] = {1 << unit: None for unit in range(len(joined)) if fits(1 << unit)}
    for direction in directions:
        order = np.argsort(centres @ direction, kind="stable").tolist()
        for first in range(len(order)):
            slab = 0
            for unit in order[first:]:
                slab |= 1 << unit
                pieces = [piece for piece in pieces_of(slab, joined) if piece not in found]
                fitting = [piece for piece in pieces if fits(piece)]
                found |= dict.fromkeys(fitting)
                if len(fitting) < len(pieces):
                    break
    for one in list(found):
        for piece in pieces_of(whole & ~one, joined):
            if piece not in found and fits(piece):
                found[piece] = None
    return list(found)


def _around(one: UnitSet, joined: Sequence[UnitSet]) -> UnitSet:
    near = 0
    for unit in members(one):
        near |= joined[unit]
    return near & ~one


def pieces_of(chosen: UnitSet, joined: Sequence[UnitSet]) -> list[UnitSet]:
    """Connected pieces of a set, that with the lowest number first."""
    found = []
    while chosen:
        piece = edge = chosen & -chosen
        while edge:
            edge = _around(piece, joined) & chosen
            piece |= edge
        found.append(piece)
        chosen &= ~piece
    return found


def fewest(
    sets: Sequence[UnitSet], count: int, cost: Sequence[int], apart: Iterable[tuple[int, int]] = ()
) -> tuple[UnitSet, ...] | None:
    """The cheapest choice of sets that has every unit once; None where there is none.

    Parameters
    ----------
    sets, cost
        Sets to choose from, and what each costs.
    count
        Units there are.
    apart
        Pairs of positions in `sets` that may not be chosen together.
    """
    model = cp_model.CpModel()
    chosen = [model.new_bool_var(f"set {number}") for number in range(len(sets))]
    for unit in range(count):
        having = [flag for flag, one in zip(chosen, sets, strict=True) if one >> unit & 1]
        if not having:
            return None
        model.add_exactly_one(having)
    for first, second in apart:
        model.add_at_most_one([chosen[first], chosen[second]])
    model.minimize(cp_model.LinearExpr.weighted_sum(chosen, list(cost)))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    # Its own handler would leave Ctrl-C to the system afterwards, and the command would end without a word.
    solver.parameters.catch_sigint_signal = False
    solver.parameters.max_deterministic_time = _LIMIT
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return tuple(one for flag, one in zip(chosen, sets, strict=True) if solver.value(flag))
