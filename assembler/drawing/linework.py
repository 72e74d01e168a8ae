"""Buffers to a line drawing: outlines, depth steps and creases in three weights over quiet tints, on white paper.

In: id, depth and normal buffers. Out: an RGB picture. Nothing here knows parts or steps.

Lines are found as thin chains of pixels and inked with soft round stamps, so their width on paper is what the line
convention asks for and their edges are smooth at print resolution. Creases are the ridges where a smoothed surface
turns most. Its normals are smoothed by a fixed distance on paper: what is finer than that on the page (fur, scan noise)
does not become a line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from assembler.drawing.raster import Buffers
from assembler.drawing.style import INK, WIDE_MM, Look, px

Mask = NDArray[np.bool_]
Floats32 = NDArray[np.float32]
Places = NDArray[np.intp]

LAMP = np.array([-0.42, 0.55, 0.72], dtype=np.float32)
EDGE_ON = 0.3
"""Cosine to the eye below which a surface is seen edge on."""
STEP_PX = 5.0
"""Jump in depth, in pixels, from which one surface stands before another."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hatch:
    """An area marked on a surface.

    Parameters
    ----------
    mask : (h, w) bool
        Where.
    tint
        Colour in full light.
    angle_deg
        Of the hatching lines; ISO 128 hatches narrow and continuous.
    spacing_mm, width_mm
        On paper; width 0: tint only.
    border_mm
        Width of the line round the area; 0: none, where other lines bound it.
    """

    mask: Mask
    tint: tuple[float, float, float]
    angle_deg: float = 45.0
    spacing_mm: float = 1.3
    width_mm: float = 0.22
    border_mm: float = 0.18


