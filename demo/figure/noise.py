"""Repeatable gradient noise, stretched along a direction so that it reads as strokes of fur."""

import numpy as np
from numpy.typing import NDArray

_SIZE = 64
_GRADIENTS = np.random.default_rng(20210).normal(size=(_SIZE, _SIZE, _SIZE, 3))
_GRADIENTS /= np.linalg.norm(_GRADIENTS, axis=-1, keepdims=True)


def gradient_noise(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return smooth noise of about -0.8 to 0.8 at points of shape (n, 3), lattice spacing 1.

    The lattice repeats after 64 units.

    References
    ----------
    K. Perlin, "Improving noise", ACM Transactions on Graphics 21(3), 2002 (the fifth-degree fade).
    """
    cell = np.floor(points)
    f = points - cell
    i = cell.astype(np.int64) % _SIZE
    fade = f**3 * (f * (f * 6.0 - 15.0) + 10.0)
    total = np.zeros(len(points))
    for corner in np.ndindex(2, 2, 2):
        c = np.asarray(corner)
        j = (i + c) % _SIZE
        weight = np.ones(len(points))
        for k in range(3):
            weight *= fade[:, k] if corner[k] else 1.0 - fade[:, k]
        total += weight * np.einsum("ij,ij->i", _GRADIENTS[j[:, 0], j[:, 1], j[:, 2]], f - c)
    return total


def tufts(
    points: NDArray[np.float64], along: tuple[float, float, float], width_mm: float, length_mm: float
) -> NDArray[np.float64]:
    """Return rounded tufts of hair of about 0 to 1 with sharp grooves between them, lying along `along`."""
    local = _combed(points, along) / (width_mm, width_mm, length_mm)
    return np.minimum(2.4 * np.abs(gradient_noise(local)), 1.2)


def _combed(points: NDArray[np.float64], along: tuple[float, float, float]) -> NDArray[np.float64]:
    """Return coordinates (mm) whose third axis is `along`, wandering slowly sideways like hair that is not combed."""
    e3 = np.asarray(along) / np.linalg.norm(along)
    e1 = np.cross(e3, (1.0, 0.0, 0.0) if abs(e3[0]) < 0.8 else (0.0, 1.0, 0.0))
    e1 /= np.linalg.norm(e1)
    local: NDArray[np.float64] = points @ np.stack([e1, np.cross(e3, e1), e3], axis=1)
    wander = gradient_noise(points / 85.0 + 17.3)
    local[:, 0] += 20.0 * wander
    local[:, 1] -= 17.0 * wander
    return local
