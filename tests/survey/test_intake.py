"""From a folder of files to parts: names, units, faults, and what is doubtful about the parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from assembler.engineering.questions import open_decisions
from assembler.errors import MeshFileError
from assembler.figure.ids import PartId
from assembler.figure.joints import Origin
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Adhesive, Envelopes, Material, Settings
from assembler.figure.tolerances import Tolerances
from assembler.survey.intake import Intake, make_parts, read_parts
from assembler.survey.joints import survey_joints
from assembler.survey.partcheck import check_parts

ADHESIVE = Adhesive(
    name="two-part",
    bond_line_mm=0.2,
    waste=0.3,
    cartridge_ml=50,
    open_min=10,
    working_life_min=15,
    fixture_min=60,
    handling_min=240,
    full_cure_min=1440,
    sheet_c=23,
    lowest_c=10,
    highest_c=30,
    strength_mpa=0,
    spacer="",
    source="test",
)


def settings(printer_mm: tuple[float, float, float] | None = None) -> Settings:
    plastic = Material(name="plastic", density_kg_m3=1200.0, bearing_mpa=20.0, source="test")
    return Settings(
        name="test",
        materials={"plastic": plastic},
        default_material="plastic",
        adhesive=ADHESIVE,
        envelopes=Envelopes(printer_mm=printer_mm),
    )


def write_box(path: Path, size: tuple[float, float, float], at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> None:
    box = trimesh.creation.box(size)
    box.apply_translation(at)
    box.export(path)


def block(low_mm: float) -> np.ndarray:
    """Triangles of a box of 100 x 100 x 50 that stands at a height."""
    box = trimesh.creation.box((100, 100, 50))
    return np.asarray(box.triangles) + (0.0, 0.0, low_mm + 25.0)


def write_triangles(path: Path, corners: np.ndarray) -> None:
    """Each triangle with corners of its own, as an STL holds them."""
    trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False).export(path)


def read(folder: Path, unit_mm: float | None = 1.0) -> Intake:
    return read_parts(folder, unit_mm=unit_mm, tolerances=Tolerances())


def checked(folder: Path, with_settings: Settings | None = None) -> list[str]:
    parts, meshes = parts_of(folder, with_settings or settings())
    return [finding.code for finding in check_parts(parts, meshes, with_settings or settings())]


def parts_of(folder: Path, with_settings: Settings) -> tuple[tuple[Part, ...], Mapping[PartId, Mesh]]:
    intake = read(folder)
    ids = {body.file: PartId(body.file) for body in intake.bodies}
    return make_parts(intake, ids, with_settings), {ids[body.file]: body.mesh for body in intake.bodies}


class TestReading:
    def test_names_by_humans_and_natural_order(self, tmp_path: Path) -> None:
        for name in ("Teil 10.stl", "Teil 2.stl", "left arm FINAL v2.stl", "Fuß.stl"):
            write_box(tmp_path / name, (100, 100, 100))
        (tmp_path / "notes.txt").write_text("not a part")
        names = [body.file for body in read(tmp_path).bodies]
        assert names.index("Teil 2.stl") < names.index("Teil 10.stl")
        assert len(names) == 4

    def test_bodies_of_one_file_are_numbered(self, tmp_path: Path) -> None:
        both = [trimesh.creation.box((10, 10, 10)), trimesh.creation.box((5, 5, 5))]
        both[1].apply_translation((100, 0, 0))
        trimesh.util.concatenate(both).export(tmp_path / "both.stl")
        assert [body.file for body in read(tmp_path).bodies] == ["both.stl#1", "both.stl#2"]

    def test_unit_of_the_call_is_for_files_that_state_none(self, tmp_path: Path) -> None:
        write_box(tmp_path / "a.stl", (1, 1, 1))
        write_box(tmp_path / "b.glb", (1, 1, 1))
        stl, glb = read(tmp_path, unit_mm=25.4).bodies
        assert stl.fingerprint.volume_mm3 == pytest.approx(25.4**3, rel=1e-5)
        assert glb.fingerprint.volume_mm3 == pytest.approx(1e9, rel=1e-5)
        assert (stl.unit_origin, glb.unit_origin) == (Origin.STATED, Origin.STATED)

    def test_unit_that_nobody_stated_is_an_assumption(self, tmp_path: Path) -> None:
        write_box(tmp_path / "a.stl", (100, 100, 100))
        (body,) = read(tmp_path, unit_mm=None).bodies
        assert body.unit_mm == 1.0
        assert body.unit_origin is Origin.ASSUMED

    def test_mass_follows_from_volume_and_density(self, tmp_path: Path) -> None:
        write_box(tmp_path / "a.stl", (100, 200, 300))
        ((part,), _) = parts_of(tmp_path, settings())
        assert part.mass_kg == pytest.approx(0.1 * 0.2 * 0.3 * 1200)
        assert part.size_mm == pytest.approx((100, 200, 300))

    def test_open_part_takes_part_with_a_finding(self, tmp_path: Path) -> None:
        ball = trimesh.creation.icosphere(subdivisions=3, radius=100.0)
        ball.update_faces(ball.triangles_center[:, 2] < 60.0)
        ball.export(tmp_path / "open.stl")
        intake = read(tmp_path)
        assert not intake.bodies[0].is_watertight
        (finding,) = [finding for finding in intake.findings if finding.code == "not-watertight"]
        assert "open.stl" in str(finding.message)

    @pytest.mark.parametrize("is_alone", [True, False])
    def test_flush_solids_are_parts_only_where_the_file_is_the_whole_figure(
        self, tmp_path: Path, is_alone: bool
    ) -> None:
        both = [block(0.0), block(50.0)]
        write_triangles(tmp_path / "both.stl", np.concatenate(both))
        if not is_alone:
            write_box(tmp_path / "more.stl", (10, 10, 10), (500, 0, 0))
        intake = read(tmp_path)
        bodies = [body for body in intake.bodies if body.file.startswith("both")]
        assert [body.fingerprint.volume_mm3 for body in bodies] == pytest.approx([5e5, 5e5] if is_alone else [1e6])
        assert all(body.is_watertight for body in bodies)
        assert "not-watertight" not in [finding.code for finding in intake.findings]
        flush = [finding for finding in intake.findings if finding.code == "flush-solids"]
        assert [finding.about for finding in flush] == ([] if is_alone else [("both.stl",)])
        assert all("holds 2 solids" in str(finding.message) for finding in flush)

    @pytest.mark.parametrize("sheets", [1, 2])
    def test_a_wall_inside_a_closed_part_is_dropped(self, tmp_path: Path, sheets: int) -> None:
        below, above = block(0.0), block(50.0)
        wall = below[np.all(below[:, :, 2] > 49, axis=1)]
        open_above = above[~np.all(above[:, :, 2] < 51, axis=1)]
        write_triangles(tmp_path / "a.stl", np.concatenate([below, open_above, *[wall] * (sheets - 1)]))
        ((body,), findings) = (read(tmp_path).bodies, read(tmp_path).findings)
        assert body.is_watertight
        assert body.fingerprint.volume_mm3 == pytest.approx(1e6)
        assert body.fingerprint.area_mm2 == pytest.approx(2 * 1e4 + 4 * 1e4)
        assert [finding.code for finding in findings] == ["mesh-mended"]
        assert "walls inside" in str(findings[0].message)

    def test_a_fin_and_a_hole_stay_named(self, tmp_path: Path) -> None:
        fin = np.array([[[50.0, -50, 0], [50, 50, 0], [90, 0, 0]]])
        write_triangles(tmp_path / "a.stl", np.concatenate([block(0.0), fin]))
        write_triangles(tmp_path / "b.stl", block(200.0)[1:])
        assert [finding.code for finding in read(tmp_path).findings].count("not-watertight") == 2


class TestFaults:
    def test_missing_folder(self, tmp_path: Path) -> None:
        with pytest.raises(MeshFileError, match="no such folder"):
            read(tmp_path / "nowhere")

    def test_folder_without_parts(self, tmp_path: Path) -> None:
        with pytest.raises(MeshFileError, match="no part files"):
            read(tmp_path)

    def test_all_faults_at_once(self, tmp_path: Path) -> None:
        write_box(tmp_path / "good.stl", (10, 10, 10))
        (tmp_path / "bad one.stl").write_bytes(b"nothing")
        (tmp_path / "bad two.ply").write_bytes(b"nothing")
        with pytest.raises(MeshFileError) as raised:
            read(tmp_path)
        assert len(raised.value.faults) == 2


class TestChecks:
    def stack(self, folder: Path, scale: float = 1.0) -> None:
        for level in range(4):
            write_box(
                folder / f"s{level}.stl",
                (200 * scale, (180 + level) * scale, 100 * scale),
                (0, 0, (50 + 100 * level) * scale),
            )

    def test_good_set_has_nothing_to_say(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        assert checked(tmp_path, settings((400, 400, 400))) == []

    def test_figure_far_too_small_is_refused_with_its_likely_unit(self, tmp_path: Path) -> None:
        self.stack(tmp_path, 0.001)
        with pytest.raises(MeshFileError, match="metres[?] survey with --unit m,"):
            read(tmp_path)

    def test_wrong_unit_is_named_with_its_likely_cause(self, tmp_path: Path) -> None:
        self.stack(tmp_path, 1 / 25.4)
        parts, meshes = parts_of(tmp_path, settings())
        (finding,) = [f for f in check_parts(parts, meshes, settings()) if f.code == "implausible-size"]
        assert "inches" in str(finding.message)

    def test_one_part_on_another_scale(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        write_box(tmp_path / "odd.stl", (200 / 25.4, 150 / 25.4, 100 / 25.4), (0, 0, 430))
        parts, meshes = parts_of(tmp_path, settings())
        (finding,) = [f for f in check_parts(parts, meshes, settings()) if f.code == "other-scale"]
        assert finding.about == ("odd.stl",)
        assert "inches" in str(finding.message)

    def test_crumbs_are_named_and_small_parts_are_not(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        write_box(tmp_path / "crumb.stl", (6, 4, 3), (0, 0, 430))
        write_box(tmp_path / "badge.stl", (30, 20, 5), (0, 0, 460))
        parts, meshes = parts_of(tmp_path, settings())
        (finding,) = [f for f in check_parts(parts, meshes, settings()) if f.code == "crumb"]
        assert finding.about == ("crumb.stl",)
        assert "6.0 mm" in str(finding.message)

    def test_print_orientation_is_a_stop_with_the_remedy(self, tmp_path: Path) -> None:
        for number in range(6):
            write_box(tmp_path / f"p{number}.stl", (200 + number, 150, 100 + number), (0, 0, 50 + number / 2))
        parts, meshes = parts_of(tmp_path, settings())
        (finding,) = [f for f in check_parts(parts, meshes, settings()) if f.code == "print-orientation"]
        assert finding.level.value == "stop"
        assert "common origin" in str(finding.remedy)

    def test_laid_out_side_by_side_is_print_orientation_too(self, tmp_path: Path) -> None:
        for number in range(6):
            write_box(
                tmp_path / f"p{number}.stl", (200 + number, 150, 100 + number), (300 * number, 0, 50 + number / 2)
            )
        assert "print-orientation" in checked(tmp_path)
        parts, meshes = parts_of(tmp_path, settings())
        assert [f.code for f in survey_joints(meshes, Tolerances()).findings] == ["nothing-touches"]

    def test_files_whose_standard_has_y_up_are_asked_about(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        assert "up-axis" not in checked(tmp_path)
        for file in sorted(tmp_path.glob("*.stl")):
            trimesh.load_mesh(file).apply_scale(0.001).export(file.with_suffix(".glb"))
            file.unlink()
        assert checked(tmp_path).count("up-axis") == 1
        assert "up-axis" not in checked(tmp_path, replace(settings(), up=(0.0, 1.0, 0.0)))

    def test_part_too_large_for_the_printer(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        assert checked(tmp_path, settings((150, 400, 170))) == ["too-large-for-printer"] * 4

    def test_duplicate_and_twin(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        points = np.array([[0, 0, 400], [50, 4, 400], [0, 30, 407], [5, 0, 417.0]])
        arm = trimesh.convex.convex_hull(points)
        arm.export(tmp_path / "arm.stl")
        arm.export(tmp_path / "arm copy.stl")
        other = trimesh.Trimesh(arm.vertices * [-1, 1, 1], arm.faces[:, ::-1])
        other.apply_translation((-20, 0, 0))
        other.export(tmp_path / "right.stl")
        codes = checked(tmp_path)
        assert codes.count("duplicate-part") == 1
        assert codes.count("mirror-twin") == 2

    def test_overlap_is_found_and_a_flush_face_is_not(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        assert "parts-overlap" not in checked(tmp_path)
        write_box(tmp_path / "deep.stl", (100, 100, 100), (0, 0, 445))
        parts, meshes = parts_of(tmp_path, settings())
        (finding,) = [f for f in check_parts(parts, meshes, settings()) if f.code == "parts-overlap"]
        assert set(finding.about) == {"deep.stl", "s3.stl"}

    def test_part_floating_free(self, tmp_path: Path) -> None:
        self.stack(tmp_path)
        write_box(tmp_path / "balloon.stl", (100, 90, 80), (0, 0, 900))
        _, meshes = parts_of(tmp_path, settings())
        (finding,) = survey_joints(meshes, Tolerances()).findings
        assert finding.code == "floating-parts"
        assert finding.about == ("balloon.stl",)

    def test_small_contact_is_no_joint_and_a_large_one_is_a_question(self, tmp_path: Path) -> None:
        write_box(tmp_path / "a.stl", (100, 100, 100))
        write_box(tmp_path / "b.stl", (100, 100, 100), (0, 0, 100))
        write_box(tmp_path / "c.stl", (20, 20, 100), (0, 0, 200))
        _, meshes = parts_of(tmp_path, settings())
        survey = survey_joints(meshes, Tolerances())
        (joint,) = survey.joints
        assert joint.bond_area_mm2 == pytest.approx(10000.0)
        assert joint.origins["method"] is Origin.ASSUMED
        (contact,) = survey.contacts
        assert contact.area_mm2 == pytest.approx(400.0)
        (asked,) = open_decisions(settings(), survey.joints, {})
        assert "J01" in str(asked.question)
