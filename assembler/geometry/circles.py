"""Circles through the rims of holes, and unit vectors across an axis. Points or an axis in, plain numbers out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Points

LEAST_CORNERS = 6
ROUND_MM = 0.25
"""Largest distance of a rim vertex from its circle: five standard deviations of 0.05 mm noise."""
LARGEST_HOLE_MM = 60.0


def true_corners(loop: Points) -> Points:
    """The loop without vertices that merely divide a straight edge.

    Re-meshing puts vertices on the chords of a circle; only the corners of the original polygon lie on the circle.
    Where noise hides the corners, the loop is returned whole.

    Parameters
    ----------
    loop : (n, 2) float64, mm
    """
    before, after = np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0)
    chord = after - before
    length = np.maximum(np.linalg.norm(chord, axis=1), 1e-12)
    rise = np.abs(chord[:, 0] * (loop - before)[:, 1] - chord[:, 1] * (loop - before)[:, 0]) / length
    corners: Points = loop[rise > 0.002]
    if len(corners) < LEAST_CORNERS:
        return loop
    return corners


def fit_circle(points: Points) -> tuple[NDArray[np.float64], float, NDArray[np.float64]]:
    """Least-squares circle through points in a plane.

    Parameters
    ----------
    points : (n, 2) float64, mm
        At least three.

    Returns
    -------
    tuple
        Centre (2,), radius, and the distance of each point from the circle.

    References
    ----------
    I. Kasa, A circle fitting procedure and its error analysis, IEEE Trans. Instrum. Meas. 25 (1976), as a linear
    system; unbiased enough here because the points go all the way round.
    """
    middle = points.mean(axis=0)
    local = points - middle
    matrix = np.column_stack((2 * local, np.ones(len(local))))
    solution, *_ = np.linalg.lstsq(matrix, (local**2).sum(axis=1), rcond=None)
    centre = solution[:2]
    radius = float(np.sqrt(max(solution[2] + centre @ centre, 0.0)))
    return middle + centre, radius, np.linalg.norm(local - centre, axis=1) - radius


def circle_through(corners: Points, widest_deg: float = 75.0) -> tuple[NDArray[np.float64], float, float] | None:
    """Centre, radius and spread of a circle through the corners of a rim; None where they are not round."""
    if len(corners) < LEAST_CORNERS:
        return None
    centre, radius, distance = fit_circle(corners)
    angle = np.sort(np.arctan2(*(corners - centre).T[::-1]))
    widest = np.diff(np.append(angle, angle[0] + 2 * np.pi)).max()
    if not 0.5 < radius < LARGEST_HOLE_MM or np.abs(distance).max() > ROUND_MM or widest > np.radians(widest_deg):
        return None
    return centre, radius, float(distance.std())


def without_strays(corners: Points) -> Points:
    """Corners without those that stand out from the circle of the others, a quarter of them at most."""
    kept = corners
    for _ in range(len(corners) // 4):
        if len(kept) < LEAST_CORNERS:
            break
        away = np.abs(fit_circle(kept)[2])
        worst = int(away.argmax())
        if away[worst] <= ROUND_MM:
            break
        kept = np.delete(kept, worst, axis=0)
    return kept


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
