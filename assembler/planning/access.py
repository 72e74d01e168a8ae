"""Can hands and tools close a bolt past what stands at that moment? Answers for single bolts, with the way in words.

Fewer parts leave more room: what can be reached past a set can be reached past each of its subsets. The memory here
rests on that.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label
from scipy.spatial import cKDTree

from assembler.catalogue import tables
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId, PartId
from assembler.figure.joints import Bolt, Seat
from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.figure.plan import Access
from assembler.figure.settings import Crew
from assembler.geometry.freespace import (
    Flags,
    Grid,
    Patch,
    coarser,
    combined,
    grid_around,
    grown,
    outside_of,
    patch_of,
    refined,
    surface_points,
    trimmed,
    way_in,
)
from assembler.geometry.sweeps import frame_of, surface_hits
from assembler.planning.scene import PartSet, Scene, members

CELL_MM = 10.0
COARSE = 3
BODY_MM = 225.0
"""Radius of the ball that stands for head and shoulders: 450 mm across (common practice, no source)."""

FINGERS_MM = 110.0
"""From the middle of the palm to what the fingertips hold (common practice, no source)."""

RATCHET_MM = 30.0
"""Room for the ratchet on the socket (common practice, no source)."""

GRIP_ROOM_MM = 12.0
"""Length of fingertips beyond a nut while it is started (common practice, no source)."""

GRAZE_MM = 0.2
"""A tool may graze what stands by this much."""

CLEAR_MM = 0.8
"""Points of the seat itself lie lower than this."""

NEAR_MM = 70.0
"""A palm this near to where the body can be is outside: the grid keeps the body this far from walls."""

ORIENTATIONS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of a bolt, as hands and tools find it.

    Parameters
    ----------
    part
        Number of the part that it sits on.
    seat_mm
        Where the outer face of that part meets the axis.
    outward
        Unit vector along the axis, away from the joint.
    kind
        What carries it.
    """

    part: int
    seat_mm: Vector
    outward: Vector
    kind: Seat

    def point(self, beyond_mm: float) -> Vector:
        """A point on the axis beyond the seat."""
        x, y, z = (s + beyond_mm * o for s, o in zip(self.seat_mm, self.outward, strict=True))
        return (x, y, z)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Whether and how one end is reached.

    Parameters
    ----------
    is_reached
        By a hand.
    way_mm
        Length of its way inside the hollow.
    """

    is_reached: bool
    way_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Access to one bolt past one set of parts, and what is missing.

    Parameters
    ----------
    access
        For the plan.
    missing
        'head', 'nut', 'head tool', 'nut tool' or 'second arm'; empty when it can be closed.
    in_the_way
        Parts that the tool meets.
    is_shut
        Whether no opening at all is left, however long the arm.
    """

    access: Access
    missing: str
    in_the_way: PartSet
    is_shut: bool


