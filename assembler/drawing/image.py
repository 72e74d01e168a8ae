"""A picture with at most 256 colours that looks as before: a third of the bytes on paper, and nothing to decode.

Goes in: a colour raster. Comes out: one number a pixel, and the colours they stand for.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
