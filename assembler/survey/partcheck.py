"""Can these parts be printed and do they form a figure? Parts and meshes in, findings out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import combinations

import numpy as np

from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Settings
from assembler.geometry.fingerprints import is_mirror_twin, is_same_shape, is_same_solid
from assembler.geometry.overlaps import Solid
from assembler.geometry.solids import fits_envelope
from assembler.words import say

_SMALLEST_FIGURE_MM = 150.0
_LARGEST_FIGURE_MM = 30000.0
_LEAST_OVERLAP_MM3 = 50.0
_CRUMB_MM, _CRUMB_SHARE = 15.0, 1e-3
"""Largest size of a crumb, and its volume as a share of the middle part's."""


def check_parts(parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings) -> tuple[Finding, ...]:
    """What is doubtful about the parts before any joint is looked at.

    Parameters
    ----------
    parts, meshes
        All parts and their meshes, mm.
    settings
        Envelopes, unit and base.

    Returns
    -------
    tuple of Finding
        About size and unit, crumbs, print orientation, printer envelope, duplicates and overlaps. Floating parts come
        with the survey of the joints. Overlaps are not looked for where the parts lie in print orientation.
    """
    found = [*_size(parts), *_scale(parts), *_crumbs(parts), *_envelope(parts, meshes, settings), *_duplicates(parts)]
    found += _up_axis(parts, settings)
    orientation = list(_orientation(parts, settings))
    if not orientation:
        found += _overlaps(parts, meshes, settings)
    return sort_findings([*found, *orientation])


def _up_axis(parts: Sequence[Part], settings: Settings) -> Iterable[Finding]:
    """Files whose format has another axis up than figure.toml states."""
    of_format = [part for part in parts if part.file.partition("#")[0].lower().endswith((".glb", ".gltf"))]
    if len(of_format) < len(parts) or abs(settings.up[1]) > 0.5:
        return
    yield Finding(
        level=Level.NOTE,
        code="up-axis",
        about=(),
        message=say("finding.up-axis"),
        remedy=say("remedy.up-axis"),
    )


def _size(parts: Sequence[Part]) -> Iterable[Finding]:
    low = np.min([part.low_mm for part in parts], axis=0)
    high = np.max([part.high_mm for part in parts], axis=0)
    largest = float((high - low).max())
    if _SMALLEST_FIGURE_MM <= largest <= _LARGEST_FIGURE_MM:
        return
    cause, unit = say("partcheck.files_metres_times"), "m"
    if largest > _LARGEST_FIGURE_MM:
        cause, unit = say("partcheck.unit_figure_toml"), "mm"
    elif largest >= 12.0:
        cause, unit = say("partcheck.files_inches_times"), "in"
    yield Finding(
        level=Level.WARN,
        code="implausible-size",
        about=(),
        message=say("finding.implausible-size", largest=largest, cause=cause),
        remedy=say("remedy.implausible-size", unit=unit),
    )


def _scale(parts: Sequence[Part]) -> Iterable[Finding]:
    """One part on another scale than the rest."""
    if len(parts) < 3:
        return
    sizes = [max(part.size_mm) for part in parts]
    middle = float(np.median(sizes))
    for part, size in zip(parts, sizes, strict=True):
        for factor, cause in (
            (1000.0, say("partcheck.millimetres_against_metres")),
            (25.4, say("partcheck.millimetres_against_inches")),
        ):
            ratio = max(size / middle, middle / size)
            if factor / 4 < ratio < factor * 4 and ratio > 20:
                word = "larger" if size > middle else "smaller"
                yield Finding(
                    level=Level.WARN,
                    code="other-scale",
                    about=(part.id,),
                    message=say("finding.other-scale", part=part.id, ratio=ratio, word=word, cause=cause),
                    remedy=say("remedy.other-scale"),
                )
                break


def _crumbs(parts: Sequence[Part]) -> Iterable[Finding]:
    """Bodies too small to be bolted or to hold a joint: left over by a cut or a boolean, most likely."""
    middle = float(np.median([part.volume_mm3 for part in parts]))
    for part in parts:
        size = max(part.size_mm)
        if size <= _CRUMB_MM and part.volume_mm3 <= _CRUMB_SHARE * middle:
            yield Finding(
                level=Level.WARN,
                code="crumb",
                about=(part.id,),
                message=say("finding.crumb", part=part.id, size=size),
                remedy=say("remedy.crumb"),
            )


def _orientation(parts: Sequence[Part], settings: Settings) -> Iterable[Finding]:
    """Parts exported as they lie on the printer instead of where they belong."""
    up = int(np.argmax(np.abs(settings.up)))
    if len(parts) < 3:
        return
    ground = [part for part in parts if abs(part.low_mm[up]) < 0.5]
    centred = [part for part in parts if _is_at_origin(part)]
    apart = next(_meeting(parts, -1.0), None) is None
    share = max(len(ground), len(centred)) / len(parts)
    if share < 0.7 or not (apart or _is_piled(parts)):
        return
    where = say("partcheck.stand_same_level") if len(ground) >= len(centred) else say("partcheck.centred_origin")
    yield Finding(
        level=Level.STOP,
        code="print-orientation",
        about=(),
        message=say("finding.print-orientation", count=max(len(ground), len(centred)), count_2=len(parts), where=where),
        remedy=say("remedy.print-orientation"),
    )


