"""Areas of a rough surface against those of the smooth one below it."""

from __future__ import annotations

import numpy as np
import pytest
from manifold3d import Manifold

from assembler.geometry.facenormals import seen_areas, smoothed_normals
from assembler.geometry.samples import share_samples
from tests.survey.part_sets import mesh_of, noisy


@pytest.mark.parametrize("edge_mm", [1.0, 3.0])
def test_noise_adds_no_area(edge_mm: float) -> None:
    box = mesh_of(Manifold.cube((60.0, 40.0, 30.0)).refine_to_length(edge_mm))
    rough = noisy(box, seed=3)
    own = np.linalg.norm(np.cross(*np.diff(rough.corners, axis=1).swapaxes(0, 1)), axis=1).sum() / 2
    seen = seen_areas(rough, smoothed_normals(rough)).sum()
    true = 2 * (60 * 40 + 60 * 30 + 40 * 30)
    assert abs(seen - true) < 0.004 * true
    assert abs(seen - true) < abs(own - true)


def test_shares_of_the_samples_make_whole_faces() -> None:
    mesh = mesh_of(Manifold.sphere(50.0, 24))
    samples, share = share_samples(mesh, 2.0)
    np.testing.assert_allclose(np.bincount(samples.face, share), 1.0)


def test_shares_are_where_the_area_is() -> None:
    """A row's points lie at its middle height, not at its centroid: that much is allowed."""
    mesh = mesh_of(Manifold.tetrahedron().scale((30.0, 30.0, 30.0)))
    samples, share = share_samples(mesh, 1.0)
    for face in range(4):
        chosen = samples.face == face
        centroid = (samples.points[chosen] * share[chosen, None]).sum(axis=0)
        assert np.linalg.norm(centroid - mesh.corners[face].mean(axis=0)) < 0.1
