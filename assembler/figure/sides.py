"""Left, right, front and back of the figure, as it sees itself: from a direction to a side.

Words, orders and pictures ask here, so that one side has one name over all pages.
"""

from __future__ import annotations

import numpy as np

from assembler.figure.parts import Vector

STEEP = 0.9
"""Cosine to up from which a direction has no side."""
EVEN = 0.3827
"""Sine of 22.5 degrees: what is nearer to one of the four sides is called by that one alone."""


def usual_front(up: Vector) -> Vector:
    """Where a figure is taken to face that nobody said it of: -y, or +z where y is up (the habit of modelling)."""
    return (0.0, -1.0, 0.0) if abs(up[1]) < STEEP else (0.0, 0.0, 1.0)


def side_of(direction: Vector, up: Vector, front: Vector) -> str:
    """The side that a direction out of the figure points to: 'front', 'back_left', ...; empty for up and down.

    Parameters
    ----------
    direction
        Of any length, not zero.
    up, front
        Unit vectors; `front` is taken square to `up`.
    """
    rise, out = np.asarray(up, dtype=np.float64), np.asarray(direction, dtype=np.float64)
    out = out / np.linalg.norm(out)
    ahead = np.asarray(front, dtype=np.float64)
    ahead = ahead - float(ahead @ rise) * rise
    ahead = ahead / np.linalg.norm(ahead)
    left = np.cross(rise, ahead)
    level = out - float(out @ rise) * rise
    length = float(np.linalg.norm(level))
    if length < (1.0 - STEEP**2) ** 0.5:
        return ""
    along, aside = float(level @ ahead) / length, float(level @ left) / length
    names = []
    if abs(along) > EVEN:
        names.append("front" if along > 0.0 else "back")
    if abs(aside) > EVEN:
        names.append("left" if aside > 0.0 else "right")
    return "_".join(names)
