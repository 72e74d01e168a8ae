"""Which unit vectors lie across an axis? Asked for every hole and flat face, so in plain numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def axis_frame(axis: NDArray[np.float64]) -> NDArray[np.float64]:
    """Two unit vectors across an axis and the axis itself, right-handed, (3, 3).

    The first lies square on the coordinate axis that is farthest from this one. Plain numbers, since `numpy.cross`
    takes thirty times as long for two single vectors.

    Parameters
    ----------
    axis : (3,) float64
        Unit vector.
    """
    x, y, z = axis.tolist()
    least = min((abs(x), 0), (abs(y), 1), (abs(z), 2))[1]
    a, b, c = ((0.0, z, -y), (-z, 0.0, x), (y, -x, 0.0))[least]
    length = (a * a + b * b + c * c) ** 0.5
    a, b, c = a / length, b / length, c / length
    return np.array(((a, b, c), (y * c - z * b, z * a - x * c, x * b - y * a), (x, y, z)))
