"""Which parts are in the way along a straight direction? Heights over grids, then exact overlap, with a memory."""

from __future__ import annotations

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector
from assembler.geometry.sweeps import Blocking, blocked_pairs, is_blocked_in_strip, overlap
from assembler.planning.scene import PartSet, Scene, members

CELL_MM = 5.0
"""Grid across a direction; half a usual flange width is 13 mm, and thinner strips are confirmed exactly."""

NEAR_STEPS_MM = (0.5, 2.0, 5.0, 10.0, 20.0, 45.0)
"""Where a movement is confirmed exactly: close to its end, where parts fit into each other."""

APART_MM = 0.5
"""Parts whose boxes are this far apart do not meet: no solid, in single precision, has to be made of them."""


class Obstacles:
    """Who is in whose way, by the number of a direction.

    Parameters
    ----------
    scene
        The figure.
    directions
        Unit vectors.
    """

    def __init__(self, scene: Scene, directions: tuple[Vector, ...]) -> None:
        self.scene = scene
        self.directions = directions
        self._twins = _opposites(directions)
        self._tables: dict[int, Blocking] = {}
        self._masks: dict[int, tuple[tuple[PartSet, ...], tuple[PartSet, ...]]] = {}
        self._confirmed: dict[tuple[int, int, int], bool] = {}
        self._exact: dict[tuple[int, int, int], bool] = {}

    def locked_sets(self, whole: PartSet) -> list[PartSet]:
        """Parts that only move together: in some direction each of them takes the others along, and nothing else.

        Strongly connected components of the blocking graph of a direction that have no way out of themselves.

        References
        ----------
        Wilson & Latombe, Geometric reasoning about mechanical assembly, 1994 (cited from memory).
        """
        found: set[PartSet] = set()
        for number in range(len(self.directions)):
            graph = nx.DiGraph()
            graph.add_nodes_from(members(whole))
            for part in members(whole):
                blockers = self.blockers(number, 1 << part, whole & ~(1 << part))
                graph.add_edges_from((part, other) for other in members(blockers))
            joined = nx.condensation(graph)
            for piece in joined:
                if joined.out_degree(piece) == 0:
                    found.add(sum(1 << part for part in joined.nodes[piece]["members"]))
        return sorted(
            (one for one in found if 1 < one.bit_count() < whole.bit_count()), key=lambda s: (s.bit_count(), s)
        )

    def blockers(self, number: int, moving: PartSet, standing: PartSet) -> PartSet:
        """Parts in the way of a set along a direction, as the grids see it."""
        wide, narrow = self._sets(number)
        found = 0
        for part in members(moving):
            found |= wide[part] & standing
            for other in members(narrow[part] & standing & ~found):
                if self._is_truly_blocked(number, part, other):
                    found |= 1 << other
        return found

    def is_open(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        """Whether nothing is in the way of a set along a direction, as the grids see it."""
        wide, narrow = self._sets(number)
        if any(wide[part] & standing for part in members(moving)):
            return False
        return not any(
            self._is_truly_blocked(number, part, other)
            for part in members(moving)
            for other in members(narrow[part] & standing)
        )

    def parted_mm(self, number: int, moving: PartSet, standing: PartSet) -> float:
        """Travel along a direction until the boxes have parted."""
        table = self._table(number)
        return max((float(table.leave_mm[i, j]) for i in members(moving) for j in members(standing)), default=0.0)

    def is_confirmed(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        """Whether exact overlap finds no collision on the first stretch; a pair that collides is remembered."""
        is_clear = True
        for part in members(moving):
            for other in members(standing):
                if not self._is_pair_clear(number, part, other):
                    wide, narrow = self._sets(number)
                    changed = list(wide)
                    changed[part] |= 1 << other
                    self._masks[number] = (tuple(changed), narrow)
                    is_clear = False
        return is_clear

    def _is_pair_clear(self, number: int, part: int, other: int) -> bool:
        key = (number, part, other)
        if key not in self._exact:
            self._exact[key] = not any(self._collides(number, part, other, travel) for travel in NEAR_STEPS_MM)
        return self._exact[key]

    def _is_truly_blocked(self, number: int, part: int, other: int) -> bool:
        key = (number, part, other)
        if key not in self._confirmed:
            direction, strip = self.directions[number], self._table(number).strips[part, other]
            meshes, tolerances = (self.scene.meshes[part], self.scene.meshes[other]), self.scene.settings.tolerances
            self._confirmed[key] = is_blocked_in_strip(
                *meshes, direction, strip, cell_mm=tolerances.graze_mm, overlap_mm=tolerances.overlap_mm
            )
        return self._confirmed[key]

    def _collides(self, number: int, part: int, other: int, travel_mm: float) -> bool:
        shift = np.asarray(self.directions[number]) * travel_mm
        moving, standing = self.scene.parts[part], self.scene.parts[other]
        low, high = np.asarray(moving.low_mm) + shift - APART_MM, np.asarray(moving.high_mm) + shift + APART_MM
        if np.any(low > standing.high_mm) or np.any(high < standing.low_mm):
            return False
        first, second = self.scene.solids[part], self.scene.solids[other]
        if first is None or second is None:
            return False
        return overlap(first, second, shift).is_collision(self.scene.settings.tolerances.overlap_mm)

    def _table(self, number: int) -> Blocking:
        if number not in self._tables:
            twin = self._twins.get(number)
            if twin in self._tables:
                self._tables[number] = self._tables[twin].backwards()
                return self._tables[number]
            self._tables[number] = blocked_pairs(
                self.scene.meshes,
                self.directions[number],
                cell_mm=CELL_MM,
                overlap_mm=self.scene.settings.tolerances.overlap_mm,
            )
        return self._tables[number]

    def _sets(self, number: int) -> tuple[tuple[PartSet, ...], tuple[PartSet, ...]]:
        if number not in self._masks:
            table = self._table(number)
            self._masks[number] = (_rows(table.wide), _rows(table.narrow))
        return self._masks[number]


def _opposites(directions: tuple[Vector, ...]) -> dict[int, int]:
    """For each direction the number of the exactly opposite one, where there is one."""
    place = {direction: number for number, direction in enumerate(directions)}
    found = (
        (number, place.get((0.0 - direction[0], 0.0 - direction[1], 0.0 - direction[2])))
        for direction, number in place.items()
    )
    return {number: twin for number, twin in found if twin is not None}


def _rows(flags: NDArray[np.bool_]) -> tuple[PartSet, ...]:
    return tuple(sum(1 << int(other) for other in np.flatnonzero(row)) for row in flags)
