"""What the otter looks like outside, and where its cavity lies.

The otter stands on z = 0, faces -y, and holds up a lantern on its right (-x) paw.
`form` is the large shape that the cavity follows, `skin` adds what stays solid or shallow (toes, eyes, fur).
"""

from collections.abc import Callable

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from demo.figure.noise import gradient_noise, strokes
from demo.figure.sdf import (
    Points,
    Values,
    blend,
    capsule,
    carve,
    ellipsoid,
    ellipsoid_at,
    tube,
    turned_ellipsoid,
)

Triple = tuple[float, float, float]

LOW = np.array([-500.0, -580.0, -90.0])
HIGH = np.array([580.0, 620.0, 2150.0])
BELOW_MM = 45.0  # body and feet run on below the deck, so that the cut at z = 0 finds full sections
FAR_MM = 80.0  # stands in for "not near this limb"

# Height, half width, half depth, middle in y: a pear-shaped body, measured from photographs of nobody in particular.
_BODY = np.array(
    [
        [-80, 196, 150, 20],
        [0, 206, 150, 18],
        [150, 222, 156, 15],
        [300, 230, 174, 6],
        [470, 231, 185, -4],
        [660, 227, 191, -9],
        [860, 218, 187, -8],
        [1050, 208, 180, -2],
        [1250, 202, 174, 4],
        [1400, 203, 172, 8],
        [1500, 200, 170, 8],
        [1600, 197, 172, 6],
        [1690, 180, 164, 0],
        [1760, 163, 152, -6],
        [1850, 148, 140, -12],
    ],
    dtype=float,
)
_HALF_WIDTH, _HALF_DEPTH, _MIDDLE = (PchipInterpolator(_BODY[:, 0], _BODY[:, k]) for k in (1, 2, 3))

SHOULDER_X, SHOULDER_Y, SHOULDER_Z = 150.0, -20.0, 1505.0
RIGHT_ELBOW: Triple = (-362.0, -105.0, 1425.0)
RIGHT_WRIST: Triple = (-285.0, -330.0, 1392.0)
RIGHT_PALM: Triple = (-258.0, -398.0, 1388.0)
SEAT_Z = 1416.0  # the lantern stands here
SEAT_RADIUS_MM = 84.0
LEFT_ELBOW: Triple = (366.0, -78.0, 1405.0)
LEFT_WRIST: Triple = (312.0, -250.0, 1255.0)
LEFT_PALM: Triple = (296.0, -290.0, 1212.0)

_TAIL_KNOTS = np.array(
    [
        [0, 100, 235],
        [6, 200, 212],
        [45, 315, 172],
        [140, 415, 134],
        [270, 455, 122],
        [385, 435, 150],
        [452, 380, 222],
    ],
    dtype=float,
)
_TAIL_RADII = np.array([108, 104, 97, 88, 74, 55, 22], dtype=float)
_TAIL_AT = np.linspace(0.0, 6.0, 25)
TAIL_LINE = CubicSpline(np.arange(7), _TAIL_KNOTS)
TAIL_POINTS = TAIL_LINE(_TAIL_AT)
TAIL_POINT_RADII = PchipInterpolator(np.arange(7), _TAIL_RADII)(_TAIL_AT)


def form(points: Points) -> Values:
    """Return the signed distance (near the surface) to the large shape, without fur and small features."""
    value = _torso(points)
    value = blend(value, _near(points, _head_form, (-230, -330, 1690), (230, 210, 2130)), 60.0)
    value = blend(value, _near(points, _feet_form, (-270, -420, -90), (270, 60, 160)), 34.0)
    value = blend(value, _near(points, _tail, (-140, 60, 20), (520, 590, 380)), 46.0)
    value = blend(value, _near(points, _right_arm, (-500, -540, 1280), (-100, 110, 1640)), 42.0)
    value = blend(value, _near(points, _left_arm, (100, -420, 1080), (500, 110, 1640)), 42.0)
    return np.maximum(value, -BELOW_MM - points[:, 2])


def skin(points: Points) -> Values:
    """Return the signed distance to the visible surface, with face, toes, fingers and fur."""
    value = form(points)
    value = blend(value, _near(points, _toes, (-280, -460, -60), (280, -150, 120)), 12.0)
    value = blend(value, _near(points, _fingers, (-420, -560, 1320), (-120, -260, 1500)), 12.0)
    value = blend(value, _near(points, _left_fingers, (200, -420, 1060), (400, -200, 1290)), 12.0)
    close = np.abs(value) < 14.0
    value[close] -= _fur_mm(points[close])
    face = (points[:, 2] > 1740.0) & (np.abs(value) < 60.0)
    value[face] = _face(points[face], value[face])
    claws = _near(points, _claws, (-420, -560, -40), (420, -150, 1500))
    return np.maximum(np.minimum(value, claws), -BELOW_MM - points[:, 2])


