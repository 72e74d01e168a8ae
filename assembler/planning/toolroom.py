"""Which parts are in the way of a tool on a head or a nut? Surface points against the shape of the tool."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import NamedTuple

import numpy as np
from scipy.spatial import cKDTree

from assembler.cache import Answers
from assembler.catalogue import tables
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId
from assembler.figure.mesh import Points, mesh_digest
from assembler.figure.parts import Vector
from assembler.geometry.sweeps import frame_of
from assembler.planning.boltends import End
from assembler.planning.scene import PartSet, Scene, members
from assembler.words import Said, say

RATCHET_MM = 30.0
"""Room for the ratchet on the socket (common practice, no source)."""

GRIP_ROOM_MM = 12.0
"""Length of fingertips beyond a nut while it is started (common practice, no source)."""

BORE_MM = 35.0
"""A bore nearer than this to its axis all round keeps fingers out (common practice, no source)."""

HELD_MM = (14.0, 26.0)
"""Where beyond its seat fingers hold head or nut (common practice, no source)."""

GRAZE_MM = 0.2
"""A tool may graze what stands by this much."""

CLEAR_MM = 0.8
"""Points of the seat itself lie lower than this."""

ORIENTATIONS = 12

_LEVEL_MM = 4.0
"""Half the thickness of what a spanner is looked for in, and its least height above the seat."""


class _Ball(NamedTuple):
    """Where something about a tool is looked for: a middle on the axis, so far beyond the seat, and a radius."""

    beyond_mm: float
    radius_mm: float


class Tools:
    """Room for tools, with a memory.

    Parameters
    ----------
    scene
        The figure.
    points
        Points on the surface of each part.
    spacing_mm
        Distance of these points, a few millimetres.
    answers
        What earlier runs found out about tools beside the same parts.
    """

    def __init__(self, scene: Scene, points: Sequence[cKDTree], spacing_mm: float, answers: Answers) -> None:
        self.scene = scene
        self._points = points
        self._spacing_mm = spacing_mm
        self._answers = answers
        self._lows = np.array([part.low_mm for part in scene.parts])
        self._highs = np.array([part.high_mm for part in scene.parts])
        self._solids = [mesh_digest(mesh) for mesh in scene.meshes]
        self._sets: dict[tuple[BoltId, int, str], tuple[PartSet, ...]] = {}

    def obstacles(self, end: End, which: int, role: str, stack: Stack, standing: PartSet) -> tuple[PartSet, Said]:
        """Parts that every tool would meet (none: a tool fits), and the tool."""
        straight = self._tool_set(end, which, f"{role} straight", stack)
        if not straight[0] & standing:
            return 0, stack.tool if role == "head" else say("tool.socket", size_mm=stack.nut_across_flats_mm)
        if role == "head" and stack.key_mm:
            return straight[0] & standing, stack.tool
        place = self._tool_set(end, which, f"{role} place", stack)[0] & standing
        if place:
            return place, stack.tool
        turns = self._tool_set(end, which, f"{role} spanner", stack)
        flats = stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm
        free = [not turn & standing for turn in turns]
        # A held spanner needs one free position, a turning one two neighbours: 30 degrees, the spanner flipped.
        fits = any(free) if role == "nut" else any(a and b for a, b in zip(free, free[1:] + free[:1], strict=True))
        return (0 if fits else straight[0] & standing), say("tool.spanner", size_mm=flats)

    def held_beyond_bore(self, end: End, which: int, role: str, stack: Stack, standing: PartSet) -> Vector | None:
        """Where a hand holds the tool on an end that lies in a bore; None where it lies in none, or no tool goes in."""
        if not all(side & standing for side in self._tool_set(end, which, f"{role} bore", stack)):
            return None
        if self._tool_set(end, which, f"{role} straight", stack)[0] & standing:
            return None
        return end.point(_height_mm(role, stack) + straight_tool(role, stack)[1])

    def _tool_set(self, end: End, which: int, kind: str, stack: Stack) -> tuple[PartSet, ...]:
        key = (stack.bolt, which, kind)
        if key not in self._sets:
            near = self._within(end, _ball(kind, stack))
            way = [end.seat_mm, end.outward, kind, asdict(stack), self._spacing_mm]
            asked = self._answers.key("tool room", way, [self._solids[number] for number in near])
            if not self._answers.has(asked):
                found = self._measure_tool(end, kind, stack)
                self._answers.put(asked, [[near.index(number) for number in members(one)] for one in found])
            self._sets[key] = tuple(sum(1 << near[place] for place in one) for one in self._answers.get(asked))
        return self._sets[key]

    def _within(self, end: End, ball: _Ball) -> list[int]:
        """Parts whose box comes into the box around a ball beyond a seat."""
        centre = np.asarray(end.point(ball.beyond_mm))
        is_far = (centre - ball.radius_mm > self._highs) | (centre + ball.radius_mm < self._lows)
        found: list[int] = np.flatnonzero(~is_far.any(axis=1)).tolist()
        return found

    def _measure_tool(self, end: End, kind: str, stack: Stack) -> tuple[PartSet, ...]:
        role, what = kind.split(" ")
        near = self._near(end, _ball(kind, stack))
        if what in ("straight", "place"):
            return (_rod_set(near, *_rod(role, what, stack)),)
        if what == "bore":
            return _wall_sets(near)
        return _bar_sets(near, _middle_mm(role, stack), *_spanner(role, stack))

    def _near(self, end: End, ball: _Ball) -> Iterator[tuple[int, Points]]:
        """Surface points within a ball beyond the seat, part by part, in the frame of the seat."""
        frame, centre = frame_of(end.outward), np.asarray(end.point(ball.beyond_mm))
        for number in self._within(end, ball):
            tree = self._points[number]
            near = tree.data[tree.query_ball_point(centre, ball.radius_mm)]
            if len(near):
                yield number, (near - np.asarray(end.seat_mm)) @ frame.T


def _ball(kind: str, stack: Stack) -> _Ball:
    """The ball that holds all that matters for an answer about a tool."""
    role, what = kind.split(" ")
    if what in ("straight", "place"):
        radius_mm, length_mm = _rod(role, what, stack)
        return _Ball(length_mm / 2.0, math.hypot(length_mm / 2.0, radius_mm))
    if what == "bore":
        low, high = HELD_MM
        return _Ball((low + high) / 2.0, BORE_MM + high - low)
    width_mm, length_mm = _spanner(role, stack)
    return _Ball(max(_LEVEL_MM, _middle_mm(role, stack)), math.hypot(length_mm, width_mm))


def _rod(role: str, what: str, stack: Stack) -> tuple[float, float]:
    """Radius and length of the cylinder beyond the seat that a tool, or the screw on its way in, takes."""
    height_mm = _height_mm(role, stack)
    if what == "straight":
        radius_mm, length_mm = straight_tool(role, stack)
        return radius_mm, height_mm + length_mm
    # The screw has to be put in along its axis; a nut only has to be held with fingertips.
    length_mm = stack.length_mm if role == "head" else GRIP_ROOM_MM
    return max(stack.head_outer_mm, _flats_mm(role, stack) * 1.155) / 2.0, height_mm + length_mm


def _spanner(role: str, stack: Stack) -> tuple[float, float]:
    """Width and length."""
    spanner = tables.tool("open-end spanner", _flats_mm(role, stack))
    return spanner.outer_mm, spanner.length_mm


def _flats_mm(role: str, stack: Stack) -> float:
    return stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm


def _middle_mm(role: str, stack: Stack) -> float:
    """Half the height of head or nut, where a spanner holds it."""
    return _height_mm(role, stack) / 2.0


def _rod_set(near: Iterable[tuple[int, Points]], radius_mm: float, length_mm: float) -> PartSet:
    """Parts with a surface point inside a cylinder on the axis, beyond the seat."""
    found = 0
    for number, local in near:
        along = (local[:, 2] > CLEAR_MM) & (local[:, 2] < length_mm)
        if bool((along & (local[:, 0] ** 2 + local[:, 1] ** 2 < (radius_mm - GRAZE_MM) ** 2)).any()):
            found |= 1 << number
    return found


def _bar_sets(
    near: Iterable[tuple[int, Points]], middle_mm: float, width_mm: float, length_mm: float
) -> tuple[PartSet, ...]:
    """For each orientation the parts with a surface point inside a spanner across the axis at head or nut."""
    middle, half = max(_LEVEL_MM, middle_mm), min(_LEVEL_MM, middle_mm)
    found = [0] * ORIENTATIONS
    for number, local in near:
        level = local[np.abs(local[:, 2] - middle) < half]
        for k in range(ORIENTATIONS):
            angle = 2.0 * math.pi * k / ORIENTATIONS
            along = level[:, 0] * math.cos(angle) + level[:, 1] * math.sin(angle)
            across = level[:, 1] * math.cos(angle) - level[:, 0] * math.sin(angle)
            if bool(((np.abs(across) < 0.3 * width_mm) & (along > 0.0) & (along < length_mm)).any()):
                found[k] |= 1 << number
    return tuple(found)


def _wall_sets(near: Iterable[tuple[int, Points]]) -> tuple[PartSet, ...]:
    """For each direction across the axis the parts whose surface keeps fingers out on that side."""
    found = [0] * ORIENTATIONS
    low, high = HELD_MM
    for number, local in near:
        level = local[(local[:, 2] > low) & (local[:, 2] < high)]
        level = level[np.hypot(level[:, 0], level[:, 1]) < BORE_MM]
        turn = np.arctan2(level[:, 1], level[:, 0]) / (2.0 * math.pi) * ORIENTATIONS
        for k in np.unique(np.floor(turn).astype(np.int64) % ORIENTATIONS).tolist():
            found[k] |= 1 << number
    return tuple(found)


def _height_mm(role: str, stack: Stack) -> float:
    """Height of head or nut above its seat, the washer included."""
    return stack.washer_mm + (stack.head_mm if role == "head" else stack.nut_mm + max(0.0, stack.protrusion_mm))


def straight_tool(role: str, stack: Stack) -> tuple[float, float]:
    """Radius of the tool along the axis, and its length beyond head or nut, mm."""
    if role == "head" and stack.key_mm:
        key = tables.tool("hexagon key", stack.key_mm)
        return max(key.outer_mm, stack.head_outer_mm) / 2.0, max(key.length_mm, stack.length_mm)
    flats = stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm
    socket = tables.tool("socket", flats)
    length = socket.length_mm + RATCHET_MM
    return socket.outer_mm / 2.0, max(length, stack.length_mm if role == "head" else 0.0)
