"""Along which straight path can a set of parts leave what stands? Heights over grids, then exact overlap."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector
from assembler.figure.plan import Move
from assembler.geometry.sweeps import Blocking, blocked_pairs, is_blocked_in_strip, overlap
from assembler.planning.scene import PartSet, Scene, members

CELL_MM = 5.0
"""Grid across a direction; half a usual flange width is 13 mm, and thinner strips are confirmed exactly."""

MARGIN_MM = 60.0
"""How far beyond the last overlap of boxes a part is taken before it counts as out."""

SHORTEST_MM = 120.0
"""Least travel that is planned and drawn."""

NEAR_STEPS_MM = (0.5, 2.0, 5.0, 10.0, 20.0, 45.0)
"""Where a movement is confirmed exactly: close to its end, where parts fit into each other."""

SAME_DEG = 3.0
"""Directions nearer than this are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """A way out: legs in the order of taking out, and what it costs in care.

    Parameters
    ----------
    legs
        Taking out. Assembly runs them backwards.
    """

    legs: tuple[Move, ...]

    @property
    def assembly(self) -> tuple[Move, ...]:
        """The movements of assembly, first to last."""
        return tuple(Move(direction=_negative(leg.direction), travel_mm=leg.travel_mm) for leg in reversed(self.legs))


def candidate_directions(scene: Scene) -> tuple[Vector, ...]:
    """Directions worth trying, up first: joint normals, bolt axes, the axes of the figure, and sums of two normals.

    A part that meets two faces at once is best moved between their normals, so that it wipes neither.
    """
    found: list[Vector] = []
    up = np.asarray(scene.up, dtype=np.float64)
    _add(found, up)
    for axis in np.eye(3):
        _add(found, axis)
        _add(found, -axis)
    for joint in scene.joints:
        _add(found, np.asarray(joint.normal))
        _add(found, -np.asarray(joint.normal))
    for number in range(len(scene.parts)):
        normals = _leaving_normals(scene, number)
        for k, first in enumerate(normals):
            for second in normals[k + 1 :]:
                if -0.5 < float(first @ second) < 0.94:
                    _add(found, first + second)
    for joint in scene.joints:
        for bolt in joint.bolts[:1]:
            _add(found, np.asarray(bolt.axis))
            _add(found, -np.asarray(bolt.axis))
    return tuple(found)


def _leaving_normals(scene: Scene, number: int) -> list[NDArray[np.float64]]:
    """Mean normals along which a part leaves its neighbours, different ones only."""
    found: list[Vector] = []
    for joint, pair in zip(scene.joints, scene.pairs, strict=True):
        if number in pair:
            _add(found, np.asarray(joint.normal) * (1.0 if pair[1] == number else -1.0))
    return [np.asarray(vector) for vector in found]


def _add(found: list[Vector], vector: NDArray[np.float64]) -> None:
    length = float(np.linalg.norm(vector))
    if length < 1e-9:
        return
    x, y, z = (float(value) + 0.0 for value in vector / length)
    if all(x * a + y * b + z * c < math.cos(math.radians(SAME_DEG)) for a, b, c in found):
        found.append((x, y, z))


def _negative(vector: Vector) -> Vector:
    return (0.0 - vector[0], 0.0 - vector[1], 0.0 - vector[2])


class Paths:
    """Ways out of what stands, with a memory.

    Parameters
    ----------
    scene
        The figure.
    directions
        Directions tried, in order of preference.
    """

    def __init__(self, scene: Scene, directions: tuple[Vector, ...]) -> None:
        self.scene = scene
        self.directions = directions
        self._matrix = np.array(directions)
        self._twins = _opposites(directions)
        self._tables: dict[int, Blocking] = {}
        self._masks: dict[int, tuple[tuple[PartSet, ...], tuple[PartSet, ...]]] = {}
        self._confirmed: dict[tuple[int, int, int], bool] = {}
        self._exact: dict[tuple[int, int, int], bool] = {}

    def directions_out(self, moving: PartSet, standing: PartSet, *, is_thorough: bool = False) -> tuple[int, ...]:
        """Numbers of the directions along which a set leaves the rest, as the grids see it.

        Parameters
        ----------
        moving, standing
            The sets.
        is_thorough
            Try every direction, not only those that the joints between the two sets suggest, and up.
        """
        tried = range(len(self.directions)) if is_thorough else self._suggested(moving, standing)
        return tuple(number for number in tried if self._is_open(number, moving, standing))

    def _suggested(self, moving: PartSet, standing: PartSet) -> tuple[int, ...]:
        """Up, the normals along which the set leaves its neighbours, and the sums of two and of all of them."""
        normals = self.leaving_normals(moving, standing)
        vectors = [np.asarray(self.scene.up), *normals]
        if len(normals) > 1:
            vectors += [a + b for k, a in enumerate(normals) for b in normals[k + 1 :]]
            vectors.append(np.sum(normals, axis=0))
        found = {self._nearest(vector) for vector in vectors if np.linalg.norm(vector) > 0.1}
        return tuple(sorted(found))

    def leaving_normals(self, moving: PartSet, standing: PartSet) -> list[NDArray[np.float64]]:
        """Normals of the joints between two sets, out of what stands; nearly equal ones once."""
        found: list[Vector] = []
        for number in self.scene.joints_between(moving, standing):
            first, _ = self.scene.pairs[number]
            _add(found, np.asarray(self.scene.joints[number].normal) * (-1.0 if moving >> first & 1 else 1.0))
        return [np.asarray(vector) for vector in found]

    def _nearest(self, vector: NDArray[np.float64]) -> int:
        return int(np.argmax(self._matrix @ (vector / np.linalg.norm(vector))))

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

    def _is_open(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        wide, narrow = self._sets(number)
        if any(wide[part] & standing for part in members(moving)):
            return False
        return not any(
            self._is_truly_blocked(number, part, other)
            for part in members(moving)
            for other in members(narrow[part] & standing)
        )

    def path(self, number: int, moving: PartSet, standing: PartSet) -> Path:
        """The straight path along a direction until the boxes have parted."""
        table = self._table(number)
        travel = max((float(table.leave_mm[i, j]) for i in members(moving) for j in members(standing)), default=0.0)
        travel = max(SHORTEST_MM, math.ceil((travel + MARGIN_MM) / 10.0) * 10.0)
        return Path(legs=(Move(direction=self.directions[number], travel_mm=travel),))

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
            tolerances = self.scene.settings.tolerances
            self._confirmed[key] = is_blocked_in_strip(
                self.scene.meshes[part],
                self.scene.meshes[other],
                self.directions[number],
                self._table(number).strips[part, other],
                cell_mm=tolerances.graze_mm,
                overlap_mm=tolerances.overlap_mm,
            )
        return self._confirmed[key]

    def _collides(self, number: int, part: int, other: int, travel_mm: float) -> bool:
        first, second = self.scene.solids[part], self.scene.solids[other]
        if first is None or second is None:
            return False
        shift = np.asarray(self.directions[number]) * travel_mm
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
    found = ((number, place.get(_negative(direction))) for direction, number in place.items())
    return {number: twin for number, twin in found if twin is not None}


def _rows(flags: NDArray[np.bool_]) -> tuple[PartSet, ...]:
    return tuple(sum(1 << int(other) for other in np.flatnonzero(row)) for row in flags)
