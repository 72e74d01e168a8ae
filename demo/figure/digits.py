"""Toes, fingers and claws: solid, printed with the foot or paw they belong to."""

import numpy as np

from demo.figure import posture
from demo.figure.posture import Triple
from demo.figure.sdf import FAR_MM, Points, Values, blend, capsule


def toes(points: Points) -> Values:
    """Return the distance to the ten toes."""
    return _union(points, [(root, tip, 30.0, 23.0) for root, tip in _toe_lines()])


def fingers(points: Points) -> Values:
    """Return the distance to the right fingers, which curl up around the lantern's foot."""
    value = np.full(len(points), FAR_MM)
    for root, knuckle, tip in _right_finger_lines():
        bent = blend(capsule(points, root, knuckle, 26.0, 22.0), capsule(points, knuckle, tip, 22.0, 17.0), 8.0)
        value = np.minimum(value, bent)
    return value


def left_fingers(points: Points) -> Values:
    """Return the distance to the left fingers, hanging relaxed."""
    return _union(points, [(root, tip, 27.0, 19.0) for root, tip in _left_finger_lines()])


def claws(points: Points) -> Values:
    """Return the distance to a blunt claw on every toe and finger."""
    ends = [(root, tip, -3.0) for root, tip in _toe_lines()]
    ends += [(root, tip, 0.0) for root, tip in _left_finger_lines()]
    ends += [(knuckle, tip, 0.0) for _, knuckle, tip in _right_finger_lines()]
    lines = []
    for root, tip, droop in ends:
        way = np.subtract(tip, root) / np.linalg.norm(np.subtract(tip, root))
        end = np.add(tip, 31.0 * way) + (0.0, 0.0, droop)
        lines.append((as_triple(np.add(tip, 6.0 * way)), as_triple(end), 11.0, 6.0))
    return _union(points, lines)


def as_triple(vector: np.ndarray) -> Triple:
    """Return a point as plain numbers."""
    return (float(vector[0]), float(vector[1]), float(vector[2]))


def _union(points: Points, lines: list[tuple[Triple, Triple, float, float]]) -> Values:
    value = np.full(len(points), FAR_MM)
    for start, end, start_radius, end_radius in lines:
        value = np.minimum(value, capsule(points, start, end, start_radius, end_radius))
    return value


def _toe_lines() -> list[tuple[Triple, Triple]]:
    """Return root and tip of the ten toes, fanned out."""
    lines = []
    for side in (-1.0, 1.0):
        for fan in (-0.52, -0.22, 0.06, 0.34, 0.64):
            tip = (side * (142.0 + 150.0 * fan), -300.0 - 108.0 * float(np.cos(fan * 1.25)), 26.0)
            lines.append(((side * (136.0 + 60.0 * fan), -215.0, 62.0), tip))
    return lines


def _right_finger_lines() -> list[tuple[Triple, Triple, Triple]]:
    """Return root, knuckle and tip of the right fingers; none reaches over the lantern's way up."""
    centre = np.asarray(posture.RIGHT_PALM)
    lines = []
    for angle in np.radians([-166.0, -124.0, -82.0, -40.0, 20.0]):
        out = np.array([np.cos(angle), np.sin(angle), 0.0])
        lines.append(
            (
                as_triple(centre + 74.0 * out - (0.0, 0.0, 8.0)),
                as_triple(centre + 114.0 * out + (0.0, 0.0, 6.0)),
                as_triple(centre + 118.0 * out + (0.0, 0.0, 38.0)),
            )
        )
    return lines


def _left_finger_lines() -> list[tuple[Triple, Triple]]:
    reach = np.asarray(posture.LEFT_REACH) / np.linalg.norm(posture.LEFT_REACH)
    across = np.cross(reach, posture.LEFT_BACK_OF_HAND)
    across /= np.linalg.norm(across)
    palm = np.asarray(posture.LEFT_PALM)
    lines = []
    for offset in (-0.9, -0.3, 0.3, 0.9):
        root = palm + 52.0 * reach + 52.0 * offset * across
        tip = palm + (122.0 - 16.0 * abs(offset)) * reach + 74.0 * offset * across
        lines.append((as_triple(root), as_triple(tip)))
    return lines
