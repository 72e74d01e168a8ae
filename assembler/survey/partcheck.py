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
        message="the standard of glTF files has y up, figure.toml states another axis",
        remedy="if the figure lies in the pictures: up = [0.0, 1.0, 0.0] under [figure] in figure.toml",
    )


def _size(parts: Sequence[Part]) -> Iterable[Finding]:
    low = np.min([part.low_mm for part in parts], axis=0)
    high = np.max([part.high_mm for part in parts], axis=0)
    largest = float((high - low).max())
    if _SMALLEST_FIGURE_MM <= largest <= _LARGEST_FIGURE_MM:
        return
    cause, unit = "the files are in metres (1000 times too small)", "m"
    if largest > _LARGEST_FIGURE_MM:
        cause, unit = "the unit in figure.toml is too large (1000 times), or parts lie far apart", "mm"
    elif largest >= 12.0:
        cause, unit = "the files are in inches (25.4 times too small)", "in"
    yield Finding(
        level=Level.WARN,
        code="implausible-size",
        about=(),
        message=f"the whole figure measures {largest:.4g} mm; likely cause: {cause}",
        remedy=f'state the unit of the mesh files, unit = "{unit}" under [figure] in figure.toml, and survey again',
    )


def _scale(parts: Sequence[Part]) -> Iterable[Finding]:
    """One part on another scale than the rest."""
    if len(parts) < 3:
        return
    sizes = [max(part.size_mm) for part in parts]
    middle = float(np.median(sizes))
    for part, size in zip(parts, sizes, strict=True):
        for factor, cause in ((1000.0, "millimetres against metres"), (25.4, "millimetres against inches")):
            ratio = max(size / middle, middle / size)
            if factor / 4 < ratio < factor * 4 and ratio > 20:
                word = "larger" if size > middle else "smaller"
                yield Finding(
                    level=Level.WARN,
                    code="other-scale",
                    about=(part.id,),
                    message=f"{part.id} is {ratio:.0f} times {word} than most parts; likely cause: {cause}",
                    remedy="export it in the unit of the others",
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
                message=f"{part.id} measures only {size:.1f} mm: a crumb that a cut has left, it seems, not a part",
                remedy="take it out of the mesh file and survey again",
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
    where = "stand on the same level" if len(ground) >= len(centred) else "are centred on the origin"
    yield Finding(
        level=Level.STOP,
        code="print-orientation",
        about=(),
        message=f"{max(len(ground), len(centred))} of {len(parts)} parts {where}: they lie as they are printed, "
        "not where they belong in the figure",
        remedy="export every part in the position it has in the assembled figure (one common origin), before it is "
        "turned and laid out for the printer",
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
                message=f"{part.id} ({size} mm as it stands) fits the printer ({room} mm) in no orientation that was "
                "tried",
                remedy="cut it once more, or name it in figure.toml as not printed",
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
                message=f"{a.id} and {b.id} share {overlap.volume_mm3 / 1000:.2g} cm3 near ({place}) mm, "
                f"{overlap.depth_mm:.1f} mm deep on average; allowed are {depth:g} mm",
                remedy="cut one of the two back, or check whether one lies in the wrong place",
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
                message=f"{a.id} and {b.id} are the same solid in the same place",
                remedy="take one of the two files out of the folder",
            )
        elif is_mirror_twin(a.fingerprint, b.fingerprint):
            yield Finding(
                level=Level.NOTE,
                code="mirror-twin",
                about=(a.id, b.id),
                message=f"{a.id} and {b.id} are mirror images of each other: mark left and right",
            )
    for alike in _same_shapes(parts):
        names = tuple(part.id for part in alike)
        yield Finding(
            level=Level.NOTE,
            code="same-shape",
            about=names,
            message=f"{', '.join(names[:-1])} and {names[-1]} have the same shape: mark them before they are mixed up",
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
