"""How does a section lie in its crate? The lowest position that rests on enough of its skin.

An ear, a finger or an edge bears little area, so a position that would rest on one is left out, and so is one whose
centre of mass lies near the edge of what bears.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from assembler.engineering.constants import GRAVITY_M_S2
from assembler.engineering.crating import BEARS_MPA, BED_MM, CLEAR_MM, STEADY_DEG
from assembler.engineering.standing import tip_angle_deg
from assembler.figure.consignment import Bed
from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector
from assembler.geometry.orientedboxes import OrientedBox, lying_directions, standing_boxes
from assembler.geometry.solids import hull_points

FACING_DOWN = 0.7
"""Cosine from which a face of the underside bears: 45 degrees."""


def bed_of(
    meshes: Sequence[Mesh], mass_kg: float, centre_mm: Vector, up: Vector, fits: Callable[[Vector], bool]
) -> Bed:
    """The lowest position with its centre of mass well inside enough bearing skin; standing where there is none.

    Parameters
    ----------
    meshes
        Parts of the section, frame of the figure.
    mass_kg, centre_mm
        Of the section.
    up
        What is up in the figure.
    fits
        Whether the crate round a box goes on to the vehicle.
    """
    skin = _Skin(meshes)
    hull = hull_points(np.vstack([mesh.vertices for mesh in meshes]))
    tried = [_bed(skin, box, centre_mm, up) for box in _boxes(hull, up) if fits(box.size_mm)]
    needed_mm2 = mass_kg * GRAVITY_M_S2 / BEARS_MPA
    safe = [bed for bed in tried if bed.borne_mm2 >= needed_mm2 and bed.tip_deg >= STEADY_DEG]
    if safe:
        # Lower is safer on the road; between positions equally low, as it stands.
        return min(safe, key=lambda bed: (round(bed.centre_mm[2] / 50.0), not bed.is_standing, -bed.borne_mm2))
    return max(tried or [_bed(skin, standing_boxes(hull, up)[0], centre_mm, up)], key=lambda bed: bed.tip_deg)


def _boxes(hull: Points, up: Vector) -> Iterator[OrientedBox]:
    """For each position the box with the smallest plan."""
    for way in (up, *lying_directions(hull, up)):
        yield min(standing_boxes(hull, way), key=lambda box: (box.size_mm[0] * box.size_mm[1], box.along))


class _Skin:
    """Triangles of a section: middles, normals, areas."""

    def __init__(self, meshes: Sequence[Mesh]) -> None:
        corners = np.concatenate([mesh.vertices[mesh.faces] for mesh in meshes])
        across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        doubled = np.linalg.norm(across, axis=1)
        kept = doubled > 1e-9
        self.corners = corners[kept]
        self.middles: NDArray[np.float64] = self.corners.mean(axis=1)
        self.normals: NDArray[np.float64] = across[kept] / doubled[kept][:, None]
        self.areas: NDArray[np.float64] = doubled[kept] / 2.0


def _bed(skin: _Skin, box: OrientedBox, centre_mm: Vector, up: Vector) -> Bed:
    rise, along = np.asarray(box.up), np.asarray(box.along)
    across = np.cross(rise, along)
    frame = np.array([along, across, rise])
    points = skin.corners.reshape(-1, 3) @ frame.T
    low = points.min(axis=0)
    centre = frame @ np.asarray(centre_mm) - low
    bears = (skin.middles @ rise - low[2] <= BED_MM) & (skin.normals @ rise < -FACING_DOWN)
    borne = float((skin.areas[bears] * -(skin.normals[bears] @ rise)).sum())
    corners = skin.corners[bears].reshape(-1, 3) @ frame.T - low
    corners = corners[corners[:, 2] <= BED_MM]
    tip = -90.0
    if len(corners):
        tip = tip_angle_deg(corners[:, :2], (float(centre[0]), float(centre[1]), float(centre[2])), (0.0, 0.0, 1.0))
    places = skin.middles[bears] @ along - low[0]
    cradles, shares = _cradles(places, skin.areas[bears], float(centre[0]), box.size_mm[0])
    return Bed(
        up=box.up,
        along=box.along,
        size_mm=box.size_mm,
        centre_mm=(float(centre[0]), float(centre[1]), float(centre[2])),
        is_standing=float(rise @ np.asarray(up)) > 0.999,
        borne_mm2=borne,
        tip_deg=tip,
        cradles_mm=cradles,
        shares=shares,
    )


def _cradles(
    places: NDArray[np.float64], areas: NDArray[np.float64], centre_mm: float, length_mm: float
) -> tuple[tuple[float, float], tuple[float, float]]:
    """A cradle on each side of the centre of mass, under what bears there, and the share of the mass on each."""
    found = []
    for side, usual in ((places < centre_mm, 0.5 * centre_mm), (places >= centre_mm, 0.5 * (centre_mm + length_mm))):
        weight = float(areas[side].sum())
        found.append(float((places[side] * areas[side]).sum() / weight) if weight > 0.0 else usual)
    first, second = found
    share = (centre_mm - first) / (second - first) if second > first else 0.5
    return (first + CLEAR_MM, second + CLEAR_MM), (1.0 - share, share)
