"""A small figure with known joints: an open-topped tower of two flanged rings on a plate, for runs from end to end."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import trimesh
from manifold3d import Manifold, OpType

OUTER_MM, WALL_MM, FLANGE_MM, FLANGE_THICK_MM = 150.0, 6.0, 30.0, 10.0
HOLE_MM, BOLTS, LEVEL_MM, PLATE_MM = 9.0, 6, 200.0, 20.0
CIRCLE_MM = OUTER_MM - WALL_MM - FLANGE_MM / 2


def _tube(outer: float, inner: float, low: float, high: float) -> Manifold:
    body = Manifold.cylinder(high - low, outer, circular_segments=128)
    hollow = Manifold.cylinder(high - low + 2, inner, circular_segments=128).translate([0, 0, -1])
    return (body - hollow).translate([0, 0, low])


def _holes(low: float, high: float) -> Manifold:
    # A regular polygon with its corners on the true circle, as modellers export it.
    hole = Manifold.cylinder(high - low + 2, HOLE_MM / 2, circular_segments=48)
    angles = [2 * math.pi * k / BOLTS for k in range(BOLTS)]
    places = [[CIRCLE_MM * math.cos(angle), CIRCLE_MM * math.sin(angle), low - 1] for angle in angles]
    return Manifold.batch_boolean([hole.translate(place) for place in places], OpType.Add)


def _ring(low: float, *, has_top_flange: bool) -> Manifold:
    high = low + LEVEL_MM
    inner = OUTER_MM - WALL_MM
    body = _tube(OUTER_MM, inner, low, high)
    body += _tube(inner + 1, inner - FLANGE_MM, low, low + FLANGE_THICK_MM)
    body -= _holes(low, low + FLANGE_THICK_MM)
    if has_top_flange:
        body += _tube(inner + 1, inner - FLANGE_MM, high - FLANGE_THICK_MM, high)
        body -= _holes(high - FLANGE_THICK_MM, high)
    return body


def tower_parts() -> dict[str, Manifold]:
    """Solids of the tower by file name, z up, the plate's top at z = 0."""
    side = 2 * OUTER_MM + 60
    plate = Manifold.cube([side, side, PLATE_MM], True).translate([0, 0, -PLATE_MM / 2]) - _holes(-PLATE_MM, 0)
    feet = [
        Manifold.cube([60, 60, 140], True).translate([x * (side / 2 - 30), y * (side / 2 - 30), -PLATE_MM - 70])
        for x in (-1, 1)
        for y in (-1, 1)
    ]
    for foot in feet:
        plate += foot
    return {
        "base plate.stl": plate,
        "ring lower.stl": _ring(0.0, has_top_flange=True),
        "ring upper.stl": _ring(LEVEL_MM, has_top_flange=False),
    }


def write_tower(folder: Path) -> Path:
    """Write the tower's parts as STL files; returns the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, solid in tower_parts().items():
        mesh = solid.to_mesh64()
        trimesh.Trimesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts), process=False).export(
            folder / name
        )
    return folder


def flange_area_mm2() -> float:
    """Net facing area between two of the 128-sided flanges, closed form."""

    def polygon(radius: float, sides: int) -> float:
        return sides / 2 * radius**2 * math.sin(2 * math.pi / sides)

    ring = polygon(OUTER_MM, 128) - polygon(OUTER_MM - WALL_MM - FLANGE_MM, 128)
    return ring - BOLTS * polygon(HOLE_MM / 2, 48)
