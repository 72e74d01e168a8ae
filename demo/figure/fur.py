"""The fur: strokes and overlapping locks that follow the body, as a small height above the plain form."""

import numpy as np
from numpy.typing import NDArray

from demo.figure.noise import gradient_noise, tufts
from demo.figure.posture import Triple
from demo.figure.sdf import Points, Values, lengths

_DEEPEST, _HIGHEST = -1.9, 1.3  # mm; keeps the wall between about 3 and 6 mm


def fur_mm(points: Points) -> Values:
    """Return how far the fur stands out at points near the surface."""
    height = np.zeros(len(points))
    weights = np.full(len(points), 1e-9)
    for along, weight in _flows(points):
        used = weight > 1e-3
        there = points[used]
        pattern = 0.65 * tufts(there, along, 34.0, 150.0) + 0.45 * tufts(there + 31.0, along, 15.0, 75.0)
        height[used] += weight[used] * pattern
        weights += weight
    grain = 0.35 * gradient_noise(points / 9.0)
    standing: Values = np.clip(3.4 * _calm(points) * (height / weights - 0.5), _DEEPEST, _HIGHEST)
    return standing + grain


def _ramp(values: NDArray[np.float64], start: float, end: float) -> NDArray[np.float64]:
    """Return 0 at `start`, 1 at `end`, straight between (either may be the larger)."""
    return np.clip((values - start) / (end - start), 0.0, 1.0)


def _flows(points: Points) -> list[tuple[Triple, Values]]:
    """Return the directions in which hair lies, each with the weight it has at every point."""
    x, y, z = points.T
    arms = _ramp(z, 1020.0, 1080.0) * _ramp(z, 1640.0, 1590.0)
    right, left = _ramp(-x, 190.0, 230.0) * arms, _ramp(x, 190.0, 230.0) * arms
    head = _ramp(z, 1740.0, 1860.0)
    tail = _ramp(y, 180.0, 225.0) * _ramp(z, 420.0, 380.0)
    trunk = (1.0 - head) * (1.0 - tail) * _ramp(np.abs(x), 250.0, 205.0)
    return [
        ((0.0, 0.12, -1.0), trunk),
        ((0.0, 1.0, -0.35), head * _ramp(y, -190.0, -120.0)),
        ((0.0, 0.55, 0.85), 0.6 * head * _ramp(y, -60.0, -150.0)),
        ((-0.85, -0.3, -0.4), right * _ramp(y, -190.0, -120.0)),
        ((0.3, -0.94, -0.1), _ramp(-x, 100.0, 160.0) * arms * _ramp(y, -140.0, -200.0)),
        ((0.85, -0.3, -0.4), left * _ramp(y, -150.0, -90.0)),
        ((-0.22, -0.7, -0.62), left * _ramp(y, -80.0, -140.0)),
        ((0.3, 0.9, -0.35), tail * _ramp(x, 120.0, 60.0)),
        ((0.98, 0.15, 0.0), tail * _ramp(x, 60.0, 120.0)),
    ]


def _calm(points: Points) -> Values:
    """Return the strength of the fur: short on muzzle and feet, full on the body."""
    z = points[:, 2]
    from_muzzle = lengths((points - (0.0, -250.0, 1880.0)) / (1.0, 0.8, 1.0))
    strength = 0.3 + 0.7 * _ramp(from_muzzle, 90.0, 230.0)
    feet = 0.12 + 0.88 * _ramp(points[:, 1], -190.0, -110.0)
    return np.where(z < 115.0, np.minimum(strength, feet), strength)
