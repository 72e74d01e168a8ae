"""STEP files through the optional library: solids, unit, holes, and what is said when something is missing."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from assembler.errors import MeshFileError
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry import stepfiles
from assembler.geometry.healing import heal
from assembler.geometry.meshfiles import read_bodies
from assembler.geometry.solids import mass_properties
from assembler.survey.joints import survey_joints
from tests.geometry.step_files import write_step

needs_reader = pytest.mark.skipif(
    not stepfiles.has_step_reader(), reason="the optional library for STEP is not installed: pip install '.[step]'"
)
LOW = ((-50.0, -40.0, 0.0), (50.0, 40.0, 10.0), (20.0, 0.0, 4.5))
HIGH = ((-50.0, -40.0, 10.0), (50.0, 40.0, 22.0), (20.0, 0.0, 4.5))


@needs_reader
def test_solid_has_the_volume_of_the_drawing(tmp_path: Path) -> None:
    write_step(tmp_path / "low.step", {"low": LOW})
    (body,) = read_bodies(tmp_path / "low.step")
    assert body.unit_mm == 1000.0
    healed = heal(Mesh(vertices=body.mesh.vertices * 1000.0, faces=body.mesh.faces), Tolerances())
    assert healed.is_watertight
    assert healed.notes == ()
    volume = mass_properties(healed.mesh).volume_mm3
    assert volume == pytest.approx((100 * 80 - math.pi * 4.5**2) * 10, rel=1e-4)


@needs_reader
def test_unit_of_the_file_is_kept(tmp_path: Path) -> None:
    write_step(
        tmp_path / "low.stp", {"low": ((0, 0, 0), (0.1, 0.08, 0.01), (0.05, 0.04, 0.0045))}, "SI_UNIT($,.METRE.)"
    )
    (body,) = read_bodies(tmp_path / "low.stp")
    size = (body.mesh.vertices.max(axis=0) - body.mesh.vertices.min(axis=0)) * body.unit_mm
    assert size == pytest.approx((100.0, 80.0, 10.0), abs=1e-3)


@needs_reader
def test_joint_and_bolt_of_two_solids_in_one_file_are_found(tmp_path: Path) -> None:
    write_step(tmp_path / "both.step", {"low": LOW, "high": HIGH})
    bodies = read_bodies(tmp_path / "both.step", is_whole_figure=True)
    assert len(bodies) == 2
    meshes = {
        PartId(f"P{body.index}"): Mesh(vertices=body.mesh.vertices * 1000.0, faces=body.mesh.faces) for body in bodies
    }
    (joint,) = survey_joints(meshes, Tolerances()).joints
    (bolt,) = joint.bolts
    assert joint.bond_area_mm2 == pytest.approx(100 * 80 - math.pi * 4.5**2, rel=1e-4)
    assert bolt.hole_mm == pytest.approx(9.0, abs=0.01)
    assert bolt.grip_mm == pytest.approx(22.0, abs=0.01)
    assert bolt.at_mm[:2] == pytest.approx((20.0, 0.0), abs=0.01)


@needs_reader
@pytest.mark.parametrize(
    ("keep", "wrong"), [(slice(0, 3000), "cut short"), (slice(40, None), "does not begin with ISO-10303-21")]
)
def test_broken_file_is_named(keep: slice, wrong: str, tmp_path: Path) -> None:
    path = tmp_path / "low.step"
    write_step(path, {"low": LOW})
    path.write_bytes(path.read_bytes()[keep])
    with pytest.raises(MeshFileError, match=wrong):
        read_bodies(path)


def test_missing_library_is_said_with_the_remedy(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(stepfiles, "_triangulated", None)
    write_step(tmp_path / "low.step", {"low": LOW})
    with pytest.raises(MeshFileError, match=r"assembler\[step\]"):
        read_bodies(tmp_path / "low.step")
