"""Outlines of flat regions whose rims cross each other."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from assembler.figure.mesh import Mesh
from assembler.geometry.flats import Flat
from assembler.geometry.outlines import outlines_of

CROSSING_SLIVERS = (
    ((129.66, -98.67), (132.67, -97.84), (134.52, -96.61)),
    ((132.86, -97.71), (133.13, -97.53), (129.91, -98.65)),
    ((104.3, -120.52), (104.72, -119.74), (105.28, -119.06)),
)
"""Rims of three slivers, out of a re-meshed flange, of which no area can be built: a topology exception."""


def test_rims_that_cross_give_the_union_of_their_faces() -> None:
    flat = Flat(normal=np.array([0.0, 0, 1]), origin=np.zeros(3), faces=np.arange(3), spread_mm=0.0)
    triangles = [np.array(corners) for corners in CROSSING_SLIVERS]
    mesh = Mesh(vertices=np.vstack(triangles) @ flat.frame, faces=np.arange(9).reshape(3, 3))
    (outline,) = outlines_of(mesh, [flat])
    one, two, three = map(shapely.Polygon, triangles)
    assert shapely.intersection(one, three).is_empty
    expected = one.area + two.area + three.area - shapely.intersection(one, two).area
    assert outline.polygon.area == pytest.approx(expected, abs=1e-3)