def _near(points: Points, solid: Callable[[Points], Values], low: Triple, high: Triple) -> Values:
    """Return `solid` inside a box and `FAR_MM` outside it, so that a limb costs nothing elsewhere."""
    inside = np.all((points > np.asarray(low) - FAR_MM) & (points < np.asarray(high) + FAR_MM), axis=1)
    value = np.full(len(points), FAR_MM)
    if inside.any():
        value[inside] = np.minimum(solid(points[inside]), FAR_MM)
    return value


def _torso(points: Points) -> Values:
    """Return the pear-shaped body: an ellipse whose axes change with height, with thighs."""
    z = np.clip(points[:, 2], _BODY[0, 0], _BODY[-1, 0])
    local = np.stack([points[:, 0], points[:, 1] - _MIDDLE(z), np.zeros(len(z))], axis=1)
    radii = np.stack([_HALF_WIDTH(z), _HALF_DEPTH(z), np.full(len(z), 1e9)], axis=1)
    value = np.maximum(ellipsoid_at(local, radii), np.abs(points[:, 2] - 885.0) - 965.0)
    for side in (-1.0, 1.0):
        value = blend(value, ellipsoid(points, (side * 150.0, -2.0, 310.0), (104.0, 156.0, 205.0)), 50.0)
        value = blend(value, ellipsoid(points, (side * 140.0, 0.0, 1500.0), (92.0, 130.0, 110.0)), 60.0)
    return value


def _head_form(points: Points) -> Values:
    """Return cranium, cheeks, muzzle and chin."""
    value = ellipsoid(points, (0.0, -12.0, 1922.0), (172.0, 170.0, 176.0))
    for side in (-1.0, 1.0):
        value = blend(value, ellipsoid(points, (side * 92.0, -72.0, 1852.0), (98.0, 104.0, 84.0)), 50.0)
    value = blend(value, ellipsoid(points, (0.0, -160.0, 1862.0), (102.0, 96.0, 74.0)), 44.0)
    return blend(value, ellipsoid(points, (0.0, -182.0, 1815.0), (66.0, 66.0, 42.0)), 30.0)


def _feet_form(points: Points) -> Values:
    """Return the two insteps and their webs."""
    value = np.full(len(points), FAR_MM)
    for side in (-1.0, 1.0):
        instep = turned_ellipsoid(
            points, (side * 131.0, -150.0, 8.0), (97.0, 225.0, 106.0), (side * 0.12, -1.0, 0.0)
        )
        web = turned_ellipsoid(
            points, (side * 142.0, -300.0, 8.0), (108.0, 112.0, 34.0), (side * 0.12, -1.0, 0.0)
        )
        value = np.minimum(value, blend(instep, web, 30.0))
    return value


def _tail(points: Points) -> Values:
    return tube(points, TAIL_POINTS, TAIL_POINT_RADII)


def _right_arm(points: Points) -> Values:
    shoulder = (-SHOULDER_X, SHOULDER_Y, SHOULDER_Z)
    value = capsule(points, shoulder, RIGHT_ELBOW, 98.0, 95.0)
    value = blend(value, capsule(points, RIGHT_ELBOW, RIGHT_WRIST, 95.0, 78.0), 16.0)
    return blend(value, ellipsoid(points, RIGHT_PALM, (106.0, 112.0, 58.0)), 40.0)


def _left_arm(points: Points) -> Values:
    shoulder = (SHOULDER_X, SHOULDER_Y, SHOULDER_Z)
    value = capsule(points, shoulder, LEFT_ELBOW, 98.0, 95.0)
    value = blend(value, capsule(points, LEFT_ELBOW, LEFT_WRIST, 95.0, 76.0), 16.0)
    palm = turned_ellipsoid(points, LEFT_PALM, (84.0, 96.0, 62.0), _LEFT_REACH, (0.35, -1.0, 0.6))
    return blend(value, palm, 34.0)


_LEFT_REACH: Triple = (-0.22, -0.62, -0.75)


