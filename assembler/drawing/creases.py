"""Creases: the ridges where a smoothed surface turns most, as thin chains of pixels.

In: buffers of what a camera sees. Out: masks. The normals are smoothed by a fixed distance on paper: what is finer than
that on the page (fur, scan noise) does not become a line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from assembler.drawing.raster import Buffers
from assembler.drawing.style import px

Mask = NDArray[np.bool_]
Floats32 = NDArray[np.float32]

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
