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
        weight = np.prod(np.where(c == 1, fade, 1.0 - fade), axis=1)
        total += weight * np.einsum("ij,ij->i", _GRADIENTS[j[:, 0], j[:, 1], j[:, 2]], f - c)
    return total


def strokes(
    points: NDArray[np.float64], along: tuple[float, float, float], width_mm: float, length_mm: float
) -> NDArray[np.float64]:
    """Return ridges of about 0 to 1 that run along `along`, `width_mm` apart and `length_mm` long."""
    e3 = np.asarray(along) / np.linalg.norm(along)
    seed = np.array([1.0, 0.0, 0.0]) if abs(e3[0]) < 0.8 else np.array([0.0, 1.0, 0.0])
    e1 = np.cross(e3, seed)
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(e3, e1)
    local = np.stack([points @ e1 / width_mm, points @ e2 / width_mm, points @ e3 / length_mm], axis=1)
    # A slow sideways wander keeps the strokes from looking combed by a machine.
    wander = gradient_noise(points / 90.0 + 17.3)
    local[:, 0] += 1.1 * wander
    local[:, 1] -= 0.9 * wander
    return 1.0 - 2.2 * np.abs(gradient_noise(local))
