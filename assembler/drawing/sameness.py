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
WHITE = 255
CLEAR_SHARE = 0.07
"""Pixels that differ by more than this count as clearly different."""
CLEAR_PX = 120
"""So many of them, however far apart, may make a thin line that is seen."""


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


def _is_same(first: Image.Image, second: Image.Image) -> bool:
    difference = ImageChops.difference(first, second)
    box = difference.getbbox()
    if box is None:
        return True
    most = _greatest(np.asarray(difference.crop(box)))
    if int(np.count_nonzero(most > CLEAR_SHARE * WHITE)) > CLEAR_PX:
        return False
    # Beyond the box nothing differs.
    differing = np.asarray(most / np.float32(WHITE), dtype=np.float32)
    return all(uniform_filter(differing, side, mode="constant").max() <= share for side, share in SPOTS)


def _greatest(bands: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """By pixel: the largest difference of a channel; channel by channel, which is many times faster."""
    return np.maximum(np.maximum(bands[..., 0], bands[..., 1]), bands[..., 2])
