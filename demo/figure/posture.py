"""Where the otter's body, limbs and tail are: the numbers of the pose, all in mm.

The otter stands on z = 0 and faces -y, so its right side is -x.
"""

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

Triple = tuple[float, float, float]

LOW = np.array([-500.0, -580.0, -105.0])
HIGH = np.array([580.0, 620.0, 2150.0])
HEAD_LOW, HEAD_HIGH = np.array([-260.0, -340.0, 1680.0]), np.array([260.0, 260.0, 2150.0])
BELOW_MM = 62.0  # body and feet run on below the deck, so that the cut at z = 0 finds full sections

# Columns: height, half width, half depth, middle in y. A heavy pear with the belly forward and the chest drawn back.
_BODY = np.array(
    [
        [-80, 196, 150, 20],
        [0, 206, 150, 18],
        [150, 222, 155, 15],
        [300, 230, 174, 4],
        [430, 233, 185, -9],
        [580, 232, 189, -15],
        [740, 224, 188, -13],
        [900, 213, 184, -7],
        [1080, 203, 177, 2],
        [1250, 199, 173, 8],
        [1400, 201, 172, 10],
        [1500, 200, 171, 8],
        [1600, 197, 172, 4],
        [1690, 180, 164, -2],
        [1760, 163, 152, -8],
        [1820, 144, 132, -14],
    ],
    dtype=float,
)
BODY_LOW_MM, BODY_HIGH_MM = float(_BODY[0, 0]), float(_BODY[-1, 0])
HALF_WIDTH, HALF_DEPTH, MIDDLE = (PchipInterpolator(_BODY[:, 0], _BODY[:, k]) for k in (1, 2, 3))

SHOULDER_X, SHOULDER_Y, SHOULDER_Z = 150.0, -20.0, 1500.0
RIGHT_ELBOW: Triple = (-358.0, -100.0, 1408.0)
RIGHT_WRIST: Triple = (-286.0, -318.0, 1342.0)
RIGHT_PALM: Triple = (-258.0, -394.0, 1366.0)
SEAT_Z = RIGHT_PALM[2] + 28.0  # the lantern stands here
SEAT_RADIUS_MM = 84.0
LEFT_ELBOW: Triple = (360.0, -78.0, 1396.0)
LEFT_WRIST: Triple = (306.0, -246.0, 1240.0)
LEFT_PALM: Triple = (290.0, -284.0, 1196.0)
LEFT_REACH: Triple = (-0.22, -0.62, -0.75)
LEFT_BACK_OF_HAND: Triple = (0.35, -1.0, 0.6)

_TAIL_KNOTS = np.array(
    [[0, 100, 235], [6, 200, 212], [45, 315, 172], [140, 415, 134], [270, 455, 118], [392, 440, 138], [478, 392, 196]],
    dtype=float,
)
_TAIL_AT = np.linspace(0.0, 6.0, 49)
TAIL_LINE = CubicSpline(np.arange(7), _TAIL_KNOTS)
TAIL_POINTS = TAIL_LINE(_TAIL_AT)
TAIL_RADII = PchipInterpolator(np.arange(7), [108.0, 104.0, 97.0, 88.0, 74.0, 52.0, 16.0])(_TAIL_AT)