def drawing(
    buffers: Buffers, looks: Sequence[Look], mm_per_px: float, hatches: Sequence[Hatch] = ()
) -> NDArray[np.uint8]:
    """A finished raster.

    Parameters
    ----------
    buffers
        What the camera sees.
    looks
        One for each item drawn, in their order.
    mm_per_px
        Scale of the camera.
    hatches
        Areas to mark, later over earlier.

    Returns
    -------
    (h, w, 3) uint8
    """
    picture = np.full((*buffers.ids.shape, 3), 255, dtype=np.uint8)
    window = _window(buffers.ids, margin=int(px(WIDE_MM)) + 2)
    if window is None:
        return picture
    seen = Buffers(ids=buffers.ids[window], near_mm=buffers.near_mm[window], normals=buffers.normals[window])
    paper = _tinted(seen, looks)
    for hatch in hatches:
        _mark(paper, hatch, window)
    outlines = _outlines(seen, looks, mm_per_px)
    steps = _depth_steps(seen, mm_per_px)
    near_line = _dilated(outlines.mask | steps, int(px(CREASE_SIGMA_MM)))
    _ink_items(paper, seen, creases(seen, near_line), looks)
    _ink_items(paper, seen, steps, looks, scale=1.25)
    for level in outlines.levels:
        _ink(paper, np.flatnonzero(level.mask), level.width_mm, level.ink)
    picture[window] = (np.clip(paper, 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
    return picture


def _window(ids: NDArray[np.uint16], margin: int) -> tuple[slice, slice] | None:
    """The part of the picture that shows anything."""
    rows, columns = np.nonzero(ids.any(axis=1))[0], np.nonzero(ids.any(axis=0))[0]
    if not len(rows):
        return None
    return (
        slice(max(int(rows[0]) - margin, 0), int(rows[-1]) + margin + 1),
        slice(max(int(columns[0]) - margin, 0), int(columns[-1]) + margin + 1),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Level:
    mask: Mask
    width_mm: float
    ink: tuple[float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Outlines:
    mask: Mask
    levels: tuple[_Level, ...]


def _tinted(buffers: Buffers, looks: Sequence[Look]) -> Floats32:
    fills = np.array([(1.0, 1.0, 1.0), *(look.fill for look in looks)], dtype=np.float32)
    shades = np.array([0.0, *(look.shade for look in looks)], dtype=np.float32)
    lamp = LAMP / np.linalg.norm(LAMP)
    light = np.clip(buffers.normals @ lamp, 0.0, 1.0)
    factor = np.float32(1.0) - shades[buffers.ids] * (np.float32(1.0) - light)
    paper: Floats32 = fills[buffers.ids] * factor[..., None]
    return paper


def _mark(paper: Floats32, hatch: Hatch, window: tuple[slice, slice]) -> None:
    """Tint and hatch an area in place."""
    rows, columns = np.nonzero(hatch.mask[window])
    if not len(rows):
        return
    here = (rows + window[0].start, columns + window[1].start)
    paper_here = paper[rows, columns]
    # The tint takes over the light of the surface but not its colour, or it would turn to mud on a tinted part.
    light = np.maximum(np.maximum(paper_here[:, 0], paper_here[:, 1]), paper_here[:, 2])[:, None]
    colour = np.asarray(hatch.tint, dtype=np.float32) * (np.float32(0.5) + np.float32(0.5) * light)
    if hatch.width_mm:
        angle = np.radians(hatch.angle_deg)
        along = here[1] * np.sin(angle) + here[0] * np.cos(angle)
        spacing = px(hatch.spacing_mm)
        away = np.abs((along + spacing / 2.0) % spacing - spacing / 2.0)
        cover = np.clip(px(hatch.width_mm) / 2.0 + 0.5 - away, 0.0, 1.0).astype(np.float32)[:, None]
        colour = colour * (1.0 - cover * 0.85)
    paper[rows, columns] = colour
    if hatch.border_mm:
        mask = hatch.mask[window]
        _ink(paper, np.flatnonzero(mask & ~ndimage.minimum_filter(mask, size=3)), hatch.border_mm, INK)


def _outlines(buffers: Buffers, looks: Sequence[Look], mm_per_px: float) -> _Outlines:
    """Pixels at the border between two items, on the side of the nearer one, sorted by weight."""
    ids, near = buffers.ids.ravel(), buffers.near_mm.ravel()
    fronts = np.zeros(len(ids), dtype=np.uint16)
    seams = np.zeros(len(ids), dtype=np.uint16)
    weight = np.array([0.0, *(look.outline_mm for look in looks)], dtype=np.float32)
    for axis in (0, 1):
        here, there = _beside(_neighbours_differ(buffers.ids, axis), buffers.ids.shape[1], axis)
        slope = np.minimum(*(_slope(buffers, place, axis, mm_per_px) for place in (here, there)))
        touching = np.float32(STEP_PX * mm_per_px) + slope
        # Where two bodies touch, depth does not decide: the heavier outline goes through unbroken.
        jump = near[here] - near[there]
        heavier = weight[ids[here]] - weight[ids[there]]
        flush = np.abs(jump) < touching
        first = np.where(flush & (heavier != 0.0), heavier > 0.0, jump >= 0.0)
        level = flush & (heavier == 0.0)
        seams[here[level]] = ids[here[level]]
        mine, theirs = here[~level & first], there[~level & ~first]
        fronts[mine] = ids[mine]
        fronts[theirs] = ids[theirs]
    front, seam = fronts.reshape(buffers.ids.shape), seams.reshape(buffers.ids.shape)
    kinds = sorted({(look.outline_mm, look.ink) for look in looks})
    levels = _seam_levels(seam, looks)
    for width, ink in kinds:
        numbers = np.array([False, *((look.outline_mm, look.ink) == (width, ink) for look in looks)])
        levels.append(_Level(numbers[front], width, ink))
    return _Outlines((front > 0) | (seam > 0), tuple(levels))


def _neighbours_differ(values: NDArray[np.uint16], axis: int) -> Mask:
    """Where a pixel's value is not that of the next one to the right (0) or below (1)."""
    differ: Mask = values[:, :-1] != values[:, 1:] if axis == 0 else values[:-1] != values[1:]
    return differ


def _beside(mask: Mask, width: int, axis: int) -> tuple[Places, Places]:
    """Flat places, in a picture of a width, of marked pixels and of those right of (0) or below (1) them."""
    flat = np.flatnonzero(mask)
    here = flat + flat // (width - 1) if axis == 0 else flat
    return here, here + (1 if axis == 0 else width)


def _slope(buffers: Buffers, places: Places, axis: int, mm_per_px: float) -> Floats32:
    """How far the surface that a pixel shows falls away over one and a half pixels, mm."""
    normals = buffers.normals.reshape(-1, 3)
    steep = np.maximum(normals[places, 2], np.float32(0.12))
    slope: Floats32 = np.abs(normals[places, axis]) / steep * np.float32(1.6 * mm_per_px)
    return slope


def _seam_levels(seam: NDArray[np.uint16], looks: Sequence[Look]) -> list[_Level]:
    """Lines where two like bodies meet flush: a seam, not an edge, so it takes the width of inner edges."""
    kinds = sorted({(look.edge_mm, look.ink) for look in looks})
    levels = []
    for width, ink in kinds:
        numbers = np.array([False, *((look.edge_mm, look.ink) == (width, ink) for look in looks)])
        levels.append(_Level(numbers[seam], width, ink))
    return levels


def _depth_steps(buffers: Buffers, mm_per_px: float) -> Mask:
    """Pixels where one item's surface ends before a part of itself that lies deeper."""
    ids, near, upright = buffers.ids.ravel(), buffers.near_mm.ravel(), buffers.normals[..., 2].ravel()
    found = np.zeros(len(ids), dtype=np.bool_)
    limit = np.float32(STEP_PX * mm_per_px)
    for axis in (0, 1):
        jumps = np.abs(np.diff(buffers.near_mm, axis=1 - axis)) > limit
        here, there = _beside(jumps & ~_neighbours_differ(buffers.ids, axis), buffers.ids.shape[1], axis)
        jump = near[here] - near[there]
        allowed = limit + np.minimum(*(_slope(buffers, place, axis, mm_per_px) for place in (here, there)))
        # Between two surfaces that are both seen edge on, fur and noise step at every hair.
        same = (ids[here] > 0) & (np.maximum(upright[here], upright[there]) > np.float32(EDGE_ON))
        found[here[same & (jump > allowed)]] = True
        found[there[same & (jump < -allowed)]] = True
    return without_specks(found.reshape(buffers.ids.shape), int(px(SPECK_MM)))


def _dilated(mask: Mask, radius: int) -> Mask:
    """Grown by a square; only used to keep lines apart."""
    grown: Mask = ndimage.maximum_filter(mask, size=2 * radius + 1)
    return grown


def _ink_items(paper: Floats32, buffers: Buffers, mask: Mask, looks: Sequence[Look], scale: float = 1.0) -> None:
    """Ink pixels in the width and colour of the inner edges of the item that each lies on."""
    places = np.flatnonzero(mask)
    owner = buffers.ids.ravel()[places]
    for width, ink in sorted({(look.edge_mm, look.ink) for look in looks}):
        numbers = np.array([False, *((look.edge_mm, look.ink) == (width, ink) for look in looks)])
        _ink(paper, places[numbers[owner]], width * scale, ink)


def _ink(paper: Floats32, places: Places, width_mm: float, ink: tuple[float, float, float]) -> None:
    """Stamp discs along chains of pixels, at flat places, and round off the stairs, in place."""
    if not len(places):
        return
    rows, columns = np.divmod(places, paper.shape[1])
    radius = px(width_mm) / 2.0
    reach = int(np.ceil(radius + 0.7))
    pad = reach + 2
    top, bottom = max(int(rows.min()) - pad, 0), min(int(rows.max()) + pad + 1, paper.shape[0])
    left, right = max(int(columns.min()) - pad, 0), min(int(columns.max()) + pad + 1, paper.shape[1])
    height, width = bottom - top, right - left
    stride = width + 2 * reach
    cover = np.zeros((height + 2 * reach, stride), dtype=np.float32)
    flat = cover.reshape(-1)
    start = (rows - top + reach) * stride + columns - left + reach
    stamp = [
        (float(np.clip(radius + 0.5 - np.hypot(dx, dy), 0.0, 1.0)), dy * stride + dx)
        for dy in range(-reach, reach + 1)
        for dx in range(-reach, reach + 1)
    ]
    # Faintest first: a stronger value overwrites a weaker one, which is a maximum without a comparison.
    for strength, shift in sorted(stamp):
        if strength > 0.0:
            flat[start + shift] = strength
    sigma = 0.45 * 2.0 * radius
    cover = ndimage.gaussian_filter(cover, sigma, truncate=2.0)
    # Blurred and made steep again at the height the edge of a band of this width has after the blur.
    cover = (cover - np.float32(0.48)) * np.float32(sigma / 0.4) + np.float32(0.5)
    cover = np.ascontiguousarray(cover[reach : reach + height, reach : reach + width])
    inked = np.flatnonzero(cover > 0.0)
    strength_here = np.minimum(cover.ravel()[inked], np.float32(1.0))[:, None]
    rows, columns = np.divmod(inked, width)
    rows, columns = rows + top, columns + left
    paper[rows, columns] += strength_here * (np.asarray(ink, dtype=np.float32) - paper[rows, columns])


CREASE_SIGMA_MM = 0.28
"""On paper. Half the width of the finest texture that should stay a tint instead of a line."""
CREASE_FIND, CREASE_KEEP = 0.165, 0.10
"""Change of the smoothed unit normal over two pixels; an edge of 60 degrees reaches 0.23, of 90 degrees 0.32."""
SPECK_MM = 1.6
"""On paper: lines shorter than this are specks."""


def creases(buffers: Buffers, near_line: Mask) -> Mask:
    """Pixels on the ridges of the gradient of the smoothed normals, away from other lines.

    Parameters
    ----------
    buffers
        What the camera sees.
    near_line : (h, w) bool
        Pixels on and beside lines that are drawn already.
    """
    sigma = px(CREASE_SIGMA_MM)
    seen = buffers.ids > 0
    weight = np.maximum(ndimage.gaussian_filter(seen.astype(np.float32), sigma, truncate=2.5), np.float32(1e-3))
    across = np.zeros_like(buffers.normals)
    down = np.zeros_like(buffers.normals)
    for axis in range(3):
        smooth = ndimage.gaussian_filter(buffers.normals[..., axis], sigma, truncate=2.5) / weight
        across[:, 1:-1, axis] = smooth[:, 2:] - smooth[:, :-2]
        down[1:-1, :, axis] = smooth[2:] - smooth[:-2]
    strength, ridge = _ridges(across, down, seen & ~near_line)
    return chains(ridge, strength > CREASE_FIND, int(px(SPECK_MM)))


def _ridges(across: Floats32, down: Floats32, where: Mask) -> tuple[Floats32, Mask]:
    """Strength of the gradient of a vector field, and where it is worth keeping and greatest across itself.

    Parameters
    ----------
    across, down : (h, w, 3) float32
        Changes of the vector over two pixels.
    where : (h, w) bool
        Pixels that may be ridges. The strength is worked out for these and their neighbours, 0 elsewhere.
    """
    height, width = where.shape
    strength = np.zeros(where.size, dtype=np.float32)
    ridge = np.zeros(where.size, dtype=np.bool_)
    inner = np.zeros(where.shape, dtype=np.bool_)
    inner[1:-1, 1:-1] = where[1:-1, 1:-1]
    # The strength is at most the root of both sums of squares: most pixels are out before it is worked out.
    lively = np.einsum("ijk,ijk->ij", across, across) + np.einsum("ijk,ijk->ij", down, down)
    here = np.flatnonzero(inner & (lively > np.float32(0.99 * CREASE_KEEP**2)))
    ways = (1, width + 1, width, width - 1)
    around = np.unique(np.concatenate([here, *(here + way for way in ways), *(here - way for way in ways)]))
    x, y = across.reshape(-1, 3)[around], down.reshape(-1, 3)[around]
    xx, yy, xy = (np.einsum("ik,ik->i", one, other) for one, other in ((x, x), (y, y), (x, y)))
    half = np.sqrt(((xx - yy) / 2.0) ** 2 + xy**2)
    strength[around] = np.sqrt((xx + yy) / 2.0 + half)
    kept = here[strength[here] > CREASE_KEEP]
    mine = np.searchsorted(around, kept)
    angle = 0.5 * np.arctan2(2.0 * xy[mine], xx[mine] - yy[mine])
    way = np.array(ways)[np.rint(angle / (np.pi / 4.0)).astype(np.int64) % 4]
    greatest = (strength[kept] >= strength[kept - way]) & (strength[kept] > strength[kept + way])
    ridge[kept[greatest]] = True
    return strength.reshape(height, width), ridge.reshape(height, width)


def chains(candidate: Mask, sure: Mask, shortest: int) -> Mask:
    """Chains of candidates of which three in ten are sure, and which are long enough.

    Parameters
    ----------
    candidate, sure : (h, w) bool
        Pixels.
    shortest
        Pixels that a chain has to have.
    """
    labels, count = ndimage.label(candidate, structure=np.ones((3, 3)))
    if not count:
        return candidate
    places = np.flatnonzero(candidate)
    chain = labels.ravel()[places]
    length = np.bincount(chain, minlength=count + 1)
    certain = np.bincount(chain, weights=sure.ravel()[places], minlength=count + 1)
    keep = (length >= shortest) & (certain >= 0.3 * length)
    kept = np.zeros(candidate.size, dtype=np.bool_)
    kept[places[keep[chain]]] = True
    return kept.reshape(candidate.shape)


def without_specks(mask: Mask, shortest: int) -> Mask:
    """A mask without its pieces of fewer pixels than `shortest`."""
    return chains(mask, mask, shortest)
