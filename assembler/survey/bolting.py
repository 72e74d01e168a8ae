"""Which holes on both sides of a joint are bolts? Patches in, bolt axes and findings out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import PartId
from assembler.figure.joints import Seat
from assembler.geometry.facing import HolePair, LoneHole, Patch, match_holes, pair_of, unread_pairs
from assembler.geometry.holepairs import hole_opposite
from assembler.geometry.holes import Bore, BoreProbe, Kind
from assembler.geometry.openings import Opening

LEAST_HOLE_MM, LARGEST_HOLE_MM = 2.0, 40.0
"""Clearance holes from M2 to M36 (ISO 273, medium series 2.4 to 39); wider openings are for cables or hands."""

Holes = tuple[Sequence[HolePair], Sequence[LoneHole]]


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
    unread: tuple[tuple[NDArray[np.float64], float], ...] = ()
    """Place and width, mm, of openings of both sides whose form could not be read."""


def bolts_between(
    parts: tuple[PartId, PartId],
    patches: Sequence[Patch],
    probes: Mapping[PartId, BoreProbe],
    others: Holes = ((), ()),
) -> Bolting:
    """Bolts, pins and lone holes of one pair of parts.

    Parameters
    ----------
    parts, patches, probes
        The pair, its flat mating patches, and probes for both parts.
    others
        Pairs and lone holes in mating faces that are not flat.
    """
    axes: list[Axis] = []
    pins: list[Pin] = []
    found = [*(match_holes(patch) for patch in patches), others]
    pairs = [pair for some, _ in found for pair in some]
    lone = [hole for _, some in found for hole in some if _is_bolt_size(hole.opening.width_mm)]
    alone = []
    for hole in lone:
        partner = hole_opposite(probes[parts[1 if hole.is_first else 0]].mesh, hole.opening)
        if partner is None and hole.is_covered:
            alone.append(hole)
        elif partner is None:
            continue
        else:
            pairs.append(pair_of(hole.opening, partner) if hole.is_first else pair_of(partner, hole.opening))
    kept: list[HolePair] = []
    for pair in pairs:
        if _is_bolt_size(min(pair.one.width_mm, pair.two.width_mm)) and not any(_is_same(pair, one) for one in kept):
            kept.append(pair)
            _sort_pair(parts, pair, probes, axes, pins)
    unmatched = [single for hole in alone for single in _unmatched(parts, hole, probes)]
    unread = [
        (at, width)
        for patch in patches
        for at, width in unread_pairs(patch)
        if _is_bolt_size(width) and all(np.linalg.norm(at - pair.at_mm) > width / 2 for pair in kept)
    ]
    return Bolting(axes=tuple(axes), pins=tuple(pins), unmatched=tuple(unmatched), unread=tuple(unread))


def _is_bolt_size(width_mm: float) -> bool:
    return LEAST_HOLE_MM <= width_mm <= LARGEST_HOLE_MM


def _is_same(one: HolePair, two: HolePair) -> bool:
    """Whether two pairs are one axis met twice: in two pieces of a torn face, or on a flat and a curved one."""
    arm = two.at_mm - one.at_mm
    along = float(arm @ one.axis)
    across = float(np.linalg.norm(arm - along * one.axis))
    return abs(along) < one.one.width_mm / 2 and across < one.one.width_mm / 4 and abs(float(one.axis @ two.axis)) > 0.9


def _sort_pair(
    parts: tuple[PartId, PartId],
    pair: HolePair,
    probes: Mapping[PartId, BoreProbe],
    axes: list[Axis],
    pins: list[Pin],
) -> None:
    bores = (
        probes[parts[0]].follow(pair.one, -pair.axis),
        probes[parts[1]].follow(pair.two, pair.axis),
    )
    kinds = {bore.kind for bore in bores}
    if Kind.THROUGH not in kinds or Kind.SOLID in kinds:
        width = min(pair.one.width_mm, pair.two.width_mm)
        pins.append(Pin(parts=parts, at_mm=pair.at_mm, width_mm=width, is_loose=Kind.SOLID not in kinds))
        return
    through = [
        opening.width_mm for opening, bore in zip((pair.one, pair.two), bores, strict=True) if bore.kind is Kind.THROUGH
    ]
    axes.append(
        Axis(parts=parts, at_mm=pair.at_mm, axis=pair.axis, hole_mm=min(through), gap_mm=pair.gap_mm, bores=bores)
    )


def _unmatched(parts: tuple[PartId, PartId], hole: LoneHole, probes: Mapping[PartId, BoreProbe]) -> list[Unmatched]:
    part, other = parts if hole.is_first else parts[::-1]
    opening: Opening = hole.opening
    if probes[part].follow(opening, -opening.axis).kind is Kind.SOLID:
        return []
    return [Unmatched(part=part, other=other, at_mm=opening.centre_mm, width_mm=opening.width_mm)]


def seat_of(bore: Bore) -> Seat:
    """What carries the bolt's end in a hole."""
    if bore.kind is Kind.BLIND:
        return Seat.INSERT
    return Seat.CAPTIVE if bore.is_pocket else Seat.OPEN
