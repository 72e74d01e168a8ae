"""Can anybody tell two prints of a picture apart? A part that was cut again moves the last bits of lines far from it.

In: two PNG files, or rasters. Out: whether they show the same to the eye. The bounds are common practice, no source:
the eye tells a contrast of about two in a hundred between large fields, and far less easily between spots below a
millimetre.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageChops
from scipy.ndimage import uniform_filter

SPOTS = ((7, 0.04), (60, 0.01))
"""Sides of squares over which differences are averaged (0.6 and 5 mm at 300 dots an inch), and the mean, as a share of
the difference between black and white, above which it may be seen."""
CLEAR_SHARE = 0.07
"""Pixels that differ by more than this count as clearly different."""
CLEAR_PX = 120
"""So many of them, however far apart, may make a thin line that is seen."""

Floats = NDArray[np.float32]


def is_same_to_the_eye(before: Path, now: Path) -> bool:
    """Whether two pictures of one size differ so little that nobody sees it on paper.

    Parameters
    ----------
    before, now
        PNG files.

    Raises
    ------
    OSError
        If one of them is no picture.
    """
    with Image.open(before) as one, Image.open(now) as other:
        if one.size != other.size:
            return False
        return _is_same(one.convert("RGB"), other.convert("RGB"))


def look_the_same(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> bool:
    """The same of two rasters, (h, w, 3) each."""
    return _is_same(Image.fromarray(first), Image.fromarray(second))


def _is_same(first: Image.Image, second: Image.Image) -> bool:
    box = ImageChops.difference(first, second).getbbox()
    if box is None:
        return True
    differing = _differences(first.crop(box), second.crop(box))
    if int((differing > CLEAR_SHARE).sum()) > CLEAR_PX:
        return False
    # Beyond the box nothing differs.
    return all(uniform_filter(differing, side, mode="constant").max() <= share for side, share in SPOTS)


def _differences(first: Image.Image, second: Image.Image) -> Floats:
    """By pixel: the largest difference of a channel, as a share of that between black and white."""
    bands = np.asarray(ImageChops.difference(first, second))
    return np.asarray(bands.max(axis=2) / 255.0, dtype=np.float32)
