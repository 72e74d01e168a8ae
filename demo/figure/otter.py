"""What the otter looks like outside, and where its cavity lies.

`form` is the large shape that the cavity follows; `skin` adds what stays solid or shallow (digits, face, fur);
`hollow` is the cavity.
"""

from collections.abc import Callable

import numpy as np

from demo.figure import digits, face, posture
from demo.figure.fur import fur_mm
from demo.figure.posture import BELOW_MM, Triple
from demo.figure.sdf import (
    FAR_MM,
    Points,
    Values,
    blend,
    capsule,
    ellipsoid,
    ellipsoid_at,
    tube,
    turned_ellipsoid,
)

WALL_MM = 5.0


def form(points: Points) -> Values:
    """Return the signed distance (near the surface) to the large shape, without fur and small features."""
    value = _torso(points)
    value = blend(value, _near(points, _head, (-230, -330, 1690), (230, 210, 2130)), 60.0)
    value = blend(value, _near(points, _feet, (-270, -420, -90), (270, 100, 160)), 34.0)
    value = blend(value, _near(points, _tail, (-140, 60, 0), (540, 590, 380)), 46.0)
    value = blend(value, _near(points, _right_arm, (-500, -540, 1250), (-100, 110, 1640)), 42.0)
    value = blend(value, _near(points, _left_arm, (100, -420, 1060), (500, 110, 1640)), 42.0)
    value = np.maximum(value, -BELOW_MM - points[:, 2])
    return value


def skin(points: Points) -> Values:
    """Return the signed distance to the visible surface, with face, toes, fingers and fur."""
    value = form(points)
    value = blend(value, _near(points, digits.toes, (-280, -460, -60), (280, -150, 120)), 12.0)
    value = blend(value, _near(points, digits.fingers, (-420, -560, 1290), (-100, -240, 1480)), 12.0)
    value = blend(value, _near(points, digits.left_fingers, (200, -420, 1030), (400, -200, 1290)), 12.0)
    close = np.abs(value) < 14.0
    value[close] -= fur_mm(points[close])
    head = (points[:, 2] > 1740.0) & (np.abs(value) < 60.0)
    value[head] = face.features(points[head], value[head])
    claws = _near(points, digits.claws, (-420, -580, -40), (420, -150, 1480))
    whole: Values = np.maximum(np.minimum(value, claws), -BELOW_MM - points[:, 2])
    return whole


def head_skin(points: Points) -> Values:
    """Return the visible surface of the head alone, closed off some way below the neck's cut."""
    value: Values = np.maximum(skin(points), posture.HEAD_LOW[2] + 30.0 - points[:, 2])
    return value


def hollow(points: Points) -> Values:
    """Return the signed distance to the cavity: the form set back by the wall, clear of what the face carves out.

    The form's values are divided by the length of their gradient, so that the wall is equally thick where
    blends and ellipsoids stretch them.
    """
    value = form(points)
    close = np.abs(value) < 40.0
    step = 0.5
    there = points[close]
    slope = [(form(there + step * e) - form(there - step * e)) / (2.0 * step) for e in np.eye(3)]
    value[close] /= np.maximum(np.linalg.norm(slope, axis=0), 0.4)
    value += WALL_MM
    head = (points[:, 2] > 1740.0) & (np.abs(value) < 60.0)
    value[head] = np.maximum(value[head], WALL_MM - face.carved(points[head]))
    return value


def _near(points: Points, solid: Callable[[Points], Values], low: Triple, high: Triple) -> Values:
    """Return `solid` inside a box and `FAR_MM` outside it, so that a limb costs nothing elsewhere."""
    inside = np.ones(len(points), dtype=bool)
    for k in range(3):
        inside &= (points[:, k] > low[k] - FAR_MM) & (points[:, k] < high[k] + FAR_MM)
    value = np.full(len(points), FAR_MM)
    if inside.any():
        value[inside] = np.minimum(solid(points[inside]), FAR_MM)
    return value


