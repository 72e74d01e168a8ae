"""Which holes on both sides of a joint are bolts? Patches in, bolt axes and findings out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import PartId
from assembler.figure.joints import Seat
from assembler.geometry.facing import HolePair, LoneHole, Patch, match_holes
from assembler.geometry.flats import Flat
from assembler.geometry.holes import Bore, BoreProbe, Kind
from assembler.geometry.outlines import Opening, Shape

LEAST_HOLE_MM, LARGEST_HOLE_MM = 2.0, 40.0
"""Clearance holes from M2 to M36 (ISO 273, medium series 2.4 to 39); wider openings are for cables or hands."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Axis:
    """A bolt axis through one pair of parts.

    Parameters
    ----------
    parts
        The pair; `axis` points from the first into the second.
    at_mm, axis : (3,) float64
        Point half way between the two faces, and unit vector.
    hole_mm
        Smaller of the two diameters.
    gap_mm
        Between the faces.
    bores
        The hole in each part.
    """

    parts: tuple[PartId, PartId]
    at_mm: NDArray[np.float64]
    axis: NDArray[np.float64]
    hole_mm: float
    gap_mm: float
    bores: tuple[Bore, Bore]

    def ends_mm(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Seat in the first and in the second part, on the axis; the mouth where a hole is blind."""
        depth = [0.0 if bore.kind is Kind.BLIND else bore.depth_mm for bore in self.bores]
        half = self.gap_mm / 2
        return self.at_mm - self.axis * (half + depth[0]), self.at_mm + self.axis * (half + depth[1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pin:
    """An alignment pin with its socket, or two blind holes for a loose dowel."""

    parts: tuple[PartId, PartId]
    at_mm: NDArray[np.float64]
    width_mm: float
    is_loose: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unmatched:
    """A hole in a mating face without a partner opposite."""

    part: PartId
    other: PartId
    at_mm: NDArray[np.float64]
    width_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bolting:
    """What the holes of one pair of parts are."""

    axes: tuple[Axis, ...]
    pins: tuple[Pin, ...]
    unmatched: tuple[Unmatched, ...]


def bolts_between(
    parts: tuple[PartId, PartId], patches: Sequence[Patch], probes: Mapping[PartId, BoreProbe]
) -> Bolting:
    """Bolts, pins and lone holes of one pair of parts."""
    axes: list[Axis] = []
    pins: list[Pin] = []
    unmatched: list[Unmatched] = []
    for patch in patches:
        pairs, lone = match_holes(patch)
        for pair in pairs:
            if LEAST_HOLE_MM <= min(pair.one.width_mm, pair.two.width_mm) <= LARGEST_HOLE_MM:
                _sort_pair(parts, pair, probes, axes, pins)
        for hole in lone:
            if LEAST_HOLE_MM <= hole.opening.width_mm <= LARGEST_HOLE_MM:
                unmatched.extend(_unmatched(parts, hole, probes))
    return Bolting(axes=tuple(axes), pins=tuple(pins), unmatched=tuple(unmatched))


def _sort_pair(
    parts: tuple[PartId, PartId],
    pair: HolePair,
    probes: Mapping[PartId, BoreProbe],
    axes: list[Axis],
    pins: list[Pin],
) -> None:
    normal = pair.patch.one.flat.normal
    at = _common_point(pair)
    bores = (
        probes[parts[0]].follow(pair.one, -normal),
        probes[parts[1]].follow(pair.two, normal),
    )
    kinds = {bore.kind for bore in bores}
    if Kind.THROUGH not in kinds or Kind.SOLID in kinds:
        is_loose = Kind.SOLID not in kinds
        pins.append(Pin(parts=parts, at_mm=at, width_mm=min(pair.one.width_mm, pair.two.width_mm), is_loose=is_loose))
        return
    through = [
        opening.width_mm for opening, bore in zip((pair.one, pair.two), bores, strict=True) if bore.kind is Kind.THROUGH
    ]
    gap = float((_on(pair.patch.two.flat, at) - _on(pair.patch.one.flat, at)) @ normal)
    axes.append(Axis(parts=parts, at_mm=at, axis=normal, hole_mm=min(through), gap_mm=gap, bores=bores))


def _on(flat: Flat, point: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(point - flat.normal * ((point - flat.origin) @ flat.normal))


def _common_point(pair: HolePair) -> NDArray[np.float64]:
    """Where the axis meets the bond plane; a slot gives way to the round hole opposite."""
    is_slot = [opening.shape is Shape.SLOT for opening in (pair.one, pair.two)]
    if is_slot[0] and not is_slot[1]:
        point = pair.two.centre_mm
    elif is_slot[1] and not is_slot[0]:
        point = pair.one.centre_mm
    else:
        point = (pair.one.centre_mm + pair.two.centre_mm) / 2
    one, two = _on(pair.patch.one.flat, point), _on(pair.patch.two.flat, point)
    return np.asarray((one + two) / 2)


def _unmatched(parts: tuple[PartId, PartId], hole: LoneHole, probes: Mapping[PartId, BoreProbe]) -> list[Unmatched]:
    part, other = parts if hole.is_first else parts[::-1]
    flat = hole.patch.one.flat if hole.is_first else hole.patch.two.flat
    opening: Opening = hole.opening
    if probes[part].follow(opening, -flat.normal).kind is Kind.SOLID:
        return []
    return [Unmatched(part=part, other=other, at_mm=opening.centre_mm, width_mm=opening.width_mm)]


def seat_of(bore: Bore) -> Seat:
    """What carries the bolt's end in a hole."""
    if bore.kind is Kind.BLIND:
        return Seat.INSERT
    return Seat.CAPTIVE if bore.is_pocket else Seat.OPEN
