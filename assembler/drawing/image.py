"""Rasters: masks with their boxes and inner points, faded borders, and pictures packed into at most 256 colours.

In: masks and colour rasters, in pixels. Out: places, and one number a pixel with the colours they stand for: a third of
the bytes on paper, and nothing to decode.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from assembler.drawing.camera import Point

COLOURS = 256
"""What one byte can number."""

Bytes = NDArray[np.uint8]
Codes = NDArray[np.uint32]
Floats = NDArray[np.float64]


def indexed(picture: Bytes) -> tuple[Bytes, Bytes]:
    """A picture as numbers of colours; exact where it has at most 256 of them.

    The flat shades and thin lines of a drawing have a few thousand colours, nearly all between two others. Half of the
    palette goes to the frequent ones, half to those that are furthest from all others, so that no rare signal colour
    is lost; then each entry moves to the mean of the pixels that it stands for.

    Parameters
    ----------
    picture : (h, w, 3) uint8
        Red, green, blue.

    Returns
    -------
    indices : (h, w) uint8
        Number of the colour of each pixel.
    colours : (n, 3) uint8
        The palette, n at most 256, from dark to light; the same picture gives the same one.
    """
    red, green, blue = (picture[..., band].astype(np.uint32) for band in range(3))
    codes = np.asarray(red << 16 | green << 8 | blue, dtype=np.uint32)
    used, counts = _counted(codes)
    shades = np.stack([used >> 16, used >> 8 & 255, used & 255], axis=1).astype(np.float64)
    palette = shades if len(shades) <= COLOURS else _palette(shades, counts)
    palette = palette[np.argsort(palette.sum(axis=1), kind="stable")]
    numbers = np.zeros(1 << 24, dtype=np.uint8)
    numbers[used] = _nearest(shades, palette)
    return numbers[codes], palette.astype(np.uint8)


def _counted(codes: Codes) -> tuple[Codes, Floats]:
    """Each colour once, and on how many pixels; a plain sort is many times faster than counting by bins."""
    ordered = np.sort(codes, axis=None)
    starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]])
    return ordered[starts], np.diff(np.r_[starts, len(ordered)]).astype(np.float64)


def _palette(shades: Floats, counts: Floats) -> Floats:
    """256 of many colours, each the mean of those that it stands for."""
    first = int(np.argmax(counts))
    # Band by band: sums over a last axis of three are slow.
    bands = np.ascontiguousarray(shades.T)
    errors = _square_errors(bands, first)
    chosen = [first]
    weights = np.sqrt(counts)
    for place in range(1, COLOURS):
        one = int(np.argmax(errors * weights if place < COLOURS // 2 else errors))
        chosen.append(one)
        np.minimum(errors, _square_errors(bands, one), out=errors)
    near = _nearest(shades, shades[chosen])
    sums = np.stack([np.bincount(near, counts * shades[:, band], COLOURS) for band in range(3)], axis=1)
    return np.asarray(np.round(sums / np.bincount(near, counts, COLOURS)[:, None]), dtype=np.float64)


def _square_errors(bands: Floats, one: int) -> Floats:
    """Squared distance of every shade from one of them; `bands` has a row for each channel."""
    red, green, blue = (band - band[one] for band in bands)
    return np.asarray(red * red + green * green + blue * blue, dtype=np.float64)


def _nearest(shades: Floats, palette: Floats) -> NDArray[np.intp]:
    """Number of the nearest colour of the palette for each shade."""
    distances: Floats = (palette**2).sum(axis=1) - 2 * shades @ palette.T
    return np.asarray(distances.argmin(axis=1), dtype=np.intp)


Mask = NDArray[np.bool_]


def drawn_box(drawn: Mask) -> tuple[float, float, float, float]:
    """Box of all that is drawn, px: left, top, right, bottom."""
    rows, columns = np.nonzero(drawn.any(axis=1))[0], np.nonzero(drawn.any(axis=0))[0]
    if not len(rows):
        return (0.0, 0.0, float(drawn.shape[1]), float(drawn.shape[0]))
    return (float(columns[0]), float(rows[0]), float(columns[-1] + 1), float(rows[-1] + 1))


def darker(raster: NDArray[np.uint8], level: int) -> Mask:
    """Where any channel is below a level; channel by channel, which is ten times faster than over the last axis."""
    found: Mask = (raster[..., 0] < level) | (raster[..., 1] < level) | (raster[..., 2] < level)
    return found


def inner_spot(mask: Mask) -> Point | None:
    """The pixel farthest from the edge of a mask, found on a coarse grid; None for an empty mask."""
    small = mask[::6, ::6]
    if not small.any():
        rows, columns = np.nonzero(mask)
        return (float(columns[0]), float(rows[0])) if len(rows) else None
    depth = ndimage.distance_transform_cdt(np.pad(small, 1))[1:-1, 1:-1]
    row, column = np.unravel_index(int(np.argmax(depth)), depth.shape)
    return (float(column) * 6.0, float(row) * 6.0)


def closed(mask: Mask) -> Mask:
    """The mask without pinholes and single pixels, the marks that the grid of a height map leaves."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return mask
    window = (
        slice(max(int(rows[0]) - 3, 0), int(rows[-1]) + 4),
        slice(max(int(columns[0]) - 3, 0), int(columns[-1]) + 4),
    )
    grown = ndimage.maximum_filter(mask[window], size=5)
    smooth = np.zeros_like(mask)
    smooth[window] = ndimage.maximum_filter(ndimage.minimum_filter(grown, size=7), size=3)
    return smooth


def faded(
    raster: NDArray[np.uint8],
    reach_px: float,
    foot_px: float = 0.0,
    *,
    corner: tuple[int, int] = (0, 0),
    whole: tuple[int, int] | None = None,
) -> NDArray[np.uint8]:
    """The picture turned white towards its border, for what runs out of it.

    Parameters
    ----------
    raster : (h, w, 3) uint8
    reach_px
        Width of the border.
    foot_px
        Height at the lower edge that becomes all white, for words.
    corner, whole
        Left and top of the raster in a larger picture, and width and height of that; None: it is all of it.
    """
    height, width = raster.shape[:2]
    wide, tall = whole or (width, height)
    columns, rows = (np.arange(count) + start for count, start in zip((width, height), corner, strict=True))
    across = np.clip(np.minimum(columns, wide - 1 - columns) / reach_px, 0.0, 1.0)
    down = np.clip(np.minimum(rows, tall - 1 - rows - foot_px) / reach_px, 0.0, 1.0)
    keep = np.minimum(across[None, :], down[:, None]).astype(np.float32)[..., None]
    keep = keep * keep * (np.float32(3.0) - np.float32(2.0) * keep)
    white = np.float32(255.0)
    pale: NDArray[np.uint8] = (white + (raster.astype(np.float32) - white) * keep + np.float32(0.5)).astype(np.uint8)
    return pale
