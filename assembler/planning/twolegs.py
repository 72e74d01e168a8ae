"""Out, then away: which movements of two straight legs take a set out where none of one leg does? Confirmed exactly."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector
from assembler.figure.plan import Move
from assembler.geometry.columns import (
    Clashes,
    Columns,
    as_one,
    clashes,
    columns_of,
    free_run_mm,
    is_clear_after,
    together,
)
from assembler.geometry.sweeps import Heights, Solid, frame_of, height_field, overlap, simplified
from assembler.planning.scene import PartSet, Scene, members

Legs = tuple[Move, ...]

STEP_MM = 5.0
"""Walls of 5 mm overlap over 10 mm of travel: no step may be longer than that."""

LEAST_MM = 4.0
"""A first leg shorter than this changes nothing for the second."""

PARALLEL = 0.94
"""Legs nearer than 20 degrees to each other are one."""

MOST_STOPS = 60
"""Ends of a first leg that are tried."""

MOST_CONFIRMED = 8
"""Movements of one set that are looked at exactly."""

NEAR_MM, NEAR_STEP_MM = 40.0, 2.0
"""Close to the start of a leg parts fit into each other: smaller steps."""

SIMPLIFY_MM = 0.05
"""Detail finer than this is left out; well below the tolerance for overlap."""

CLEAR_MM = 60.0
"""Beyond the last overlap of boxes."""


class TwoLegs:
    """Movements of two legs, with a memory.

    Parameters
    ----------
    scene
        The figure.
    cell_mm
        Edge of a cell of the grids across a direction.
    """

    def __init__(self, scene: Scene, cell_mm: float) -> None:
        self.scene = scene
        self.cell_mm = cell_mm
        self._columns: dict[tuple[int, Vector], Columns] = {}
        self._fields: dict[tuple[int, Vector], Heights] = {}
        self._levels: dict[tuple[int, Vector], NDArray[np.float64]] = {}
        self._clashes: dict[tuple[int, int, Vector], Clashes] = {}
        self._solids: dict[int, Solid | None] = {}
        self._found: dict[tuple[PartSet, PartSet, tuple[Vector, ...]], tuple[Legs, ...]] = {}

    def ways(
        self, moving: PartSet, standing: PartSet, directions: Sequence[Vector], firsts: Sequence[Vector] | None = None
    ) -> tuple[Legs, ...]:
        """Movements that take a set out, at most one for each first direction, shortest first leg first.

        Parameters
        ----------
        moving, standing
            The sets.
        directions
            For both legs.
        firsts
            For the first leg only those, where given.
        """
        chosen = tuple(directions if firsts is None else firsts)
        key = (moving, standing, chosen)
        if key not in self._found:
            self._found[key] = tuple(self._search(moving, standing, chosen, directions))
        return self._found[key]

    def _search(
        self, moving: PartSet, standing: PartSet, firsts: Sequence[Vector], seconds: Sequence[Vector]
    ) -> Iterator[Legs]:
        likely = sorted(
            self._likely(moving, standing, firsts, seconds),
            key=lambda legs: (legs[0].travel_mm, firsts.index(legs[0].direction), legs[1].travel_mm),
        )
        seen: set[Vector] = set()
        for legs in likely[:MOST_CONFIRMED]:
            if legs[0].direction not in seen and self.is_confirmed(legs, moving, standing):
                seen.add(legs[0].direction)
                yield legs

    def _likely(
        self, moving: PartSet, standing: PartSet, firsts: Sequence[Vector], seconds: Sequence[Vector]
    ) -> list[Legs]:
        """Movements that the grids let pass."""
        found: list[Legs] = []
        for first in firsts:
            stops = self._stops(moving, standing, first)
            if not stops:
                continue
            for second in seconds:
                if abs(float(np.dot(first, second))) < PARALLEL:
                    found += self._away(moving, standing, first, stops, second)
        return found

    def _stops(self, moving: PartSet, standing: PartSet, first: Vector) -> list[float]:
        """Ends of a first leg worth trying: where faces come into line, where it ends, and some between."""
        limit = self._parting_mm(moving, standing, first, np.zeros(3))
        met = together([self._met(a, b, first) for a in members(moving) for b in members(standing)])
        run = free_run_mm(met, limit, STEP_MM)
        if run < LEAST_MM:
            return []
        mine = np.unique(np.concatenate([self._faces(part, first) for part in members(moving)]))
        theirs = np.unique(np.concatenate([self._faces(part, first) for part in members(standing)]))
        inline = np.unique(np.round((theirs[:, None] - mine[None, :]).ravel(), 1))
        inline = inline[(inline >= LEAST_MM) & (inline <= run + 0.1)]
        if len(inline) > MOST_STOPS:
            inline = inline[np.linspace(0, len(inline) - 1, MOST_STOPS).astype(int)]
        steps = np.arange(2.0 * STEP_MM, run, max(2.0 * STEP_MM, run / MOST_STOPS))
        return sorted({*np.minimum(inline, run).tolist(), *steps.tolist(), float(run)})

    def _away(
        self, moving: PartSet, standing: PartSet, first: Vector, stops: Sequence[float], second: Vector
    ) -> list[Legs]:
        """For each stretch of ends of the first leg from which the second gets away, its first end and its middle."""
        low = as_one([self._field(part, second) for part in members(moving)])
        high = as_one([self._field(part, second) for part in members(standing)])
        across = frame_of(second) @ np.asarray(first)
        depth = self.scene.settings.tolerances.overlap_mm
        stretches: list[list[float]] = [[]]
        for stop in stops:
            columns, rows, along = (across * stop).tolist()
            shift = (round(rows / self.cell_mm), round(columns / self.cell_mm), along)
            if is_clear_after(low, high, shift, depth):
                stretches[-1].append(stop)
            elif stretches[-1]:
                stretches.append([])
        ends = {end for one in stretches if one for end in (one[0], one[min(len(one) // 2, 2)])}
        found: list[Legs] = []
        for stop in sorted(ends):
            away = self._parting_mm(moving, standing, second, np.asarray(first) * stop)
            travel = max(2.0 * CLEAR_MM, math.ceil((away + CLEAR_MM) / 10.0) * 10.0)
            found.append((Move(direction=first, travel_mm=stop), Move(direction=second, travel_mm=travel)))
        return found

    def is_confirmed(self, legs: Legs, moving: PartSet, standing: PartSet) -> bool:
        """Whether exact overlap finds no collision at small steps along all legs."""
        return not any(
            self._collides(part, other, shift)
            for shift in stations(legs)
            for part, other in product(members(moving), members(standing))
        )

    def _collides(self, part: int, other: int, shift: NDArray[np.float64]) -> bool:
        low, high = (
            np.asarray(self.scene.parts[part].low_mm) + shift,
            np.asarray(self.scene.parts[part].high_mm) + shift,
        )
        standing = self.scene.parts[other]
        if np.any(low >= standing.high_mm) or np.any(high <= standing.low_mm):
            return False
        first, second = self._solid(part), self._solid(other)
        if first is None or second is None:
            return False
        return overlap(first, second, shift).is_collision(self.scene.settings.tolerances.overlap_mm)

    def _solid(self, part: int) -> Solid | None:
        if part not in self._solids:
            body = self.scene.solids[part]
            self._solids[part] = None if body is None else simplified(body, SIMPLIFY_MM)
        return self._solids[part]

    def _met(self, part: int, other: int, direction: Vector) -> Clashes:
        key = (part, other, direction)
        if key not in self._clashes:
            depth = self.scene.settings.tolerances.overlap_mm
            self._clashes[key] = clashes(self._column(part, direction), self._column(other, direction), depth)
        return self._clashes[key]

    def _column(self, part: int, direction: Vector) -> Columns:
        key = (part, direction)
        if key not in self._columns:
            self._columns[key] = columns_of(self.scene.meshes[part], frame_of(direction), self.cell_mm)
        return self._columns[key]

    def _field(self, part: int, direction: Vector) -> Heights:
        key = (part, direction)
        if key not in self._fields:
            self._fields[key] = height_field(self.scene.meshes[part], frame_of(direction), self.cell_mm)
        return self._fields[key]

    def _faces(self, part: int, direction: Vector) -> NDArray[np.float64]:
        """Levels along a direction at which a part has flat faces, and its two ends, mm."""
        key = (part, direction)
        if key not in self._levels:
            heights = np.round(self.scene.meshes[part].vertices @ np.asarray(direction), 1)
            levels, counts = np.unique(heights, return_counts=True)
            flat = levels[counts >= max(4, int(np.sort(counts)[-12:][0]))]
            self._levels[key] = np.unique(np.concatenate([flat, levels[[0, -1]]]))
        return self._levels[key]

    def _parting_mm(self, moving: PartSet, standing: PartSet, direction: Vector, shift: NDArray[np.float64]) -> float:
        """Travel after which the set has left everything that stands, as seen along a direction."""
        along = np.asarray(direction)
        mine = min(float((self.scene.meshes[part].vertices @ along).min()) for part in members(moving))
        theirs = max(float((self.scene.meshes[part].vertices @ along).max()) for part in members(standing))
        return max(0.0, theirs - mine - float(shift @ along))


def stations(legs: Legs) -> Iterator[NDArray[np.float64]]:
    """Shifts from the place outwards, small steps at the start of every leg."""
    start = np.zeros(3)
    for leg in legs:
        direction, at = np.asarray(leg.direction), 0.5
        while at < leg.travel_mm:
            yield start + direction * at
            at += NEAR_STEP_MM if at < NEAR_MM else STEP_MM
        start = start + direction * leg.travel_mm
        yield start.copy()
