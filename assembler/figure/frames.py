"""Frames that go with an up axis: plan and elevation of a figure whose files have another axis up than z."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Points
from assembler.figure.parts import Vector


def plan_frame(up: Vector) -> NDArray[np.float64]:
    """Rows: the two axes of the plan and up, right-handed; x, y, z where up is z.

    Parameters
    ----------
    up
        Unit vector, frame of the mesh files.

    Returns
    -------
    (3, 3) float64
    """
    rise = np.asarray(up, dtype=np.float64)
    rise = rise / np.linalg.norm(rise)
    main = int(np.argmax(np.abs(rise)))
    first = np.eye(3)[(main + 1) % 3]
    first = first - (first @ rise) * rise
    first /= np.linalg.norm(first)
    # Adding 0 turns -0 into 0.
    return np.array([first, np.cross(rise, first), rise]) + 0.0


def upright_box(low_mm: Vector, high_mm: Vector, up: Vector) -> tuple[Vector, Vector]:
    """A box of the mesh files as it stands: lowest and highest corner in the axes of `plan_frame`.

    Exact where `up` is one of the axes of the files; the box around the turned box otherwise.

    Parameters
    ----------
    low_mm, high_mm
        Corners, frame of the mesh files.
    up
        Unit vector.
    """
    span: Points = np.array([low_mm, high_mm])
    corners = np.array([(span[i, 0], span[j, 1], span[k, 2]) for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    placed = corners @ plan_frame(up).T
    low, high = placed.min(axis=0), placed.max(axis=0)
    return (float(low[0]), float(low[1]), float(low[2])), (float(high[0]), float(high[1]), float(high[2]))


def upright_point(point_mm: Vector, up: Vector) -> Vector:
    """A point of the mesh files in the axes of `plan_frame`."""
    x, y, z = (plan_frame(up) @ np.asarray(point_mm)).tolist()
    return (x, y, z)
