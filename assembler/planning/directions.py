"""Which directions are worth trying? Normals of joints, axes of bolts and of the figure, lines of grooves."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assembler.figure.parts import Vector
from assembler.geometry.facenormals import large_face_normals
from assembler.planning.scene import PartSet, Scene

SAME_DEG = 3.0
"""Directions nearer than this are one."""

GROOVE_DEG = 0.3
"""A slider in a tight groove needs its direction more exactly."""


def candidate_directions(scene: Scene) -> tuple[Vector, ...]:
    """Directions worth trying, up first: joint normals, bolt axes, the axes of the figure, and sums of two normals.

    A part that meets two faces at once is best moved between their normals, so that it wipes neither.

    Parameters
    ----------
    scene
        The figure.
    """
    found: list[Vector] = []
    up = np.asarray(scene.up, dtype=np.float64)
    _add(found, up)
    for axis in np.eye(3):
        _add(found, axis)
        _add(found, -axis)
    for joint in scene.joints:
        _add(found, np.asarray(joint.normal))
        _add(found, -np.asarray(joint.normal))
    for number in range(len(scene.parts)):
        normals = _leaving_normals(scene, number)
        for k, first in enumerate(normals):
            for second in normals[k + 1 :]:
                if -0.5 < float(first @ second) < 0.94:
                    _add(found, first + second)
    for joint in scene.joints:
        for bolt in joint.bolts[:1]:
            _add(found, np.asarray(bolt.axis))
            _add(found, -np.asarray(bolt.axis))
    for mesh in scene.meshes:
        _add_grooves(found, large_face_normals(mesh))
    return tuple(found)


def _add_grooves(found: list[Vector], faces: Sequence[Vector]) -> None:
    """Lines in which large flat faces of a part meet: a slider moves along its flanks, whatever its joint says."""
    normals = [np.asarray(normal) for normal in faces]
    for k, first in enumerate(normals):
        for second in normals[k + 1 :]:
            line = np.cross(first, second)
            if float(np.linalg.norm(line)) > 0.2:
                _add(found, line, GROOVE_DEG)
                _add(found, -line, GROOVE_DEG)


def _leaving_normals(scene: Scene, number: int) -> list[NDArray[np.float64]]:
    """Mean normals along which a part leaves its neighbours, different ones only."""
    found: list[Vector] = []
    for joint, pair in zip(scene.joints, scene.pairs, strict=True):
        if number in pair:
            _add(found, np.asarray(joint.normal) * (1.0 if pair[1] == number else -1.0))
    return [np.asarray(vector) for vector in found]


def _add(found: list[Vector], vector: NDArray[np.float64], apart_deg: float = SAME_DEG) -> None:
    length = float(np.linalg.norm(vector))
    if length < 1e-9:
        return
    x, y, z = (float(value) + 0.0 for value in vector / length)
    if all(x * a + y * b + z * c < math.cos(math.radians(apart_deg)) for a, b, c in found):
        found.append((x, y, z))


def leaving_normals(scene: Scene, moving: PartSet, standing: PartSet) -> list[NDArray[np.float64]]:
    """Normals of the joints between two sets, out of what stands; nearly equal ones once."""
    found: list[Vector] = []
    for number in scene.joints_between(moving, standing):
        first, _ = scene.pairs[number]
        _add(found, np.asarray(scene.joints[number].normal) * (-1.0 if moving >> first & 1 else 1.0))
    return [np.asarray(vector) for vector in found]


def leg_axes(scene: Scene, moving: PartSet, standing: PartSet) -> tuple[Vector, ...]:
    """Directions for legs: up, leaving normals and the lines in which their faces meet, the axes of the figure."""
    normals = leaving_normals(scene, moving, standing)
    found: list[Vector] = []
    _add(found, np.asarray(scene.up, dtype=np.float64))
    for normal in normals:
        _add(found, normal)
    for axis in np.eye(3):
        _add(found, axis)
        _add(found, -axis)
    for k, first in enumerate(normals):
        for second in normals[k + 1 :]:
            line = np.cross(first, second)
            _add(found, line)
            _add(found, -line)
            if -0.5 < float(first @ second) < 0.94:
                _add(found, first + second)
    return tuple(found)


def suggested(scene: Scene, moving: PartSet, standing: PartSet) -> list[NDArray[np.float64]]:
    """Up, the normals along which the set leaves its neighbours, and the sums of two and of all of them."""
    normals = leaving_normals(scene, moving, standing)
    vectors = [np.asarray(scene.up), *normals]
    if len(normals) > 1:
        vectors += [a + b for k, a in enumerate(normals) for b in normals[k + 1 :]]
        vectors.append(np.sum(normals, axis=0))
    return [vector for vector in vectors if np.linalg.norm(vector) > 0.1]
