"""Boxes round a body in many positions: standing, on its head, lying on each face of its hull, turned in plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Points
from assembler.figure.parts import Vector
from assembler.geometry.solids import as_vector, edge_angles, face_normals
from assembler.geometry.sweeps import frame_of

_SAME = 0.999
"""Cosine from which two directions are one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrientedBox:
    """A box round a body in one position.

    Parameters
    ----------
    size_mm
        Longer edge on the ground, shorter one, height.
    up
        Direction of the body that is up in this position, unit vector.
    along
        Direction of the body along the longer edge, unit vector.
    """

    size_mm: Vector
    up: Vector
    along: Vector


def standing_boxes(hull: Points, up: Vector) -> list[OrientedBox]:
    """Boxes round a body with a direction up, turned to each edge of its outline.

    Parameters
    ----------
    hull : (n, 3) float64, mm
        Corners of its convex hull.
    up
        Unit vector.
    """
    first, second = (np.asarray(axis) for axis in frame_of(up)[:2])
    rise = hull @ np.asarray(up)
    height = float(rise.max() - rise.min())
    flat = np.column_stack((hull @ first, hull @ second))
    found = []
    for angle in edge_angles(flat):
        along = np.cos(angle) * first + np.sin(angle) * second
        across = np.cos(angle) * second - np.sin(angle) * first
        length, width = (float(np.ptp(hull @ axis)) for axis in (along, across))
        if length < width:
            length, width, along = width, length, across
        found.append(OrientedBox(size_mm=(length, width, height), up=up, along=as_vector(along)))
    return found


def lying_directions(hull: Points, up: Vector, most: int = 24) -> list[Vector]:
    """What may be up when a body lies: its own axes, the sides of its frame, and the faces of its hull turned down.

    Parameters
    ----------
    hull : (n, 3) float64, mm
        Corners of its convex hull.
    up
        Unit vector that is up when it stands; not among the answers.
    most
        Faces of the hull that are tried.
    """
    frame = np.asarray(frame_of(up)[:2])
    axes = np.linalg.svd(hull - hull.mean(axis=0), full_matrices=False)[2]
    tried: list[NDArray[np.float64]] = [*frame, *-frame, *axes, *-axes, *-face_normals(hull, most), -np.asarray(up)]
    found: list[NDArray[np.float64]] = []
    for direction in tried:
        known = [np.asarray(up), *found]
        if all(float(direction @ other) < _SAME for other in known):
            found.append(direction)
    return [as_vector(direction) for direction in found]
