"""What is the outline of a flat region? Faces in, polygons and openings out.

One of the modules that own shapely (with `facing` and `openings`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from assembler.figure.mesh import Mesh, Points
from assembler.geometry.flats import Flat
from assembler.geometry.healing import rim_loops
from assembler.geometry.openings import Opening, openings_of_loop
from assembler.geometry.rims import EdgeIndex

_SNAP_MM = 1e-5
"""Grid on which overlapping triangles are united: without one, unions of thousands of folded faces can fail."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """A flat region as a polygon in its own plane.

    Parameters
    ----------
    flat
        The region.
    polygon
        Shapely geometry in the coordinates of `flat.frame` about `flat.origin`, mm.
    openings
        Inner loops, those with a bolt's size only.
    rim : (k, 2, 2) float64
        Edges of the region in its own plane.
    rim_beyond : (k,) int64
        Face of the mesh on the other side of each edge; -1 where there is none.
    low_mm, high_mm : (3,) float64
        Box of the region.
    """

    flat: Flat
    polygon: BaseGeometry
    openings: tuple[Opening, ...]
    rim: NDArray[np.float64]
    rim_beyond: NDArray[np.int64]
    low_mm: NDArray[np.float64]
    high_mm: NDArray[np.float64]


def outlines_of(mesh: Mesh, flats: Sequence[Flat]) -> tuple[Outline, ...]:
    """Polygon and openings of each flat region of a mesh."""
    if not flats:
        return ()
    index = EdgeIndex(mesh, np.concatenate([flat.faces for flat in flats]))
    return tuple(_outline(mesh, flat, index) for flat in flats)


def _outline(mesh: Mesh, flat: Flat, index: EdgeIndex) -> Outline:
    faces = mesh.faces[flat.faces]
    rim, beyond = index.rim_of(flat.faces)
    frame = flat.frame
    chains = rim_loops(rim)
    loops = [(mesh.vertices[chain] - flat.origin) @ frame.T for chain in chains]
    polygon = _polygon(loops)
    if polygon is None or abs(polygon.area - _projected_area(mesh, flat)) > 0.02 * polygon.area + 1.0:
        polygon = _union(mesh, flat)
    used = mesh.vertices[np.unique(faces)]
    behind = dict(zip(map(tuple, rim.tolist()), beyond.tolist(), strict=True))
    openings: list[Opening] = []
    for chain, loop in zip(chains, loops, strict=True):
        openings += openings_of_loop(mesh, chain, loop, flat, behind)
    return Outline(
        flat=flat,
        polygon=polygon,
        openings=tuple(openings),
        rim=(mesh.vertices[rim] - flat.origin) @ frame.T,
        rim_beyond=beyond,
        low_mm=used.min(axis=0),
        high_mm=used.max(axis=0),
    )


def _polygon(loops: list[Points]) -> BaseGeometry | None:
    """Polygon between the loops by the even-odd rule; None where the loops cross each other."""
    if not loops:
        return None
    lines = shapely.MultiLineString([np.vstack((loop, loop[:1])) for loop in loops])
    try:
        area = shapely.build_area(lines)
    except shapely.errors.GEOSException:
        # Its answer to folded faces, where a loop crosses itself.
        return None
    return area if not area.is_empty and area.is_valid else None


def _union(mesh: Mesh, flat: Flat) -> BaseGeometry:
    corners = (mesh.vertices[mesh.faces[flat.faces]] - flat.origin) @ flat.frame.T
    triangles = shapely.polygons(corners)
    return shapely.union_all(triangles[shapely.is_valid(triangles)], grid_size=_SNAP_MM)


def _projected_area(mesh: Mesh, flat: Flat) -> float:
    corners = (mesh.vertices[mesh.faces[flat.faces]] - flat.origin) @ flat.frame.T
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return float((one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]).sum() / 2)