class Hands:
    """Room for hands and tools past what stands, with a memory.

    Parameters
    ----------
    scene
        The figure.
    cell_mm
        Grid for hands.
    """

    def __init__(self, scene: Scene, cell_mm: float = CELL_MM) -> None:
        self.scene = scene
        crew = scene.settings.crew
        self.arm_mm = arm_width_mm(crew)
        self.pair_mm = pair_width_mm(crew)
        low, high = scene.box_mm(scene.everything)
        # The body needs wide room around the figure, hands only a little.
        wide = grid_around(
            np.asarray(low), np.asarray(high), cell_mm, 2.0 * BODY_MM + 2 * COARSE * cell_mm, multiple=COARSE
        )
        self.rough = coarser(wide, COARSE)
        self._trim = int((2.0 * BODY_MM - 60.0) / (COARSE * cell_mm))
        self.grid = trimmed(wide, self._trim * COARSE)
        self._points: list[cKDTree] = []
        self._taken: list[Patch] = []
        self._arm: list[Patch] = []
        self._pair: list[Patch] = []
        self._body: list[Patch] = []
        for mesh in scene.meshes:
            points = surface_points(mesh, 0.45 * cell_mm)
            taken = patch_of(points, self.grid)
            self._points.append(cKDTree(points, balanced_tree=False, compact_nodes=False))
            self._taken.append(taken)
            self._arm.append(grown(taken, self.arm_mm / 2.0, self.grid))
            self._pair.append(grown(taken, self.pair_mm / 2.0, self.grid))
            self._body.append(grown(patch_of(points, self.rough), BODY_MM, self.rough))
        self.ends = {bolt.id: ends_of(scene, bolt) for joint in scene.joints for bolt in joint.bolts}
        self.bolts = {bolt.id: bolt for joint in scene.joints for bolt in joint.bolts}
        self._fields: dict[tuple[PartSet, bool, bool], NDArray[np.float32]] = {}
        self._outside: dict[tuple[PartSet, bool], Flags] = {}
        self._tool_sets: dict[tuple[BoltId, int, str], tuple[PartSet, ...]] = {}
        self._good: dict[tuple[BoltId, bool], list[PartSet]] = {}
        self._bad: dict[tuple[BoltId, bool], list[PartSet]] = {}

    def is_closable(self, bolt: Bolt, standing: PartSet, *, has_floor: bool) -> bool:
        """Whether a bolt can be closed past what stands; answered from memory where a super- or subset is known."""
        key = (bolt.id, has_floor)
        if any(standing & good == standing for good in self._good.get(key, ())):
            return True
        if any(standing & bad == bad for bad in self._bad.get(key, ())):
            return False
        return not self.verdict(bolt, standing, has_floor=has_floor).missing

    def is_known_shut(self, bolt: Bolt, standing: PartSet, *, has_floor: bool) -> bool:
        """Whether it is remembered that a bolt cannot be closed past this set or a part of it."""
        return any(standing & bad == bad for bad in self._bad.get((bolt.id, has_floor), ()))

    def verdict(self, bolt: Bolt, standing: PartSet, *, has_floor: bool) -> Verdict:
        """Access to a bolt past what stands, the better end for the head chosen."""
        ends = self.ends[bolt.id]
        heads = [k for k in (0, 1) if ends[k].kind is Seat.OPEN] or [0]
        found = [self._with_head(bolt, k, standing, has_floor) for k in heads]
        best = min(found, key=lambda verdict: (bool(verdict.missing), verdict.access.reach_mm, verdict.access.head_end))
        key = (bolt.id, has_floor)
        (self._bad if best.missing else self._good).setdefault(key, []).append(standing)
        return best

    def _with_head(self, bolt: Bolt, head: int, standing: PartSet, has_floor: bool) -> Verdict:
        ends = self.ends[bolt.id]
        stack = self.scene.stacks.get(bolt.id)
        nut_end = ends[1 - head]
        is_nut_open = nut_end.kind is Seat.OPEN
        missing, in_the_way, tool = "", 0, stack.tool if stack else "tool"
        reaches = [self.reach(ends[head], standing, has_floor)]
        if is_nut_open:
            reaches.append(self.reach(nut_end, standing, has_floor))
        missing = next(
            (name for name, reach in zip(("head", "nut"), reaches, strict=False) if not reach.is_reached), ""
        )
        if not missing and len(reaches) == 2 and all(reach.way_mm > 0.0 for reach in reaches):
            missing = "" if self._passes_two(ends, standing, has_floor) else "second arm"
        if stack is not None and not missing:
            way, tool = self._tool_way(bolt, head, "head", stack, standing)
            missing, in_the_way = ("head tool", way) if way else ("", 0)
            if not missing and is_nut_open:
                way, _ = self._tool_way(bolt, 1 - head, "nut", stack, standing)
                missing, in_the_way = ("nut tool", way) if way else ("", 0)
        ways = [reach.way_mm for reach in reaches if math.isfinite(reach.way_mm)]
        access = Access(
            bolt=bolt.id,
            head_part=self.scene.parts[ends[head].part].id,
            nut_part=self.scene.parts[nut_end.part].id,
            head_end=head,
            tool=tool,
            head=_words(reaches[0], missing.startswith("head"), self.scene.settings.crew),
            nut=_words(reaches[-1], missing.startswith("nut"), self.scene.settings.crew)
            if is_nut_open
            else ("captive nut, no hand needed" if nut_end.kind is Seat.CAPTIVE else "threaded insert"),
            reach_mm=max(ways, default=0.0),
            is_reachable=not missing,
        )
        is_shut = missing in ("head", "nut") and not all(math.isfinite(reach.way_mm) for reach in reaches)
        return Verdict(access=access, missing=missing, in_the_way=in_the_way, is_shut=is_shut)

    def reach(self, end: End, standing: PartSet, has_floor: bool) -> Reach:
        """Way of a hand from outside to an end."""
        way = self._way_to(end.point(25.0), standing, has_floor, is_pair=False)
        return Reach(is_reached=way <= self.scene.settings.crew.reach_mm, way_mm=way)

    def _passes_two(self, ends: tuple[End, ...], standing: PartSet, has_floor: bool) -> bool:
        """Whether one of two ends inside is reached through openings wide enough for two arms."""
        limit = self.scene.settings.crew.reach_mm + (self.pair_mm - self.arm_mm) / 2.0
        return any(self._way_to(end.point(25.0), standing, has_floor, is_pair=True) <= limit for end in ends)

    def _way_to(self, point: Vector, standing: PartSet, has_floor: bool, *, is_pair: bool) -> float:
        """Shortest way of a palm to where its fingers touch a point, fingers included; 0 where it stays outside."""
        field = self._field(standing, has_floor, is_pair)
        fingers_mm = FINGERS_MM + (self.pair_mm - self.arm_mm) / 2.0 * is_pair
        cell = self.grid.cell_of(np.asarray([point]))[0]
        pad = math.ceil(fingers_mm / self.grid.cell_mm)
        low = np.maximum(cell - pad, 0)
        high = np.minimum(cell + pad + 1, self.grid.shape)
        if np.any(high <= low):
            return 0.0
        regions, _ = label(~self._taken_in(low, high, standing))
        centre = cell - low
        beside = regions[tuple(slice(max(0, c - 1), c + 2) for c in centre)]
        touched = np.unique(beside[beside > 0])
        if not len(touched):
            return math.inf
        axes = [(np.arange(n) - c) ** 2 for n, c in zip(regions.shape, centre, strict=True)]
        away = np.sqrt(axes[0][:, None, None] + axes[1][None, :, None] + axes[2][None, None, :]) * self.grid.cell_mm
        inside = field[tuple(slice(int(a), int(b)) for a, b in zip(low, high, strict=True))]
        ways = inside[np.isin(regions, touched) & (away <= fingers_mm)]
        if not len(ways):
            return math.inf
        nearest = float(ways.min())
        return 0.0 if nearest <= NEAR_MM else nearest + fingers_mm

    def _taken_in(self, low: NDArray[np.int64], high: NDArray[np.int64], standing: PartSet) -> Flags:
        taken = np.zeros(high - low, dtype=bool)
        for number in members(standing):
            patch = self._taken[number]
            start = np.asarray(patch.low)
            first, last = np.maximum(low, start), np.minimum(high, start + patch.flags.shape)
            if np.any(first >= last):
                continue
            here = tuple(slice(a, b) for a, b in zip(first - low, last - low, strict=True))
            there = tuple(slice(a, b) for a, b in zip(first - start, last - start, strict=True))
            taken[here] |= patch.flags[there]
        return taken

    def _field(self, standing: PartSet, has_floor: bool, is_pair: bool) -> NDArray[np.float32]:
        key = (standing, has_floor, is_pair)
        if key not in self._fields:
            if len(self._fields) > 5:
                self._fields.pop(next(iter(self._fields)))
            patches = self._pair if is_pair else self._arm
            free = ~combined((patches[number] for number in members(standing)), self.grid)
            if has_floor:
                free &= ~self._below_floor(self.grid, (self.pair_mm if is_pair else self.arm_mm) / 2.0, standing)
            room = self._body_room(standing, has_floor)
            self._fields[key] = way_in(free, room & free, self.scene.settings.crew.reach_mm + FINGERS_MM, self.grid)
        return self._fields[key]

    def _body_room(self, standing: PartSet, has_floor: bool) -> Flags:
        key = (standing, has_floor)
        if key not in self._outside:
            if len(self._outside) > 3:
                self._outside.pop(next(iter(self._outside)))
            blocked = combined((self._body[number] for number in members(standing)), self.rough)
            if has_floor:
                blocked |= self._below_floor(self.rough, 0.0, standing)
            room = outside_of(blocked, BODY_MM, self.rough)
            inner = slice(self._trim, -self._trim)
            self._outside[key] = refined(room[inner, inner, inner], COARSE)
        return self._outside[key]

    def _below_floor(self, grid: Grid, above_mm: float, standing: PartSet) -> Flags:
        """Cells lower than a height above the floor on which the set stands."""
        up = np.asarray(self.scene.up)
        numbers = list(members(standing))
        corners = np.array(
            [self.scene.parts[n].low_mm for n in numbers] + [self.scene.parts[n].high_mm for n in numbers]
        )
        floor = float((corners @ up).min())
        heights = sum(
            np.reshape(
                up[axis] * (grid.origin_mm[axis] + (np.arange(grid.shape[axis]) + 0.5) * grid.cell_mm),
                tuple(-1 if k == axis else 1 for k in range(3)),
            )
            for axis in range(3)
        )
        return np.asarray(np.broadcast_to(heights < floor + above_mm, grid.shape))

    def _tool_way(self, bolt: Bolt, end: int, role: str, stack: Stack, standing: PartSet) -> tuple[PartSet, str]:
        """Parts that every tool would meet (none: a tool fits), and the tool."""
        straight = self._tool_set(bolt, end, f"{role} straight", stack)
        if not straight[0] & standing:
            return 0, stack.tool if role == "head" else f"socket {stack.nut_across_flats_mm:g} mm"
        if role == "head" and stack.key_mm:
            return straight[0] & standing, stack.tool
        place = self._tool_set(bolt, end, f"{role} place", stack)[0] & standing
        if place:
            return place, stack.tool
        turns = self._tool_set(bolt, end, f"{role} spanner", stack)
        flats = stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm
        free = [not turn & standing for turn in turns]
        # A held spanner needs one free position, a turning one two neighbours: 30 degrees, the spanner flipped.
        fits = any(free) if role == "nut" else any(a and b for a, b in zip(free, free[1:] + free[:1], strict=True))
        return (0 if fits else straight[0] & standing), f"open-end spanner {flats:g} mm"

    def _tool_set(self, bolt: Bolt, end: int, kind: str, stack: Stack) -> tuple[PartSet, ...]:
        key = (bolt.id, end, kind)
        if key not in self._tool_sets:
            self._tool_sets[key] = self._measure_tool(self.ends[bolt.id][end], kind, stack)
        return self._tool_sets[key]

    def _measure_tool(self, end: End, kind: str, stack: Stack) -> tuple[PartSet, ...]:
        role, what = kind.split(" ")
        flats = stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm
        height = stack.head_mm if role == "head" else stack.nut_mm + max(0.0, stack.protrusion_mm)
        height += stack.washer_mm
        if what == "straight":
            radius, length = straight_tool(role, stack)
            return (self._rod_set(end, radius, height + length),)
        if what == "place":
            # The screw has to be put in along its axis; a nut only has to be held with fingertips.
            length = stack.length_mm if role == "head" else GRIP_ROOM_MM
            return (self._rod_set(end, max(stack.head_outer_mm, flats * 1.155) / 2.0, height + length),)
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

    def _near(
        self, end: End, frame: NDArray[np.float64], beyond_mm: float, radius_mm: float
    ) -> Iterator[tuple[int, Points]]:
        """Surface points within a ball around a point beyond the seat, part by part, in the frame of the seat."""
        centre = np.asarray(end.point(beyond_mm))
        for number, part in enumerate(self.scene.parts):
            if np.any(centre - radius_mm > part.high_mm) or np.any(centre + radius_mm < part.low_mm):
                continue
            tree = self._points[number]
            near = tree.data[tree.query_ball_point(centre, radius_mm)]
            if len(near):
                yield number, (near - np.asarray(end.seat_mm)) @ frame.T