def _torso(points: Points) -> Values:
    """Return the pear-shaped body: an ellipse whose axes change with height, with thighs and a dip between the legs."""
    x, y, height = points.T
    z = np.clip(height, posture.BODY_LOW_MM, posture.BODY_HIGH_MM)
    local = np.stack([x, y - posture.MIDDLE(z), np.zeros(len(z))], axis=1)
    radii = np.stack([posture.HALF_WIDTH(z), posture.HALF_DEPTH(z), np.full(len(z), 1e9)], axis=1)
    middle, half = (posture.BODY_HIGH_MM + posture.BODY_LOW_MM) / 2, (posture.BODY_HIGH_MM - posture.BODY_LOW_MM) / 2
    value: Values = np.maximum(ellipsoid_at(local, radii), np.abs(height - middle) - half)
    for side in (-1.0, 1.0):
        value = blend(value, ellipsoid(points, (side * 150.0, -4.0, 310.0), (106.0, 158.0, 205.0)), 50.0)
        value = blend(value, ellipsoid(points, (side * 140.0, 0.0, 1500.0), (92.0, 130.0, 110.0)), 60.0)
    dip = np.exp(-((x / 40.0) ** 2) - (np.maximum(z - 60.0, 0.0) / 170.0) ** 2) * (y < 0.0)
    dipped: Values = value + 16.0 * dip
    return dipped


def _head(points: Points) -> Values:
    """Return cranium, cheeks, muzzle and chin."""
    value = ellipsoid(points, (0.0, -12.0, 1922.0), (172.0, 170.0, 176.0))
    for side in (-1.0, 1.0):
        value = blend(value, ellipsoid(points, (side * 92.0, -72.0, 1850.0), (98.0, 104.0, 82.0)), 50.0)
    value = blend(value, ellipsoid(points, (0.0, -160.0, 1864.0), (102.0, 96.0, 74.0)), 44.0)
    return blend(value, ellipsoid(points, (0.0, -182.0, 1814.0), (68.0, 66.0, 40.0)), 26.0)


def _feet(points: Points) -> Values:
    """Return the two insteps and their webs."""
    value = np.full(len(points), FAR_MM)
    for side in (-1.0, 1.0):
        instep = turned_ellipsoid(points, (side * 131.0, -150.0, 8.0), (97.0, 225.0, 106.0), (side * 0.12, -1.0, 0.0))
        web = turned_ellipsoid(points, (side * 142.0, -300.0, 8.0), (108.0, 112.0, 36.0), (side * 0.12, -1.0, 0.0))
        value = np.minimum(value, blend(instep, web, 30.0))
    return value


def _tail(points: Points) -> Values:
    return tube(points, posture.TAIL_POINTS, posture.TAIL_RADII)


def _right_arm(points: Points) -> Values:
    shoulder = (-posture.SHOULDER_X, posture.SHOULDER_Y, posture.SHOULDER_Z)
    value = capsule(points, shoulder, posture.RIGHT_ELBOW, 98.0, 95.0)
    value = blend(value, capsule(points, posture.RIGHT_ELBOW, posture.RIGHT_WRIST, 95.0, 70.0), 16.0)
    return blend(value, ellipsoid(points, posture.RIGHT_PALM, (106.0, 112.0, 58.0)), 40.0)


def _left_arm(points: Points) -> Values:
    shoulder = (posture.SHOULDER_X, posture.SHOULDER_Y, posture.SHOULDER_Z)
    value = capsule(points, shoulder, posture.LEFT_ELBOW, 98.0, 95.0)
    value = blend(value, capsule(points, posture.LEFT_ELBOW, posture.LEFT_WRIST, 95.0, 76.0), 16.0)
    palm = turned_ellipsoid(
        points, posture.LEFT_PALM, (84.0, 96.0, 62.0), posture.LEFT_REACH, posture.LEFT_BACK_OF_HAND
    )
    return blend(value, palm, 34.0)
