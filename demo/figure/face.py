"""The otter's face: ears, eyes with lids, brows, whisker pads, nose and mouth."""

import numpy as np

from demo.figure.posture import Triple
from demo.figure.sdf import FAR_MM, Points, Values, blend, capsule, carve, ellipsoid, lengths, turned_ellipsoid

EYE_RADIUS_MM = 30.0
_SIDES = (-1.0, 1.0)


def _eye(side: float) -> Triple:
    return (side * 84.0, -136.0, 1952.0)


def features(points: Points, value: Values) -> Values:
    """Return `value` with the face worked in."""
    for side in _SIDES:
        pad = ellipsoid(points, (side * 44.0, -222.0, 1857.0), (57.0, 46.0, 43.0))
        value = blend(value, pad, 18.0)
        brow = capsule(points, (side * 44.0, -146.0, 2012.0), (side * 110.0, -116.0, 1996.0), 10.0, 7.0)
        value = blend(value, brow, 30.0)
        ear = turned_ellipsoid(
            points, (side * 154.0, 28.0, 2000.0), (20.0, 45.0, 47.0), (side * 0.55, 1.0, 0.0), (side * 0.5, -0.2, 1.0)
        )
        value = blend(value, ear, 14.0)
        value = carve(value, _ear_bowl(points, side), 8.0)
        value = _with_eye(points, value, side)
    value = blend(value, ellipsoid(points, (0.0, -262.0, 1898.0), (41.0, 24.0, 25.0)), 8.0)
    for side in _SIDES:
        value = carve(value, ellipsoid(points, (side * 19.0, -286.0, 1893.0), (9.0, 10.0, 7.0)), 5.0)
    return value + _lines_mm(points)


def carved(points: Points) -> Values:
    """Return the distance to everything that is hollowed out of the face; the cavity keeps clear of it."""
    value = np.full(len(points), FAR_MM)
    for side in _SIDES:
        value = np.minimum(value, _ear_bowl(points, side))
        value = np.minimum(value, _socket(points, side))
    return value


def _ear_bowl(points: Points, side: float) -> Values:
    return ellipsoid(points, (side * 167.0, 2.0, 2006.0), (20.0, 15.0, 26.0))


def _socket(points: Points, side: float) -> Values:
    """Return the shallow groove around the eyeball."""
    x, y, z = _eye(side)
    return ellipsoid(points, (x + side * 1.0, y - 6.0, z), (37.0, 34.0, 34.0))


def _with_eye(points: Points, value: Values, side: float) -> Values:
    """Return `value` with one eye: groove, ball, pupil and two lids."""
    x, y, z = _eye(side)
    value = carve(value, _socket(points, side), 10.0)
    ball = lengths(points - (x, y, z)) - EYE_RADIUS_MM
    look = np.array([side * 0.34, -0.94, 0.02])
    pupil = np.asarray((x, y, z)) + (EYE_RADIUS_MM + 5.0) * look / np.linalg.norm(look)
    ball = carve(ball, lengths(points - pupil) - 11.0, 4.0)
    value = np.minimum(value, ball)
    lid = lengths((points - (x, y, z)) / (1.06, 1.0, 1.0)) - EYE_RADIUS_MM - 3.5
    above = (points - (x, y, z)) @ np.array([side * -0.12, 0.3, 0.94])
    upper = np.maximum(lid, 17.0 - above)
    lower = np.maximum(lid, above + 24.5)
    return blend(blend(value, upper, 7.0), lower, 7.0)


def _lines_mm(points: Points) -> Values:
    """Return how deep mouth, upper lip and whisker pits are pressed in, following the surface."""
    x, y, z = points.T
    in_front = np.clip((-150.0 - y) / 20.0, 0.0, 1.0)
    smile = 1826.0 + 22.0 * (np.abs(x) / 92.0) ** 2.2
    mouth = 5.0 * np.exp(-(((z - smile) / 5.0) ** 2)) * np.clip((100.0 - np.abs(x)) / 12.0, 0.0, 1.0)
    lip = (
        4.5 * np.exp(-((x / 5.0) ** 2)) * np.clip((z - 1826.0) / 6.0, 0.0, 1.0) * np.clip((1880.0 - z) / 6.0, 0.0, 1.0)
    )
    pits = np.zeros(len(points))
    for row, height in enumerate((1876.0, 1860.0, 1844.0)):
        for column in range(3):
            across = 40.0 + 19.0 * column + 6.0 * (row % 2)
            pits += 3.0 * np.exp(-((np.abs(x) - across) ** 2 + (z - height) ** 2) / 4.5**2)
    depth: Values = in_front * (np.maximum(mouth, lip) + pits)
    return depth