def straight_tool(role: str, stack: Stack) -> tuple[float, float]:
    """Radius of the tool along the axis, and its length beyond head or nut, mm."""
    if role == "head" and stack.key_mm:
        key = tables.tool("hexagon key", stack.key_mm)
        return max(key.outer_mm, stack.head_outer_mm) / 2.0, max(key.length_mm, stack.length_mm)
    flats = stack.across_flats_mm if role == "head" else stack.nut_across_flats_mm
    socket = tables.tool("socket", flats)
    length = socket.length_mm + RATCHET_MM
    return socket.outer_mm / 2.0, max(length, stack.length_mm if role == "head" else 0.0)


def _words(reach: Reach, is_tool_missing: bool, crew: Crew) -> str:
    if not reach.is_reached:
        return (
            f"out of reach ({reach.way_mm:.0f} mm, reach is {crew.reach_mm:.0f} mm)"
            if math.isfinite(reach.way_mm)
            else "out of reach: no opening is left that an arm passes"
        )
    if is_tool_missing:
        return "no room for the tool"
    if reach.way_mm == 0.0:
        return "from outside"
    return f"{reach.way_mm:.0f} mm inside, through what is still open"


def arm_width_mm(crew: Crew) -> float:
    """Width of the opening that hand and forearm need; the shop's own value beats the table's."""
    own = max(crew.hand_opening_mm, crew.forearm_opening_mm)
    if own > 0.0:
        return own
    hand, arm = tables.opening("hand", crew.glove.value), tables.opening("forearm", crew.glove.value)
    return max(min(hand.width_mm, hand.height_mm), min(arm.width_mm, arm.height_mm))


