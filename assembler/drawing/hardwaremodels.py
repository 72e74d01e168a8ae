"""Screws, washers and nuts as simple bodies of true size.

In: a `Stack`. Out: meshes that stand on the origin with their axis along +z. Threads are left away: on paper they are
finer than a line.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembler.figure.hardware import Stack
from assembler.figure.mesh import Mesh

Floats = NDArray[np.float64]

_SIDES = 32


def nominal_mm(stack: Stack) -> float:
    """Thread diameter from the size ('M8' is 8 mm).

    Raises
    ------
    ValueError
        If the size is not 'M' and a number.
    """
    if not stack.size.startswith("M"):
        raise ValueError(f"bolt {stack.bolt}: size {stack.size!r} is not of the form 'M8'")
    return float(stack.size[1:])


def screw(stack: Stack) -> Mesh:
    """Shank from z = -length up to 0, the head above; hexagonal or, for a socket head, round."""
    shank = _prism(_circle(nominal_mm(stack) / 2.0, _SIDES), -stack.length_mm, 0.0)
    if stack.across_flats_mm > 0.0:
        outline = _circle(stack.across_flats_mm / np.sqrt(3.0), 6)
    else:
        outline = _circle(stack.head_outer_mm / 2.0, _SIDES)
    return _joined([shank, _prism(outline, 0.0, max(stack.head_mm, 0.1))])


def washer(stack: Stack) -> Mesh:
    """Flat ring from z = 0 to its thickness."""
    return _ring(_circle(stack.washer_outer_mm / 2.0, _SIDES), nominal_mm(stack) / 2.0 + 0.25, stack.washer_mm)


def nut(stack: Stack) -> Mesh:
    """Hexagon from z = 0 to its height, with its bore."""
    angles = np.linspace(0.0, 2.0 * np.pi, _SIDES * 3, endpoint=False) + np.pi / 6.0
    half = stack.nut_across_flats_mm / 2.0
    radius = half / np.cos((angles - np.pi / 6.0) % (np.pi / 3.0) - np.pi / 6.0)
    outline = np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])
    return _ring(outline, nominal_mm(stack) / 2.0, stack.nut_mm)


def _circle(radius: float, sides: int) -> Floats:
    angles = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    return np.column_stack([radius * np.cos(angles), radius * np.sin(angles)])


def _prism(outline: Floats, low: float, high: float) -> Mesh:
    """Closed prism over a convex outline that runs counter-clockwise."""
    count = len(outline)
    vertices = np.vstack([np.column_stack([outline, np.full(count, z)]) for z in (low, high)])
    here = np.arange(count)
    there = (here + 1) % count
    sides = np.vstack(
        [np.column_stack([here, there, there + count]), np.column_stack([here, there + count, here + count])]
    )
    fan = np.column_stack([np.zeros(count - 2, dtype=int), np.arange(1, count - 1), np.arange(2, count)])
    return Mesh(vertices=vertices, faces=np.vstack([sides, fan[:, ::-1], fan + count]))


def _ring(outline: Floats, bore_mm: float, height: float) -> Mesh:
    """Closed ring between an outline and a round bore."""
    count = len(outline)
    angles = np.arctan2(outline[:, 1], outline[:, 0])
    inner = bore_mm * np.column_stack([np.cos(angles), np.sin(angles)])
    loops = [
        np.column_stack([loop, np.full(count, z)])
        for loop, z in ((outline, 0.0), (outline, height), (inner, 0.0), (inner, height))
    ]
    here = np.arange(count)
    there = (here + 1) % count

    def band(first: int, second: int) -> NDArray[np.int64]:
        a, b, c, d = here + first * count, there + first * count, there + second * count, here + second * count
        return np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])

    faces = np.vstack([band(0, 1), band(1, 3), band(3, 2), band(2, 0)])
    return Mesh(vertices=np.vstack(loops), faces=faces)


def _joined(meshes: list[Mesh]) -> Mesh:
    shift = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])[:-1]
    return Mesh(
        vertices=np.vstack([mesh.vertices for mesh in meshes]),
        faces=np.vstack([mesh.faces + first for mesh, first in zip(meshes, shift, strict=True)]),
    )
