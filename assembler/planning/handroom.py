"""How far must a hand go in to reach a point past what stands? Grids made once for each part, combined for each set.

A tall figure is looked at in overlapping zones (`handzones`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np
from scipy.ndimage import label
from scipy.spatial import cKDTree

from assembler.cache import Answers
from assembler.figure.parts import Vector
from assembler.geometry.flatpush import flat_pushes
from assembler.geometry.freespace import (
    Cell,
    Flags,
    Grid,
    check_box,
    coarser,
    combined,
    combined_within,
    grid_around,
    outside_of,
    part_of_grid,
    refined,
)
from assembler.geometry.wayin import Ways, way_in
from assembler.planning.handfields import Field, FieldKey, Way, digest_of
from assembler.planning.handgrids import PartGrids
from assembler.planning.handsizes import (
    BODY_MM,
    FINGERS_MM,
    WRIST_MM,
    arm_width_mm,
    flat_hand_mm,
    forearm_mm,
    pair_width_mm,
    upper_arm_width_mm,
    upper_pair_width_mm,
)
from assembler.planning.handzones import COARSE, Zone, Zones
from assembler.planning.scene import Floor, PartSet, Scene, members

NEAR_MM = 70.0
"""A palm this near to where the body can be is outside: the grid keeps the body this far from walls."""

EVERYWHERE = (-1, -1, -1)
"""Name of the zone that is the whole grid."""

FAR_MM = 20_000.0
"""Longest way that is looked for to tell a long arm from no opening."""

KEPT = 10
"""Fields kept in memory."""

KEPT_TOUCHES = 1000
"""Windows of fingers kept in memory: some kilobytes each."""


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
    answers
        The ways that earlier runs found among the same cells.
    """

    def __init__(self, scene: Scene, points: Sequence[cKDTree], cell_mm: float, answers: Answers) -> None:
        self.scene = scene
        self._answers = answers
        crew = scene.settings.crew
        self.arm_mm, self.pair_mm = arm_width_mm(crew), pair_width_mm(crew)
        self.upper_arm_mm, self.upper_pair_mm = upper_arm_width_mm(crew), upper_pair_width_mm(crew)
        self.forearm_mm = forearm_mm()
        self.flat_mm = flat_hand_mm(crew)
        low, high = scene.box_mm(scene.everything)
        for part in scene.parts:
            check_box(np.asarray(part.low_mm), np.asarray(part.high_mm), cell_mm, f"{part.id} ({part.file})")
        # The body needs wide room around the figure, hands only a little.
        wide = grid_around(
            np.asarray(low), np.asarray(high), cell_mm, 2.0 * BODY_MM + 2 * COARSE * cell_mm, multiple=COARSE
        )
        self.rough = coarser(wide, COARSE)
        self._trim = int((2.0 * BODY_MM - 60.0) / (COARSE * cell_mm))
        edge = self._trim * COARSE
        ends = tuple(n - edge for n in wide.shape)
        self.grid = part_of_grid(wide, (edge, edge, edge), (ends[0], ends[1], ends[2]))
        self._grids = [PartGrids(cloud, self.grid, self.rough) for cloud in points]
        self._taken = [own.taken for own in self._grids]
        self._body = [own.body for own in self._grids]
        self.zones = Zones(scene, self.grid, is_roomy=self._is_roomy())
        self._fields: dict[FieldKey, Field] = {}
        self._rooms: dict[tuple[PartSet, Cell, Floor | None], Flags] = {}
        self._touches: dict[tuple[Vector, Cell, Cell, tuple[int, ...]], Flags] = {}

    def frame(self) -> list[object]:
        """All that ways depend on beside the parts near a point and the floor: the grid and its zones, the crew."""
        grid, crew = self.grid, asdict(self.scene.settings.crew)
        return [list(map(float, grid.origin_mm)), list(grid.shape), grid.cell_mm, self.zones.tile, crew]

    @property
    def lost_mm(self) -> float:
        """What the grid may take off the width of a round opening: half a diagonal of a cell on each side."""
        return math.sqrt(2.0) * self.grid.cell_mm

    def near(self, point: Vector) -> PartSet:
        """Parts that can matter for a hand that reaches a point."""
        return self.zones.of(point).near

    def way(self, point: Vector, standing: PartSet, floor: Floor | None, *, is_pair: bool) -> Way:
        """Way of a palm to where its fingers touch a point.

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
        zone = self.zones.around(point, standing)
        fingers_mm = FINGERS_MM + (self.pair_mm - self.arm_mm) / 2.0 * is_pair
        low, high = self._window(zone, point, fingers_mm)
        if any(a >= b for a, b in zip(low, high, strict=True)):
            return Way(0.0, True)
        touched = self._touched(zone, point, standing, fingers_mm)
        window = zone.within(low, high)

        def found_mm(field: Field) -> float:
            def nearest_mm() -> float:
                ways = self._ways(field).mm(*window)[touched]
                return float(ways.min()) if len(ways) else math.inf

            return self._answered(nearest_mm, "way", field.digest, window, digest_of(touched)) + FINGERS_MM

        found = self._judged(found_mm, self._field(zone, standing & zone.near, floor, is_pair))
        return Way(0.0, True) if found.mm <= NEAR_MM + FINGERS_MM else found

    def far_way_mm(self, point: Vector, standing: PartSet, floor: Floor | None) -> float:
        """The same for an arm of any length; inf where no opening is left at all, or no room beside the point."""
        zone = replace(self.zones.of(point), name=EVERYWHERE, low=(0, 0, 0), high=self.grid.shape)
        ways = self._ways(self._field(zone, standing, floor, False))
        low, high = self._window(zone, point, FINGERS_MM)
        touched = self._within_fingers(point, low, high, tuple(members(standing)), FINGERS_MM)
        found = ways.mm(low, high)[touched]
        return float(found.min()) + FINGERS_MM if len(found) else math.inf

    def flat_way(self, point: Vector, standing: PartSet, floor: Floor | None) -> Way:
        """The same for a flat hand that is pushed in from where the forearm may be, through an opening too low for it.

        Parameters
        ----------
        point, standing, floor
            As for `way`.
        """
        zone = self.zones.around(point, standing)
        push_mm = WRIST_MM + self.arm_mm / 2.0
        low, high = self._window(zone, point, FINGERS_MM)
        wide_low, wide_high = self._window(zone, point, FINGERS_MM + push_mm)
        if any(a >= b for a, b in zip(low, high, strict=True)):
            return Way(0.0, True)
        window = zone.within(wide_low, wide_high)
        taken = combined_within((self._taken[number] for number in members(standing & zone.near)), wide_low, wide_high)
        if floor is not None:
            taken |= _below(floor, part_of_grid(self.grid, wide_low, wide_high), 0.0)
        asked = np.zeros(taken.shape, dtype=bool)
        core = tuple(slice(a - w, b - w) for a, b, w in zip(low, high, wide_low, strict=True))
        asked[core] = self._touched(zone, point, standing, FINGERS_MM)

        sizes = (*self.flat_mm, push_mm)

        def found_mm(field: Field) -> float:
            def nearest_mm() -> float:
                ways = self._ways(field).mm(*window)
                if not np.isfinite(ways).any():
                    return math.inf
                width_mm, thick_mm = self.flat_mm
                cell_mm = self.grid.cell_mm
                palms = flat_pushes(
                    taken, ways, asked, width_mm=width_mm, thick_mm=thick_mm, push_mm=push_mm, cell_mm=cell_mm
                )
                return float(palms.min())

            asked_of = (field.digest, window, digest_of(taken), digest_of(asked), sizes)
            return self._answered(nearest_mm, "flat", *asked_of) + FINGERS_MM

        return self._judged(found_mm, self._field(zone, standing & zone.near, floor, False))

    def _judged(self, found_mm: Callable[[Field], float], field: Field) -> Way:
        """A way through a field, and whether its first part takes the upper arm that has to enter there.

        Of a way no longer than the reach all but the last forearm lies nearer to the outside than reach less forearm:
        so far the upper arm is followed, and from where it comes to the rest may be no longer than a forearm.
        """
        mm = found_mm(field)
        is_deep = self.forearm_mm < mm <= self.scene.settings.crew.reach_mm
        return Way(mm, not is_deep or found_mm(self._deep(field)) <= self.forearm_mm)

    def _answered(self, found_mm: Callable[[], float], *question: object) -> float:
        """A length that an earlier run found among the same cells, or found now; inf where there is no way."""
        key = self._answers.key(*question, self.grid.cell_mm)
        if not self._answers.has(key):
            length = found_mm()
            self._answers.put(key, length if math.isfinite(length) else None)
        known = self._answers.get(key)
        return math.inf if known is None else float(known)

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
        walls = tuple(n for n in members(standing & zone.near) if self._taken[n].reaches(low, high))
        key = (point, low, high, walls)
        if key not in self._touches:
            _make_room(self._touches, KEPT_TOUCHES)
            self._touches[key] = self._within_fingers(point, low, high, walls, fingers_mm)
        return self._touches[key]

    def _within_fingers(self, point: Vector, low: Cell, high: Cell, walls: Sequence[int], fingers_mm: float) -> Flags:
        taken = combined_within((self._taken[number] for number in walls), low, high)
        regions, _ = label(~taken)
        centre = self.grid.cell_of(np.asarray([point]))[0] - low
        beside = regions[tuple(slice(max(0, c - 1), c + 2) for c in centre)]
        axes = [(np.arange(n) - c) ** 2 for n, c in zip(regions.shape, centre, strict=True)]
        away = np.sqrt(axes[0][:, None, None] + axes[1][None, :, None] + axes[2][None, None, :]) * self.grid.cell_mm
        return np.asarray(np.isin(regions, np.unique(beside[beside > 0])) & (away <= fingers_mm))

    def _field(self, zone: Zone, standing: PartSet, floor: Floor | None, is_pair: bool) -> Field:
        """Where hands may be in a zone past what stands."""
        key = FieldKey(standing, zone.name, floor, is_pair)
        if key not in self._fields:
            free = self._free(key, zone, self.pair_mm if is_pair else self.arm_mm)
            is_all = zone.name == EVERYWHERE
            room = self._room_within(zone, standing, floor) if is_all else self._body_room(zone, standing, floor)
            limit_mm = FAR_MM if is_all else self.scene.settings.crew.reach_mm + FINGERS_MM
            _make_room(self._fields)
            self._fields[key] = Field(key=key, zone=zone, free=free, start=room & free, limit_mm=limit_mm)
        return self._fields[key]

    def _deep(self, field: Field) -> Field:
        """The cells of a field, for ways from all that the upper arm comes to when hand and forearm are ahead of it."""
        if field.deep is None:
            free = self._free(field.key, field.zone, self.upper_pair_mm if field.key.is_pair else self.upper_arm_mm)
            limit_mm = self.scene.settings.crew.reach_mm - self.forearm_mm
            upper = replace(field, free=free, start=field.start & free, limit_mm=limit_mm, ways=None, _digest="")
            field.deep = replace(field, limit_mm=self.forearm_mm, upper=upper, ways=None, _digest="")
        return field.deep

    def _free(self, key: FieldKey, zone: Zone, width_mm: float) -> Flags:
        """Cells that something so wide may take."""
        blocks = (self._grids[number].beside(width_mm) for number in members(key.standing))
        free = ~combined_within(blocks, zone.low, zone.high)
        if key.floor is not None:
            free &= ~_below(key.floor, part_of_grid(self.grid, zone.low, zone.high), width_mm / 2.0)
        return free

    def _ways(self, field: Field) -> Ways:
        """Lengths of the ways of a field, found when somebody has to know them."""
        if field.ways is None:
            grid = part_of_grid(self.grid, field.zone.low, field.zone.high)
            start, known = field.start, None
            if field.upper is not None:
                start = start | np.isfinite(self._ways(field.upper).mm())
            elif self._fields.get(field.key) is field:
                known = self._past_more(field)
            field.ways = way_in(field.free, start, field.limit_mm, grid, known)
        return field.ways

    def _past_more(self, field: Field) -> Ways | None:
        """Ways that are remembered past the fewest parts more, cut to the zone."""
        key, zone = field.key, field.zone
        known = [
            other
            for other in self._fields.values()
            if other.ways is not None and other.key.standing & key.standing == key.standing and other.key[1:] == key[1:]
        ]
        if not known or not key.standing or zone.name == EVERYWHERE:
            return None
        nearest = min(known, key=lambda other: (other.key.standing.bit_count(), other.key.standing))
        if nearest.ways is None:
            return None
        return nearest.ways.part(*replace(zone, low=nearest.zone.low).within(zone.low, zone.high))

    def _body_room(self, zone: Zone, standing: PartSet, floor: Floor | None) -> Flags:
        key = (standing, zone.name, floor)
        if key not in self._rooms:
            _make_room(self._rooms)
            self._rooms[key] = self._room_within(zone, standing, floor)
        return self._rooms[key]

    def _room_within(self, zone: Zone, standing: PartSet, floor: Floor | None) -> Flags:
        low = tuple(a // COARSE for a in zone.low)
        high = tuple(b // COARSE + 2 * self._trim for b in zone.high)
        low, high = (low[0], low[1], low[2]), (high[0], high[1], high[2])
        grid = part_of_grid(self.rough, low, high)
        blocked = combined_within((self._body[number] for number in members(standing)), low, high)
        if floor is not None:
            blocked |= _below(floor, grid, 0.0)
        inner = slice(self._trim, -self._trim)
        return refined(outside_of(blocked, BODY_MM, grid)[inner, inner, inner], COARSE)

    def _is_roomy(self) -> bool:
        """Whether the body has room somewhere that is shut in when the figure is finished."""
        free = ~combined(self._body, self.rough)
        regions, count = label(free)
        rim = np.unique(np.concatenate([regions[0].ravel(), regions[-1].ravel()]))
        return bool(count > len(rim[rim > 0]))


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


def _make_room(memory: dict[Any, Any], kept: int = KEPT) -> None:
    """Forget the oldest entry once there are too many: fields are large."""
    if len(memory) >= kept:
        memory.pop(next(iter(memory)))