def _is_at_origin(part: Part) -> bool:
    low, high = np.array(part.low_mm), np.array(part.high_mm)
    return bool(np.all(np.abs(low + high) < 0.02 * (high - low).max()))


def _is_piled(parts: Sequence[Part]) -> bool:
    """Whether most parts share their place with another: more than half of the smaller box lies in a larger one."""
    piled = 0
    for part in parts:
        for other in parts:
            low = np.maximum(part.low_mm, other.low_mm)
            size = np.maximum(np.minimum(part.high_mm, other.high_mm) - low, 0)
            if other.id != part.id and np.prod(size) > 0.5 * np.prod(part.size_mm):
                piled += 1
                break
    return piled >= 0.5 * len(parts)


def _envelope(parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings) -> Iterable[Finding]:
    printer = settings.envelopes.printer_mm
    if printer is None:
        return
    for part in parts:
        if part.is_printed and not fits_envelope(meshes[part.id], printer):
            size = " x ".join(f"{edge:.0f}" for edge in part.size_mm)
            room = " x ".join(f"{edge:.0f}" for edge in printer)
            yield Finding(
                level=Level.WARN,
                code="too-large-for-printer",
                about=(part.id,),
                message=say("finding.too-large-for-printer", part=part.id, size=size, room=room),
                remedy=say("remedy.too-large-for-printer"),
            )


def _overlaps(parts: Sequence[Part], meshes: Mapping[PartId, Mesh], settings: Settings) -> Iterable[Finding]:
    """Parts that reach into each other deeper than the tolerance."""
    depth = settings.tolerances.overlap_mm
    solids: dict[PartId, Solid] = {}
    for a, b in _meeting([part for part in parts if part.is_watertight], depth):
        for part in (a, b):
            if part.id not in solids:
                solids[part.id] = Solid(meshes[part.id])
        if not (solids[a.id].is_sound and solids[b.id].is_sound):
            continue
        overlap = solids[a.id].overlap(solids[b.id])
        if overlap.depth_mm > depth and overlap.volume_mm3 > _LEAST_OVERLAP_MM3:
            place = ", ".join(f"{value:.0f}" for value in overlap.centre_mm)
            yield Finding(
                level=Level.WARN,
                code="parts-overlap",
                about=(a.id, b.id),
                message=say(
                    "finding.parts-overlap",
                    a=a.id,
                    b=b.id,
                    volume_mm3=overlap.volume_mm3 / 1000,
                    place=place,
                    depth_mm=overlap.depth_mm,
                    depth=depth,
                ),
                remedy=say("remedy.parts-overlap"),
            )


def _meeting(parts: Sequence[Part], depth_mm: float) -> Iterator[tuple[Part, Part]]:
    """Pairs of parts whose boxes share more than a depth along every axis."""
    lows, highs = (np.array([getattr(part, end) for part in parts]).reshape(-1, 3) for end in ("low_mm", "high_mm"))
    for number, part in enumerate(parts):
        shared = np.minimum(highs[number], highs[number + 1 :]) - np.maximum(lows[number], lows[number + 1 :])
        for other in np.flatnonzero((shared > depth_mm).all(axis=1)).tolist():
            yield part, parts[number + 1 + other]


def _duplicates(parts: Sequence[Part]) -> Iterable[Finding]:
    for a, b in combinations(parts, 2):
        if is_same_solid(a.fingerprint, b.fingerprint):
            yield Finding(
                level=Level.WARN,
                code="duplicate-part",
                about=(a.id, b.id),
                message=say("finding.duplicate-part", a=a.id, b=b.id),
                remedy=say("remedy.duplicate-part"),
            )
        elif is_mirror_twin(a.fingerprint, b.fingerprint):
            yield Finding(
                level=Level.NOTE,
                code="mirror-twin",
                about=(a.id, b.id),
                message=say("finding.mirror-twin", a=a.id, b=b.id),
            )
    for alike in _same_shapes(parts):
        names = tuple(part.id for part in alike)
        yield Finding(
            level=Level.NOTE,
            code="same-shape",
            about=names,
            message=say("finding.same-shape", names=tuple(names[:-1]), names_2=names[-1]),
        )


def _same_shapes(parts: Sequence[Part]) -> list[list[Part]]:
    """Parts of one shape in different places, a list for each shape that occurs more than once."""
    shapes: list[list[Part]] = []
    for part in parts:
        for alike in shapes:
            first = alike[0].fingerprint
            if is_same_shape(first, part.fingerprint):
                if not any(is_same_solid(other.fingerprint, part.fingerprint) for other in alike):
                    alike.append(part)
                break
        else:
            shapes.append([part])
    return [alike for alike in shapes if len(alike) > 1]
