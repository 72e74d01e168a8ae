"""How far must a hand go in to reach a point past what stands? Grids made once for each part, combined for each set.

A tall figure is looked at in overlapping zones: what stands farther away than an arm is long does not matter. A figure
whose hollow a whole person fits into is looked at as one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label

from assembler.catalogue import tables
from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.figure.settings import Crew
from assembler.geometry.flatpush import flat_pushes
from assembler.geometry.freespace import (
    Cell,
    Flags,
    Grid,
    coarser,
    combined,
    combined_within,
    grid_around,
    grown,
    outside_of,
    part_of_grid,
    patch_of,
    refined,
    way_in,
)
from assembler.planning.scene import Floor, PartSet, Scene, members

COARSE = 4
BODY_MM = 225.0
"""Radius of the ball that stands for head and shoulders: 450 mm across (common practice, no source)."""

FINGERS_MM = 110.0
"""From the middle of the palm to what the fingertips hold (common practice, no source)."""

WRIST_MM = 80.0
"""From the wrist to the middle of the palm (common practice, no source)."""

NEAR_MM = 70.0
"""A palm this near to where the body can be is outside: the grid keeps the body this far from walls."""

TILE_MM = 800.0
KEPT = 10
"""Fields kept in memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A part of the figure's box, and what matters in it.

    Parameters
    ----------
    low, high
        Cells of the fine grid.
    near
        Parts that reach into it or near it.
    """

    low: Cell
    high: Cell
    near: PartSet


class HandRoom:
    """Ways of hands past what stands, with a memory.

    Parameters
    ----------
    scene
        The figure.
    points
        Points on the surface of each part, closer together than a cell.
    cell_mm
        Grid for hands; the body is looked at on one four times coarser.
    """

    def __init__(self, scene: Scene, points: Sequence[Points], cell_mm: float) -> None:
        self.scene = scene
        crew = scene.settings.crew
        self.arm_mm, self.pair_mm = arm_width_mm(crew), pair_width_mm(crew)
        self.flat_mm = flat_hand_mm(crew)
        low, high = scene.box_mm(scene.everything)
        # The body needs wide room around the figure, hands only a little.
        wide = grid_around(
            np.asarray(low), np.asarray(high), cell_mm, 2.0 * BODY_MM + 2 * COARSE * cell_mm, multiple=COARSE
        )
        self.rough = coarser(wide, COARSE)
        self._trim = int((2.0 * BODY_MM - 60.0) / (COARSE * cell_mm))
        edge = self._trim * COARSE
        ends = tuple(n - edge for n in wide.shape)
        self.grid = part_of_grid(wide, (edge, edge, edge), (ends[0], ends[1], ends[2]))
        self._taken = [patch_of(cloud, self.grid) for cloud in points]
        self._arm = [grown(patch, self.arm_mm / 2.0, self.grid) for patch in self._taken]
        self._pair = [grown(patch, self.pair_mm / 2.0, self.grid) for patch in self._taken]
        self._body = [grown(patch_of(cloud, self.rough), BODY_MM, self.rough) for cloud in points]
        self._zones = self._tiles()
        self._fields: dict[tuple[PartSet, Cell, Cell, Floor | None, bool], NDArray[np.float32]] = {}
        self._rooms: dict[tuple[PartSet, Cell, Cell, Floor | None], Flags] = {}

    def frame(self) -> list[object]:
        """All that ways depend on beside the parts near a point and the floor: the grid and its zones, the crew."""
        grid, crew = self.grid, asdict(self.scene.settings.crew)
        return [list(map(float, grid.origin_mm)), list(grid.shape), grid.cell_mm, self._tile, crew]

    def near(self, point: Vector) -> PartSet:
        """Parts that can matter for a hand that reaches a point."""
        return self._zone_of(point).near

    def way_mm(self, point: Vector, standing: PartSet, floor: Floor | None, *, is_pair: bool) -> float:
        """Shortest way of a palm to where its fingers touch a point, fingers included; 0 where it stays outside.

        Parameters
        ----------
        point
            What the fingers touch, mm.
        standing
            Parts that stand.
        floor
            Nothing can come from below it; None: from all sides.
        is_pair
            Ask for openings that take two arms.
        """
        zone = self._zone_of(point)
        fingers_mm = FINGERS_MM + (self.pair_mm - self.arm_mm) / 2.0 * is_pair
        low, high = self._window(zone, point, fingers_mm)
        if any(a >= b for a, b in zip(low, high, strict=True)):
            return 0.0
        touched = self._touched(zone, point, standing, fingers_mm)
        ways = _cut(self._field(zone, standing & zone.near, floor, is_pair), zone.low, low, high)[touched]
        nearest = float(ways.min()) if len(ways) else math.inf
        return 0.0 if nearest <= NEAR_MM else nearest + fingers_mm

    def flat_way_mm(self, point: Vector, standing: PartSet, floor: Floor | None) -> float:
        """The same for a flat hand that is pushed in from where the forearm may be, through an opening too low for it.

        Parameters
        ----------
        point, standing, floor
            As for `way_mm`.
        """
        zone = self._zone_of(point)
        push_mm = WRIST_MM + self.arm_mm / 2.0
        low, high = self._window(zone, point, FINGERS_MM)
        wide_low, wide_high = self._window(zone, point, FINGERS_MM + push_mm)
        if any(a >= b for a, b in zip(low, high, strict=True)):
            return 0.0
        ways = _cut(self._field(zone, standing & zone.near, floor, False), zone.low, wide_low, wide_high)
        if not np.isfinite(ways).any():
            return math.inf
        taken = combined_within((self._taken[number] for number in members(standing & zone.near)), wide_low, wide_high)
        if floor is not None:
            taken |= _below(floor, part_of_grid(self.grid, wide_low, wide_high), 0.0)
        core = tuple(tuple(e - w for e, w in zip(end, wide_low, strict=True)) for end in (low, high))
        palms = flat_pushes(
            taken,
            ways,
            ((core[0][0], core[0][1], core[0][2]), (core[1][0], core[1][1], core[1][2])),
            width_mm=self.flat_mm[0],
            thick_mm=self.flat_mm[1],
            push_mm=push_mm,
            cell_mm=self.grid.cell_mm,
        )
        found = palms[self._touched(zone, point, standing, FINGERS_MM)]
        return float(found.min()) + FINGERS_MM if len(found) else math.inf

    def _window(self, zone: Zone, point: Vector, around_mm: float) -> tuple[Cell, Cell]:
        """Cells of a zone around a point: first, and one beyond the last."""
        cell = self.grid.cell_of(np.asarray([point]))[0]
        pad = math.ceil(around_mm / self.grid.cell_mm)
        low = tuple(int(max(c - pad, a)) for c, a in zip(cell, zone.low, strict=True))
        high = tuple(int(min(c + pad + 1, b)) for c, b in zip(cell, zone.high, strict=True))
        return (low[0], low[1], low[2]), (high[0], high[1], high[2])

    def _touched(self, zone: Zone, point: Vector, standing: PartSet, fingers_mm: float) -> Flags:
        """Cells of the window from which fingers touch a point: near enough, and no wall between."""
        low, high = self._window(zone, point, fingers_mm)
        taken = combined_within((self._taken[number] for number in members(standing & zone.near)), low, high)
        regions, _ = label(~taken)
        centre = self.grid.cell_of(np.asarray([point]))[0] - low
        beside = regions[tuple(slice(max(0, c - 1), c + 2) for c in centre)]
        axes = [(np.arange(n) - c) ** 2 for n, c in zip(regions.shape, centre, strict=True)]
        away = np.sqrt(axes[0][:, None, None] + axes[1][None, :, None] + axes[2][None, None, :]) * self.grid.cell_mm
        return np.asarray(np.isin(regions, np.unique(beside[beside > 0])) & (away <= fingers_mm))

    def _field(self, zone: Zone, standing: PartSet, floor: Floor | None, is_pair: bool) -> NDArray[np.float32]:
        key = (standing, zone.low, zone.high, floor, is_pair)
        if key not in self._fields:
            _make_room(self._fields)
            patches, width_mm = (self._pair, self.pair_mm) if is_pair else (self._arm, self.arm_mm)
            free = ~combined_within((patches[number] for number in members(standing)), zone.low, zone.high)
            grid = part_of_grid(self.grid, zone.low, zone.high)
            if floor is not None:
                free &= ~_below(floor, grid, width_mm / 2.0)
            room = self._body_room(zone, standing, floor)
            self._fields[key] = way_in(free, room & free, self.scene.settings.crew.reach_mm + FINGERS_MM, grid)
        return self._fields[key]

    def _body_room(self, zone: Zone, standing: PartSet, floor: Floor | None) -> Flags:
        key = (standing, zone.low, zone.high, floor)
        if key not in self._rooms:
            _make_room(self._rooms)
            low = tuple(a // COARSE for a in zone.low)
            high = tuple(b // COARSE + 2 * self._trim for b in zone.high)
            low, high = (low[0], low[1], low[2]), (high[0], high[1], high[2])
            grid = part_of_grid(self.rough, low, high)
            blocked = combined_within((self._body[number] for number in members(standing)), low, high)
            if floor is not None:
                blocked |= _below(floor, grid, 0.0)
            inner = slice(self._trim, -self._trim)
            self._rooms[key] = refined(outside_of(blocked, BODY_MM, grid)[inner, inner, inner], COARSE)
        return self._rooms[key]

    def _tiles(self) -> dict[Cell, Zone]:
        """Zones by tile; one for a figure that is small, or roomy inside."""
        cell = self.grid.cell_mm
        margin = self.scene.settings.crew.reach_mm + 2.0 * FINGERS_MM
        tile = int(math.ceil(TILE_MM / cell / COARSE)) * COARSE
        pad = int(math.ceil(margin / cell / COARSE)) * COARSE
        if self._is_roomy():
            tile = max(self.grid.shape)
        self._tile = tile
        counts = [max(1, math.ceil(n / tile)) for n in self.grid.shape]
        found = {}
        for x, y, z in product(*(range(n) for n in counts)):
            low = tuple(max(0, k * tile - pad) for k in (x, y, z))
            high = tuple(min(n, (k + 1) * tile + pad) for k, n in zip((x, y, z), self.grid.shape, strict=True))
            found[x, y, z] = self._zone((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        return found

    def _zone(self, low: Cell, high: Cell) -> Zone:
        grid = part_of_grid(self.grid, low, high)
        start = np.asarray(grid.origin_mm) - 2.0 * BODY_MM
        end = np.asarray(grid.origin_mm) + np.asarray(grid.shape) * grid.cell_mm + 2.0 * BODY_MM
        near = sum(
            1 << number
            for number, part in enumerate(self.scene.parts)
            if np.all(np.asarray(part.high_mm) >= start) and np.all(np.asarray(part.low_mm) <= end)
        )
        return Zone(low=low, high=high, near=near)

    def _zone_of(self, point: Vector) -> Zone:
        cell = self.grid.cell_of(np.asarray([point]))[0] // self._tile
        counts = np.max(list(self._zones), axis=0)
        x, y, z = np.clip(cell, 0, counts).tolist()
        return self._zones[x, y, z]

    def _is_roomy(self) -> bool:
        """Whether the body has room somewhere that is shut in when the figure is finished."""
        free = ~combined(self._body, self.rough)
        regions, count = label(free)
        rim = np.unique(np.concatenate([regions[0].ravel(), regions[-1].ravel()]))
        return bool(count > len(rim[rim > 0]))


def _cut(values: NDArray[np.float32], start: Cell, low: Cell, high: Cell) -> NDArray[np.float32]:
    """A window of a grid that starts at a cell."""
    return values[tuple(slice(a - s, b - s) for s, a, b in zip(start, low, high, strict=True))]


def _below(floor: Floor, grid: Grid, above_mm: float) -> Flags:
    """Cells lower than a height above the floor."""
    heights = sum(
        ((grid.origin_mm[axis] + (np.arange(grid.shape[axis]) + 0.5) * grid.cell_mm) * floor.up[axis]).reshape(
            tuple(-1 if k == axis else 1 for k in range(3))
        )
        for axis in range(3)
        # A row or a slab is enough where the floor lies square to the grid.
        if floor.up[axis]
    )
    return np.asarray(np.broadcast_to(heights < floor.height_mm + above_mm, grid.shape))


def _make_room(memory: dict[Any, Any]) -> None:
    """Forget the oldest entry once there are too many: fields are large."""
    if len(memory) >= KEPT:
        memory.pop(next(iter(memory)))


def arm_width_mm(crew: Crew) -> float:
    """Width of the opening that hand and forearm need; the shop's own value beats the table's."""
    own = max(crew.hand_opening_mm, crew.forearm_opening_mm)
    if own > 0.0:
        return own
    hand, arm = tables.opening("hand", crew.glove.value), tables.opening("forearm", crew.glove.value)
    return max(min(hand.width_mm, hand.height_mm), min(arm.width_mm, arm.height_mm))


def flat_hand_mm(crew: Crew) -> tuple[float, float]:
    """Width and height of the opening that a flat hand needs; the shop's own value beats the table's."""
    if crew.hand_opening_mm > 0.0:
        return crew.hand_opening_mm, crew.hand_opening_mm
    flat = tables.opening("flat hand", crew.glove.value)
    return max(flat.width_mm, flat.height_mm), min(flat.width_mm, flat.height_mm)


def pair_width_mm(crew: Crew) -> float:
    """Width of a round opening that takes two arms: as large as the table's oblong one."""
    both = tables.opening("both hands", "bare or light")
    return max(math.sqrt(both.width_mm * both.height_mm), 1.5 * arm_width_mm(crew))
