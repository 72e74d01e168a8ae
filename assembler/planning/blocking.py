"""Along which path can a set of parts leave what stands? Straight, or in two legs, and above the floor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np

from assembler.figure.parts import Vector
from assembler.figure.plan import Move
from assembler.planning.directions import leaving_normals, leg_axes, suggested
from assembler.planning.obstacles import CELL_MM, Obstacles
from assembler.planning.scene import Floor, PartSet, Scene
from assembler.planning.twolegs import TwoLegs

MARGIN_MM = 60.0
"""How far beyond the last overlap of boxes a part is taken before it counts as out."""

LEVEL_FALL = 1e-6
"""Fall a millimetre below which a way is level."""

SHORTEST_MM = 120.0
"""Least travel that is planned and drawn."""

PASSED_MM = 40.0
"""Least distance beyond the last overlap of boxes, where the ground leaves no more room."""

BELOW_MM = 1.0
"""A part may touch the ground by this much on its way."""


class Depth(IntEnum):
    """How far ways out are looked for."""

    SUGGESTED = 0
    """Up, and along the normals of the joints between the two sets."""
    ALL = 1
    """Along every direction, where none that is suggested is free."""
    LEGS = 2
    """In two legs, where no straight way is free."""


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
        self.obstacles = Obstacles(scene, directions)
        self._matrix = np.array(directions)
        self._two_legs = TwoLegs(scene, CELL_MM)
        self._bent: list[tuple[Move, ...]] = []

    def ways_out(self, moving: PartSet, standing: PartSet, depth: Depth, floor: Floor | None = None) -> tuple[int, ...]:
        """Numbers of the ways along which a set leaves the rest: straight ones as the grids see them, else in two legs.

        Numbers from the count of directions on are ways in two legs, confirmed exactly. None leads below the floor.
        """
        found: tuple[int, ...] = ()
        for level in range(depth + 1):
            if level == Depth.LEGS:
                ways = self.bent_ways(moving, standing)
            else:
                ways = self.directions_out(moving, standing, is_thorough=level == Depth.ALL)
            found = tuple(n for n in ways if floor is None or self.is_above(n, moving, standing, floor))
            if found:
                break
        return found

    def ways_off(self, moving: PartSet, standing: PartSet, floor: Floor | None) -> tuple[int, ...]:
        """Numbers of the ways in two legs, above the floor, whose first leg lifts a set off the faces of its joints."""
        normals = leaving_normals(self.scene, moving, standing)
        ways = self._numbers(moving, standing, [(float(x), float(y), float(z)) for x, y, z in normals])
        return tuple(n for n in ways if floor is None or self.is_above(n, moving, standing, floor))

    def is_above(self, number: int, moving: PartSet, standing: PartSet, floor: Floor) -> bool:
        """Whether a set stays above the floor until it has left the rest by a hand's breadth less than is drawn."""
        return self.below_mm(number, moving, standing, floor) <= BELOW_MM

    def below_mm(self, number: int, moving: PartSet, standing: PartSet, floor: Floor) -> float:
        """How far a set comes below the floor on its way; 0 where it stays above."""
        *legs, last = self.path(number, moving, standing).legs
        shift = np.zeros(3)
        for leg in legs:
            shift = shift + np.asarray(leg.direction) * leg.travel_mm
        deep = [0.0, float(shift @ np.asarray(floor.up))]
        needed = max(0.0, self._parted_mm(number, moving, standing) + PASSED_MM)
        deep.append(deep[-1] + float(np.dot(last.direction, floor.up)) * needed)
        return max(0.0, floor.height_mm - self.scene.lowest_mm(moving, floor.up) - min(deep))

    def _parted_mm(self, number: int, moving: PartSet, standing: PartSet) -> float:
        """Travel of the last leg until the boxes have parted."""
        if self.is_bent(number):
            return self._bent[number - len(self.directions)][-1].travel_mm - MARGIN_MM
        return self.obstacles.parted_mm(number, moving, standing)

    def bent_ways(self, moving: PartSet, standing: PartSet) -> tuple[int, ...]:
        """Numbers of the ways in two legs."""
        return self._numbers(moving, standing, None)

    def _numbers(self, moving: PartSet, standing: PartSet, firsts: Sequence[Vector] | None) -> tuple[int, ...]:
        numbers = []
        for legs in self._two_legs.ways(moving, standing, leg_axes(self.scene, moving, standing), firsts):
            if legs not in self._bent:
                self._bent.append(legs)
            numbers.append(len(self.directions) + self._bent.index(legs))
        return tuple(numbers)

    def is_bent(self, number: int) -> bool:
        """Whether a way has two legs."""
        return number >= len(self.directions)

    def leaving(self, number: int) -> Vector:
        """Direction in which a set leaves its place: of the first leg out, the closing movement turned round."""
        return (
            self._bent[number - len(self.directions)][0].direction if self.is_bent(number) else self.directions[number]
        )

    def directions_out(self, moving: PartSet, standing: PartSet, *, is_thorough: bool = False) -> tuple[int, ...]:
        """Numbers of the directions along which a set leaves the rest, as the grids see it.

        Parameters
        ----------
        moving, standing
            The sets.
        is_thorough
            Try every direction, not only those that the joints between the two sets suggest, and up.
        """
        tried = range(len(self.directions)) if is_thorough else self._likely(moving, standing)
        return tuple(number for number in tried if self.obstacles.is_open(number, moving, standing))

    def _likely(self, moving: PartSet, standing: PartSet) -> tuple[int, ...]:
        """Numbers of the directions nearest to those that the joints between two sets suggest."""
        vectors = [vector / np.linalg.norm(vector) for vector in suggested(self.scene, moving, standing)]
        return tuple(sorted({int(np.argmax(self._matrix @ vector)) for vector in vectors}))

    def is_confirmed(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        """Whether exact overlap finds no collision along a way; those in two legs were confirmed when found."""
        return self.is_bent(number) or self.obstacles.is_confirmed(number, moving, standing)

    def path(self, number: int, moving: PartSet, standing: PartSet, floor: Floor | None = None) -> Path:
        """The way with a number: along a direction until the boxes have parted, or its two legs; cut at a floor."""
        if self.is_bent(number):
            legs = self._bent[number - len(self.directions)]
        else:
            parted = self._parted_mm(number, moving, standing)
            travel = max(SHORTEST_MM, math.ceil((parted + MARGIN_MM) / 10.0) * 10.0)
            legs = (Move(direction=self.directions[number], travel_mm=travel),)
        if floor is None:
            return Path(legs=legs)
        *first, last = legs
        fall = -float(np.dot(last.direction, floor.up))
        start = self.scene.lowest_mm(moving, floor.up) - floor.height_mm
        room = start + sum(float(np.dot(leg.direction, floor.up)) * leg.travel_mm for leg in first)
        # A level or rising way never meets the floor, wherever the part stands.
        if fall < LEVEL_FALL or fall * last.travel_mm <= room:
            return Path(legs=legs)
        least = self._parted_mm(number, moving, standing) + PASSED_MM
        return Path(legs=(*first, replace(last, travel_mm=max(least, math.floor(room / fall)))))
