"""Which parts are in the way of a tool on a head or a nut? Surface points against the shape of the tool."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import asdict

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from assembler.catalogue import tables
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId
from assembler.figure.mesh import Points, mesh_digest
from assembler.figure.parts import Vector
from assembler.geometry.sweeps import frame_of
from assembler.planning.boltends import End
from assembler.planning.scene import PartSet, Scene, members
from assembler.projectfiles.answers import Answers

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

TOOLS_MM = 600.0
"""No tool reaches farther than this from its seat, and twice the bolt: parts beyond are not asked about."""


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
        self._farthest_mm = TOOLS_MM + 2.0 * max((stack.length_mm for stack in scene.stacks.values()), default=0.0)
        self._lows = np.array([part.low_mm for part in scene.parts])
        self._highs = np.array([part.high_mm for part in scene.parts])
        self._solids = [mesh_digest(mesh) for mesh in scene.meshes]
        self._sets: dict[tuple[BoltId, int, str], tuple[PartSet, ...]] = {}

    def obstacles(self, end: End, which: int, role: str, stack: Stack, standing: PartSet) -> tuple[PartSet, str]:
        """Parts that every tool would meet (none: a tool fits), and the tool."""
        straight = self._tool_set(end, which, f"{role} straight", stack)
        if not straight[0] & standing:
            return 0, stack.tool if role == "head" else f"socket {stack.nut_across_flats_mm:g} mm"
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
        return (0 if fits else straight[0] & standing), f"open-end spanner {flats:g} mm"

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
            near = self._within(end.seat_mm, self._farthest_mm)
            way = [end.seat_mm, end.outward, kind, asdict(stack), self._spacing_mm]
            asked = self._answers.key("tool room", way, [self._solids[number] for number in near])
            if not self._answers.has(asked):
                found = self._measure_tool(end, kind, stack)
                self._answers.put(asked, [[near.index(number) for number in members(one)] for one in found])
            self._sets[key] = tuple(sum(1 << near[place] for place in one) for one in self._answers.get(asked))
        return self._sets[key]

    def _within(self, point: Vector, radius_mm: float) -> list[int]:
        """Parts whose box comes nearer to a point than a radius along every axis."""
        centre = np.asarray(point)
        is_far = (centre - radius_mm > self._highs) | (centre + radius_mm < self._lows)
        found: list[int] = np.flatnonzero(~is_far.any(axis=1)).tolist()
        return found

    def _measure_tool(self, end: End, kind: str, stack: Stack) -> tuple[PartSet, ...]:
        role, what = kind.split(" ")
        flats = stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm
        height = _height_mm(role, stack)
        if what == "straight":
            radius, length = straight_tool(role, stack)
            return (self._rod_set(end, radius, height + length),)
        if what == "place":
            # The screw has to be put in along its axis; a nut only has to be held with fingertips.
            length = stack.length_mm if role == "head" else GRIP_ROOM_MM
            return (self._rod_set(end, max(stack.head_outer_mm, flats * 1.155) / 2.0, height + length),)
        if what == "bore":
            return self._wall_sets(end)
        spanner = tables.tool("open-end spanner", flats)
        return self._bar_sets(end, height, spanner.outer_mm, spanner.length_mm)

    def _rod_set(self, end: End, radius_mm: float, length_mm: float) -> PartSet:
        """Parts with a surface point inside a cylinder on the axis, beyond the seat."""
        found = 0
        around = math.hypot(length_mm / 2.0, radius_mm)
        for number, local in self._near(end, frame_of(end.outward), length_mm / 2.0, around):
            along = (local[:, 2] > CLEAR_MM) & (local[:, 2] < length_mm)
            if bool((along & (local[:, 0] ** 2 + local[:, 1] ** 2 < (radius_mm - GRAZE_MM) ** 2)).any()):
                found |= 1 << number
        return found

    def _bar_sets(self, end: End, height_mm: float, width_mm: float, length_mm: float) -> tuple[PartSet, ...]:
        """For each orientation the parts with a surface point inside a spanner across the axis at head or nut."""
        frame = frame_of(end.outward)
        middle, half = max(4.0, height_mm / 2.0), min(4.0, height_mm / 2.0)
        found = [0] * ORIENTATIONS
        for number, local in self._near(end, frame, middle, math.hypot(length_mm, width_mm)):
            level = local[np.abs(local[:, 2] - middle) < half]
            for k in range(ORIENTATIONS):
                angle = 2.0 * math.pi * k / ORIENTATIONS
                along = level[:, 0] * math.cos(angle) + level[:, 1] * math.sin(angle)
                across = level[:, 1] * math.cos(angle) - level[:, 0] * math.sin(angle)
                if bool(((np.abs(across) < 0.3 * width_mm) & (along > 0.0) & (along < length_mm)).any()):
                    found[k] |= 1 << number
        return tuple(found)

    def _wall_sets(self, end: End) -> tuple[PartSet, ...]:
        """For each direction across the axis the parts whose surface keeps fingers out on that side."""
        found = [0] * ORIENTATIONS
        low, high = HELD_MM
        for number, local in self._near(end, frame_of(end.outward), (low + high) / 2.0, BORE_MM + high - low):
            level = local[(local[:, 2] > low) & (local[:, 2] < high)]
            level = level[np.hypot(level[:, 0], level[:, 1]) < BORE_MM]
            turn = np.arctan2(level[:, 1], level[:, 0]) / (2.0 * math.pi) * ORIENTATIONS
            for k in np.unique(np.floor(turn).astype(np.int64) % ORIENTATIONS).tolist():
                found[k] |= 1 << number
        return tuple(found)

    def _near(
        self, end: End, frame: NDArray[np.float64], beyond_mm: float, radius_mm: float
    ) -> Iterator[tuple[int, Points]]:
        """Surface points within a ball around a point beyond the seat, part by part, in the frame of the seat."""
        centre = np.asarray(end.point(beyond_mm))
        if beyond_mm + radius_mm > self._farthest_mm:
            raise AssertionError(f"a tool reaches {beyond_mm + radius_mm:.0f} mm: TOOLS_MM is too small")
        for number in self._within((float(centre[0]), float(centre[1]), float(centre[2])), radius_mm):
            tree = self._points[number]
            near = tree.data[tree.query_ball_point(centre, radius_mm)]
            if len(near):
                yield number, (near - np.asarray(end.seat_mm)) @ frame.T


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