def _toe_lines() -> list[tuple[Triple, Triple]]:
    """Return root and tip of the ten toes, fanned out."""
    lines = []
    for side in (-1.0, 1.0):
        for fan in (-0.52, -0.22, 0.06, 0.34, 0.64):
            tip = (side * (142.0 + 150.0 * fan), -300.0 - 108.0 * np.cos(fan * 1.25), 21.0)
            lines.append(((side * (136.0 + 60.0 * fan), -215.0, 62.0), tip))
    return lines


def _finger_lines() -> list[tuple[Triple, Triple, Triple]]:
    """Return root, knuckle and tip of the right fingers, which curl up around the lantern's foot."""
    centre = np.asarray(RIGHT_PALM)
    lines = []
    for angle in np.radians([-162.0, -122.0, -82.0, -42.0, 22.0]):
        out = np.array([np.cos(angle), np.sin(angle), 0.0])
        root, knuckle, tip = centre + 74.0 * out, centre + 116.0 * out, centre + 119.0 * out
        lines.append(
            (
                (root[0], root[1], root[2] - 8.0),
                (knuckle[0], knuckle[1], knuckle[2] + 8.0),
                (tip[0], tip[1], tip[2] + 46.0),
            )
        )
    return lines


def _left_finger_lines() -> list[tuple[Triple, Triple]]:
    """Return root and tip of the left fingers, hanging relaxed."""
    reach = np.asarray(_LEFT_REACH) / np.linalg.norm(_LEFT_REACH)
    across = np.cross(reach, (0.35, -1.0, 0.6))
    across /= np.linalg.norm(across)
    palm = np.asarray(LEFT_PALM)
    lines = []
    for offset in (-0.9, -0.3, 0.3, 0.9):
        root = palm + 52.0 * reach + 52.0 * offset * across
        tip = palm + (128.0 - 16.0 * abs(offset)) * reach + 76.0 * offset * across
        lines.append((tuple(root), tuple(tip)))
    return lines


def _toes(points: Points) -> Values:
    value = np.full(len(points), FAR_MM)
    for root, tip in _toe_lines():
        value = np.minimum(value, capsule(points, root, tip, 30.0, 23.0))
    return value


def _fingers(points: Points) -> Values:
    value = np.full(len(points), FAR_MM)
    for root, knuckle, tip in _finger_lines():
        bend = blend(
            capsule(points, root, knuckle, 26.0, 22.0), capsule(points, knuckle, tip, 22.0, 17.0), 8.0
        )
        value = np.minimum(value, bend)
    return value


def _left_fingers(points: Points) -> Values:
    value = np.full(len(points), FAR_MM)
    for root, tip in _left_finger_lines():
        value = np.minimum(value, capsule(points, root, tip, 27.0, 19.0))
    return value


def _claws(points: Points) -> Values:
    """Return a blunt claw on every toe and finger."""
    value = np.full(len(points), FAR_MM)
    ends = [(root, tip, (0.0, 0.0, -3.0)) for root, tip in _toe_lines()]
    ends += [(root, tip, (0.0, 0.0, 0.0)) for root, tip in _left_finger_lines()]
    ends += [(knuckle, tip, (0.0, 0.0, 0.0)) for _, knuckle, tip in _finger_lines()]
    for root, tip, droop in ends:
        a, b = np.asarray(root), np.asarray(tip)
        way = (b - a) / np.linalg.norm(b - a)
        start, end = b + 6.0 * way, b + 33.0 * way + np.asarray(droop)
        value = np.minimum(value, capsule(points, tuple(start), tuple(end), 11.0, 5.0))
    return value


def _face(points: Points, value: Values) -> Values:
    """Return `value` with ears, brows, eyes, whisker pads, nose and mouth worked in."""
    for side in (-1.0, 1.0):
        ear = turned_ellipsoid(
            points,
            (side * 156.0, 12.0, 2002.0),
            (19.0, 44.0, 46.0),
            (side * 0.55, 1.0, 0.0),
            (side * 0.5, -0.2, 1.0),
        )
        value = blend(value, ear, 14.0)
        value = carve(value, ellipsoid(points, (side * 166.0, -16.0, 2006.0), (20.0, 17.0, 26.0)), 8.0)
        pad = ellipsoid(points, (side * 45.0, -226.0, 1857.0), (56.0, 44.0, 44.0))
        value = blend(value, pad, 16.0)
        brow = capsule(points, (side * 58.0, -158.0, 1997.0), (side * 122.0, -112.0, 1984.0), 15.0, 11.0)
        value = blend(value, brow, 26.0)
        value = carve(value, ellipsoid(points, (side * 90.0, -160.0, 1951.0), (35.0, 35.0, 31.0)), 9.0)
        value = np.minimum(value, ellipsoid(points, (side * 86.0, -140.0, 1950.0), (27.0, 27.0, 27.0)))
    value = blend(value, ellipsoid(points, (0.0, -258.0, 1897.0), (40.0, 26.0, 25.0)), 8.0)
    for side in (-1.0, 1.0):
        value = carve(value, ellipsoid(points, (side * 19.0, -282.0, 1893.0), (9.0, 11.0, 6.0)), 4.0)
        smile = capsule(points, (side * 6.0, -268.0, 1826.0), (side * 92.0, -196.0, 1822.0), 5.0, 4.0)
        value = carve(value, smile, 6.0)
        value = carve(value, _whisker_dots(points, side), 4.0)
    return carve(value, capsule(points, (0.0, -280.0, 1872.0), (0.0, -268.0, 1828.0), 5.0, 5.0), 6.0)