def pair_width_mm(crew: Crew) -> float:
    """Width of a round opening that takes two arms: as large as the table's oblong one."""
    both = tables.opening("both hands", "bare or light")
    return max(math.sqrt(both.width_mm * both.height_mm), 1.5 * arm_width_mm(crew))


def ends_of(scene: Scene, bolt: Bolt) -> tuple[End, End]:
    """Both ends of a bolt; seats are measured on the meshes, and half the grip where that fails."""
    return _end(scene, bolt, 0), _end(scene, bolt, 1)


def _end(scene: Scene, bolt: Bolt, which: int) -> End:
    part: PartId = bolt.through[0 if which == 0 else -1]
    number = next(n for n, known in enumerate(scene.parts) if known.id == part)
    sign = -1.0 if which == 0 else 1.0
    x, y, z = (sign * value for value in bolt.axis)
    outward = (x, y, z)
    depth = _seat_depth(scene, bolt, number, outward)
    at = bolt.at_mm
    seat = (at[0] + x * depth, at[1] + y * depth, at[2] + z * depth)
    return End(part=number, seat_mm=seat, outward=outward, kind=bolt.seats[which])


def _seat_depth(scene: Scene, bolt: Bolt, number: int, outward: Vector) -> float:
    body = scene.solids[number]
    fallback = bolt.grip_mm / 2.0
    if body is None:
        return fallback
    frame = frame_of(outward)
    start_mm, radius = 1.5, bolt.hole_mm / 2.0 + 1.5
    depths = []
    for angle in (2.0 * math.pi * k / 8 + 0.2 for k in range(8)):
        start = (
            np.asarray(bolt.at_mm)
            + radius * (math.cos(angle) * frame[0] + math.sin(angle) * frame[1])
            + start_mm * frame[2]
        )
        hits = surface_hits(body, (float(start[0]), float(start[1]), float(start[2])), outward, bolt.grip_mm + 5.0)
        # Of two parts the ray starts inside the outer one and leaves it first; of three it crosses the middle one.
        chosen = hits[:1] if len(bolt.through) == 2 else hits[-1:]
        depths += [start_mm + hit for hit in chosen if hit > 0.2]
    return float(np.median(depths)) if depths else fallback
