"""In which order the bolts of one joint are tightened: across the flange, or from the middle outwards."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembler.figure.ids import natural_key
from assembler.figure.joints import Bolt

ROW_RATIO = 0.2
"""Bolts whose spread across their line is below this share of the spread along it stand in a row."""


def tightening_order(bolts: Sequence[Bolt]) -> tuple[Bolt, ...]:
    """The bolts in tightening order.

    Bolts in a row go from the middle outwards, alternating; bolts round a flange go across, each next one as far as
    possible round the ring from all that are tight. Common practice, no source.

    Parameters
    ----------
    bolts
        Bolts of one joint, in any order; none or one comes back as it is.
    """
    ordered = sorted(bolts, key=lambda bolt: natural_key(bolt.id))
    if len(ordered) < 3:
        return tuple(ordered)
    points = np.array([bolt.at_mm for bolt in ordered])
    centred = points - points.mean(axis=0)
    _, spread, directions = np.linalg.svd(centred, full_matrices=False)
    along = centred @ directions[0]
    if spread[1] < ROW_RATIO * spread[0]:
        key = [(round(abs(float(at)), 3), round(float(at), 3), i) for i, at in enumerate(along)]
        return tuple(ordered[i] for *_, i in sorted(key))
    turns = np.arctan2(centred @ directions[1], along) / (2 * np.pi) % 1.0
    return tuple(ordered[i] for i in _across(turns.tolist()))


def _across(turns: Sequence[float]) -> list[int]:
    """Indices so that each next one has the greatest distance round the ring from those before; ties by index."""
    left = list(range(1, len(turns)))
    chosen = [0]
    while left:

        def distance(i: int) -> float:
            gaps = (abs(turns[i] - turns[j]) for j in chosen)
            return round(min(min(gap, 1 - gap) for gap in gaps), 6)

        best = max(left, key=lambda i: (distance(i), -i))
        chosen.append(best)
        left.remove(best)
    return chosen
