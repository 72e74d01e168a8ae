"""Exports whose triangles do not share their corners: the same joints, and one line that says so."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh

from assembler.project import open_project
from tests.pipeline.tower import BOLTS, write_tower


@pytest.mark.parametrize("share", [0.2, 1.0])
def test_unwelded_parts_give_the_joints_of_the_welded_ones(share: float, tmp_path: Path) -> None:
    whole = write_tower(tmp_path / "welded")
    torn = tmp_path / "torn"
    torn.mkdir()
    chance = np.random.default_rng(3)
    for path in sorted(whole.glob("*.stl")):
        corners = np.array(trimesh.load(path).triangles)
        some = chance.random(len(corners)) < share
        corners += some[:, None, None] * chance.uniform(-1e-4, 1e-4, corners.shape)
        faces = np.arange(3 * len(corners)).reshape(-1, 3)
        trimesh.Trimesh(corners.reshape(-1, 3), faces, process=False).export(torn / path.name)
    told: list[str] = []
    project = open_project(tmp_path / "project", told.append, parts_from=torn)
    assert [len(joint.bolts) for joint in project.joints] == [BOLTS, BOLTS]
    assert all(part.is_watertight for part in project.parts)
    unwelded = [finding for finding in project.findings if finding.code == "mesh-unwelded"]
    assert [str(finding.message).partition(":")[0] for finding in unwelded] == ["3 of 3 parts came unwelded"]
    expected = open_project(tmp_path / "other", told.append, parts_from=whole)
    for one, two in zip(project.joints, expected.joints, strict=True):
        assert one.bond_area_mm2 == pytest.approx(two.bond_area_mm2, rel=1e-4)
        # Where the count of bolts begins hangs on the order of corners in the file.
        for bolt in one.bolts:
            near = min(two.bolts, key=lambda other: math.dist(bolt.at_mm, other.at_mm))
            assert bolt.at_mm == pytest.approx(near.at_mm, abs=0.01)
            assert bolt.grip_mm == pytest.approx(near.grip_mm, abs=0.01)
