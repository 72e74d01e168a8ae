"""Along which straight path can a set of parts leave what stands? Heights over grids, then exact overlap."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import IntEnum

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Vector
from assembler.figure.plan import Move
from assembler.geometry.facenormals import large_face_normals
from assembler.geometry.sweeps import Blocking, blocked_pairs, is_blocked_in_strip, overlap
from assembler.planning.scene import Floor, PartSet, Scene, members
from assembler.planning.twolegs import TwoLegs
from assembler.projectfiles.answers import Answers

CELL_MM = 5.0
"""Grid across a direction; half a usual flange width is 13 mm, and thinner strips are confirmed exactly."""

MARGIN_MM = 60.0
"""How far beyond the last overlap of boxes a part is taken before it counts as out."""

LEVEL_FALL = 1e-6
"""Fall a millimetre below which a way is level."""

SHORTEST_MM = 120.0
"""Least travel that is planned and drawn."""

NEAR_STEPS_MM = (0.5, 2.0, 5.0, 10.0, 20.0, 45.0)
"""Where a movement is confirmed exactly: close to its end, where parts fit into each other."""

PASSED_MM = 40.0
"""Least distance beyond the last overlap of boxes, where the ground leaves no more room."""

BELOW_MM = 1.0
"""A part may touch the ground by this much on its way."""

SAME_DEG = 3.0
"""Directions nearer than this are one."""

GROOVE_DEG = 0.3
"""A slider in a tight groove needs its direction more exactly."""


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
    for mesh in scene.meshes:
        _add_grooves(found, mesh)
    return tuple(found)


def _add_grooves(found: list[Vector], mesh: Mesh) -> None:
    """Lines in which large flat faces of a part meet: a slider moves along its flanks, whatever its joint says."""
    normals = [np.asarray(normal) for normal in large_face_normals(mesh)]
    for k, first in enumerate(normals):
        for second in normals[k + 1 :]:
            line = np.cross(first, second)
            if float(np.linalg.norm(line)) > 0.2:
                _add(found, line, GROOVE_DEG)
                _add(found, -line, GROOVE_DEG)


def _leaving_normals(scene: Scene, number: int) -> list[NDArray[np.float64]]:
    """Mean normals along which a part leaves its neighbours, different ones only."""
    found: list[Vector] = []
    for joint, pair in zip(scene.joints, scene.pairs, strict=True):
        if number in pair:
            _add(found, np.asarray(joint.normal) * (1.0 if pair[1] == number else -1.0))
    return [np.asarray(vector) for vector in found]


def _add(found: list[Vector], vector: NDArray[np.float64], apart_deg: float = SAME_DEG) -> None:
    length = float(np.linalg.norm(vector))
    if length < 1e-9:
        return
    x, y, z = (float(value) + 0.0 for value in vector / length)
    if all(x * a + y * b + z * c < math.cos(math.radians(apart_deg)) for a, b, c in found):
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
    answers
        Pairs confirmed in earlier runs.
    """

    def __init__(self, scene: Scene, directions: tuple[Vector, ...], answers: Answers | None = None) -> None:
        self.scene = scene
        self._answers = answers or Answers()
        self._solids = [mesh_digest(mesh) for mesh in scene.meshes]
        self.directions = directions
        self._matrix = np.array(directions)
        self._twins = _opposites(directions)
        self._tables: dict[int, Blocking] = {}
        self._masks: dict[int, tuple[tuple[PartSet, ...], tuple[PartSet, ...]]] = {}
        self._confirmed: dict[tuple[int, int, int], bool] = {}
        self._exact: dict[tuple[int, int, int], bool] = {}
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

    def is_above(self, number: int, moving: PartSet, standing: PartSet, floor: Floor) -> bool:
        """Whether a set stays above the floor until it has left the rest by a hand's breadth less than is drawn."""
        *legs, last = self.path(number, moving, standing).legs
        shift = np.zeros(3)
        for leg in legs:
            shift = shift + np.asarray(leg.direction) * leg.travel_mm
        deep = [0.0, float(shift @ np.asarray(floor.up))]
        needed = max(0.0, self._parted_mm(number, moving, standing) + PASSED_MM)
        deep.append(deep[-1] + float(np.dot(last.direction, floor.up)) * needed)
        return self.scene.lowest_mm(moving, floor.up) + min(deep) >= floor.height_mm - BELOW_MM

    def _parted_mm(self, number: int, moving: PartSet, standing: PartSet) -> float:
        """Travel of the last leg until the boxes have parted."""
        if self.is_bent(number):
            return self._bent[number - len(self.directions)][-1].travel_mm - MARGIN_MM
        table = self._table(number)
        return max((float(table.leave_mm[i, j]) for i in members(moving) for j in members(standing)), default=0.0)

    def bent_ways(self, moving: PartSet, standing: PartSet) -> tuple[int, ...]:
        """Numbers of the ways in two legs."""
        numbers = []
        for legs in self._two_legs.ways(moving, standing, self.axes(moving, standing)):
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

    def axes(self, moving: PartSet, standing: PartSet) -> tuple[Vector, ...]:
        """Directions for legs: up, leaving normals and the lines in which their faces meet, the axes of the figure."""
        normals = self.leaving_normals(moving, standing)
        found: list[Vector] = []
        _add(found, np.asarray(self.scene.up, dtype=np.float64))
        for normal in normals:
            _add(found, normal)
        for axis in np.eye(3):
            _add(found, axis)
            _add(found, -axis)
        for k, first in enumerate(normals):
            for second in normals[k + 1 :]:
                line = np.cross(first, second)
                _add(found, line)
                _add(found, -line)
                if -0.5 < float(first @ second) < 0.94:
                    _add(found, first + second)
        return tuple(found)

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

    def _is_open(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        wide, narrow = self._sets(number)
        if any(wide[part] & standing for part in members(moving)):
            return False
        return not any(
            self._is_truly_blocked(number, part, other)
            for part in members(moving)
            for other in members(narrow[part] & standing)
        )

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

    def is_confirmed(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        """Whether exact overlap finds no collision on the first stretch; a pair that collides is remembered."""
        is_clear = True
        if self.is_bent(number):
            return True
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
            tolerance, pair = self.scene.settings.tolerances.overlap_mm, (self._solids[part], self._solids[other])
            asked = self._answers.key("clear", self.directions[number], NEAR_STEPS_MM, tolerance, pair)
            if not self._answers.has(asked):
                is_clear = not any(self._collides(number, part, other, travel) for travel in NEAR_STEPS_MM)
                self._answers.put(asked, is_clear)
            self._exact[key] = bool(self._answers.get(asked))
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
