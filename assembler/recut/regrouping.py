"""Was one solid cut into several? Told from volumes, boxes and moments that add up; never guessed.

Asked forwards it finds parts that were split, asked backwards parts that were merged.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass

import networkx as nx

from assembler.figure.ids import natural_key
from assembler.figure.parts import Fingerprint, Vector
from assembler.recut.likeness import distance, distance_of_boxes
from assembler.words import Said, also, say

# A cut usually costs a kerf and adds two flanges; flanges of a shell are at most about half of what was there.
_LEAST_VOLUME, _MOST_VOLUME = 0.97, 1.6
_EXACT_SHARE = 2e-4
# Kerf and a bond line left open at the ends of the box.
_BOX_MM = 1.0
_CENTRE_SHARE = 0.15
_MOST_PIECES = 4
_MOST_CANDIDATES = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One solid and the pieces that fill its place.

    Parameters
    ----------
    whole, pieces
        Ids.
    is_exact
        Whether volume, centre and moments add up, so that nothing was added or lost.
    evidence
        In words.
    """

    whole: str
    pieces: tuple[str, ...]
    is_exact: bool
    evidence: Said


def find_groups(
    wholes: Mapping[str, Fingerprint], pieces: Mapping[str, Fingerprint], joined: Set[frozenset[str]]
) -> tuple[tuple[Group, ...], tuple[Said, ...]]:
    """Solids that are the sum of several others.

    Parameters
    ----------
    wholes
        Solids that may have been cut.
    pieces
        Solids they may have been cut into; an id may be in both (one piece kept the old number).
    joined
        Pairs of pieces with a joint between them.

    Returns
    -------
    tuple of Group
        Each piece belongs to one group at most.
    tuple of Said
        What several readings fit equally well.
    """
    groups: list[Group] = []
    untold: list[Said] = []
    used: set[str] = set()
    for whole in sorted(wholes, key=natural_key):
        free = {name: mark for name, mark in pieces.items() if name not in used}
        found = _groups_of(whole, wholes[whole], free, joined)
        if len(found) > 1:
            readings = also(["+".join(group.pieces) for group in found], "change.reading_or")
            untold.append(say("change.readings", whole=whole, readings=readings))
        elif found:
            groups.append(found[0])
            used.update(found[0].pieces)
    return tuple(groups), tuple(untold)


def _groups_of(
    whole: str, mark: Fingerprint, pieces: Mapping[str, Fingerprint], joined: Set[frozenset[str]]
) -> list[Group]:
    inside = [name for name in sorted(pieces, key=natural_key) if _is_inside(pieces[name], mark)]
    # Subsets grow fast; a shop cuts one part into a few, not into dozens.
    if len(inside) < 2 or len(inside) > _MOST_CANDIDATES:
        return []
    sets = [
        names
        for count in range(2, _MOST_PIECES + 1)
        for names in itertools.combinations(inside, count)
        if _fills_box([pieces[name] for name in names], mark)
    ]
    exact = [names for names in sets if _adds_up([pieces[name] for name in names], mark)]
    if exact:
        words = say("change.adds_up")
        return [Group(whole=whole, pieces=names, is_exact=True, evidence=words) for names in exact]
    likely = [
        names
        for names in sets
        if _is_connected(names, joined) and _nearly_adds_up([pieces[name] for name in names], mark)
    ]
    return [
        Group(whole=whole, pieces=names, is_exact=False, evidence=_likely_words([pieces[n] for n in names], mark))
        for names in likely
    ]


def _is_inside(piece: Fingerprint, whole: Fingerprint) -> bool:
    low = all(a >= b - _BOX_MM for a, b in zip(piece.box_mm[0], whole.box_mm[0], strict=True))
    high = all(a <= b + _BOX_MM for a, b in zip(piece.box_mm[1], whole.box_mm[1], strict=True))
    return low and high and 0 < piece.volume_mm3 < whole.volume_mm3 * 0.999


def _fills_box(pieces: Sequence[Fingerprint], whole: Fingerprint) -> bool:
    lows, highs = zip(*(piece.box_mm for piece in pieces), strict=True)
    box = (_along(min, lows), _along(max, highs))
    return distance_of_boxes(box, whole.box_mm) <= _BOX_MM


def _along(choose: Callable[[Sequence[float]], float], points: Sequence[Vector]) -> Vector:
    first, second, third = (choose(values) for values in zip(*points, strict=True))
    return (first, second, third)


def _centre(pieces: Sequence[Fingerprint]) -> Vector:
    volume = math.fsum(piece.volume_mm3 for piece in pieces)
    first, second, third = (
        math.fsum(piece.volume_mm3 * piece.centre_mm[axis] for piece in pieces) / volume for axis in range(3)
    )
    return (first, second, third)


def _polar(pieces: Sequence[Fingerprint], about: Vector) -> float:
    """Integral of the squared distance from a point: additive, and free of any axes."""
    # The principal second moments of volume sum to twice that integral about the centre.
    own = math.fsum(sum(piece.inertia_mm5) / 2 for piece in pieces)
    return own + math.fsum(piece.volume_mm3 * distance(piece.centre_mm, about) ** 2 for piece in pieces)


def _adds_up(pieces: Sequence[Fingerprint], whole: Fingerprint) -> bool:
    volume = math.fsum(piece.volume_mm3 for piece in pieces)
    if abs(volume / whole.volume_mm3 - 1) > _EXACT_SHARE:
        return False
    if distance(_centre(pieces), whole.centre_mm) > _EXACT_SHARE * math.dist(*whole.box_mm):
        return False
    polar = _polar([whole], whole.centre_mm)
    return abs(_polar(pieces, whole.centre_mm) / polar - 1) <= 3 * _EXACT_SHARE


def _nearly_adds_up(pieces: Sequence[Fingerprint], whole: Fingerprint) -> bool:
    share = math.fsum(piece.volume_mm3 for piece in pieces) / whole.volume_mm3
    off = distance(_centre(pieces), whole.centre_mm)
    return _LEAST_VOLUME <= share <= _MOST_VOLUME and off <= _CENTRE_SHARE * math.dist(*whole.box_mm)


def _is_connected(names: Sequence[str], joined: Set[frozenset[str]]) -> bool:
    graph = nx.Graph()
    graph.add_nodes_from(names)
    graph.add_edges_from(pair for pair in joined if len(pair) == 2 and pair <= set(names))
    return bool(nx.is_connected(graph))


def _likely_words(pieces: Sequence[Fingerprint], whole: Fingerprint) -> Said:
    share = math.fsum(piece.volume_mm3 for piece in pieces) / whole.volume_mm3 - 1
    return say("change.nearly_adds_up", more_percent=share * 100)