def _whisker_dots(points: Points, side: float) -> Values:
    """Return the small pits from which whiskers would grow, three rows on each pad."""
    value = np.full(len(points), FAR_MM)
    for row, height in enumerate((1874.0, 1857.0, 1840.0)):
        for column in range(3):
            x = side * (46.0 + 17.0 * column + 5.0 * (row % 2))
            y = -226.0 - 44.0 * np.sqrt(
                max(0.0, 1.0 - ((x - side * 45.0) / 56.0) ** 2 - ((height - 1857.0) / 44.0) ** 2)
            )
            value = np.minimum(value, ellipsoid(points, (x, y, height), (5.0, 5.0, 5.0)))
    return value


def _fur_mm(points: Points) -> Values:
    """Return how far the fur stands out (about -1.9 to 1.2 mm), following the flow of the body."""
    x, y, z = points.T
    fine = np.zeros(len(points))
    weight_sum = np.full(len(points), 1e-9)
    flows: list[tuple[Triple, Values]] = [
        (
            (0.0, 0.12, -1.0),
            np.exp(-((np.maximum(np.abs(x) - 215.0, 0.0) / 30.0) ** 2)) * (z < 1800.0) * (y < 215.0),
        ),
        ((0.0, 1.0, -0.35), np.clip((z - 1760.0) / 60.0, 0.0, 1.0)),
        ((-0.85, -0.3, -0.4), np.clip((-x - 190.0) / 40.0, 0.0, 1.0) * np.clip((y + 165.0) / 40.0, 0.0, 1.0)),
        (
            (0.33, -0.94, -0.1),
            np.clip((-x - 100.0) / 40.0, 0.0, 1.0) * np.clip((-150.0 - y) / 40.0, 0.0, 1.0) * (z > 1250),
        ),
        (
            (0.85, -0.3, -0.4),
            np.clip((x - 190.0) / 40.0, 0.0, 1.0) * np.clip((y + 110.0) / 40.0, 0.0, 1.0) * (z > 1000),
        ),
        (
            (-0.22, -0.7, -0.62),
            np.clip((x - 190.0) / 40.0, 0.0, 1.0) * np.clip((-90.0 - y) / 40.0, 0.0, 1.0) * (z > 1000),
        ),
        (
            (0.3, 0.9, -0.35),
            np.clip((y - 180.0) / 40.0, 0.0, 1.0) * np.clip((120.0 - x) / 60.0, 0.0, 1.0) * (z < 400),
        ),
        (
            (0.98, 0.15, 0.0),
            np.clip((y - 180.0) / 40.0, 0.0, 1.0) * np.clip((x - 60.0) / 60.0, 0.0, 1.0) * (z < 400),
        ),
    ]
    for along, weight in flows:
        used = weight > 1e-3
        fine[used] += weight[used] * (
            0.7 * strokes(points[used], along, 17.0, 85.0)
            + 0.45 * strokes(points[used] + 31.0, along, 38.0, 150.0)
        )
        weight_sum += weight
    tufts = np.clip(fine / weight_sum - 0.62, -0.9, 0.5)
    calm = 0.35 + 0.65 * np.clip(
        (np.linalg.norm((points - (0.0, -250.0, 1880.0)) / (1.0, 0.8, 1.0), axis=1) - 90) / 120, 0, 1
    )
    calm = np.where(z < 110.0, np.minimum(calm, np.clip((y + 190.0) / 80.0, 0.15, 1.0)), calm)
    return 2.2 * calm * tufts + 0.35 * gradient_noise(points / 9.0)
