"""Re-cut stories on real meshes: survey, plan, compare, and go on from what stands. Nothing is drawn here."""

from __future__ import annotations

import datetime
import math
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold

from assembler import pipeline
from assembler.errors import BookFolderError, InputError
from assembler.figure.mesh import mesh_digest
from assembler.figure.plan import Plan
from assembler.project import open_project
from assembler.projectfiles.bookfolder import book_written_whole
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.inputdigest import input_digest
from assembler.projectfiles.planfile import as_written, plan_json, plan_record, read_plan
from assembler.projectfiles.writing import write_whole
from assembler.recut.changes import Changes
from assembler.recut.compare import compare_plans
from tests.pipeline.tower import (
    CIRCLE_MM,
    FLANGE_MM,
    FLANGE_THICK_MM,
    HOLE_MM,
    LEVEL_MM,
    OUTER_MM,
    WALL_MM,
    tower_parts,
    write_tower,
)

RINGS = ("ring lower.stl", "ring upper.stl")


def _quiet(_: str) -> None:
    return


def _plan(root: Path) -> Plan:
    return pipeline.plan_project(open_project(root, _quiet), _quiet).plan


def _project(folder: Path, method: str) -> Path:
    """The tower surveyed, with a book A that holds its plan only."""
    root = folder / "tower"
    pipeline.survey_project(write_tower(folder / "exports"), root, unit=None, progress=_quiet)
    text = (root / "joints.toml").read_text(encoding="utf-8")
    (root / "joints.toml").write_text(text.replace('"bolted and bonded"', f'"{method}"'), encoding="utf-8")
    opened = open_project(root, _quiet)
    plan = pipeline.plan_project(opened, _quiet).plan
    project = ProjectFolder(root)
    solids = {part: mesh_digest(mesh) for part, mesh in opened.meshes.items()}
    with book_written_whole(
        project.books / "A",
        revision="A",
        version="0",
        digest=input_digest(project, solids=solids),
        is_issue=True,
    ) as folder:
        write_whole(folder / "plan.json", plan_json(plan))
    return root


@pytest.fixture(scope="module")
def _bolted_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _project(tmp_path_factory.mktemp("bolted"), "bolted")


@pytest.fixture
def bolted(_bolted_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(_bolted_once, tmp_path / "tower"))


def _export(path: Path, solid: Manifold) -> None:
    mesh = solid.to_mesh64()
    corners = np.asarray(mesh.vert_properties)[:, :3]
    trimesh.Trimesh(corners, np.asarray(mesh.tri_verts), process=False).export(path)


def _more_holes(root: Path, count: int, files: Sequence[str] = RINGS) -> None:
    """Bolt holes between the six that join the rings."""
    for name in files:
        solid = tower_parts()[name.removeprefix("new ")]
        for turn in ((2 * k + 1) * math.pi / 6 for k in range(count)):
            hole = Manifold.cylinder(60, HOLE_MM / 2, circular_segments=48)
            solid -= hole.translate([CIRCLE_MM * math.cos(turn), CIRCLE_MM * math.sin(turn), 170])
        _export(root / "parts" / name, solid)


def _changes(root: Path) -> Changes:
    return compare_plans(read_plan(root / "books" / "A" / "plan.json"), as_written(_plan(root)))


def _record(root: Path, steps: Sequence[str], although: str = "") -> None:
    for hour, step in enumerate(steps, 8):
        at = datetime.datetime(2024, 5, 4, hour)
        pipeline.record_step(root, step=step, at=at, temperature_c=20.0, book=None, although=although, progress=_quiet)


def _everything(root: Path, change: Callable[[Manifold], Manifold]) -> None:
    for name, solid in tower_parts().items():
        _export(root / "parts" / name, change(solid))


def test_the_same_meshes_again_change_nothing(bolted: Path) -> None:
    for name in tower_parts():
        mesh = trimesh.load_mesh(bolted / "parts" / name)
        rng = np.random.default_rng(3)
        order = rng.permutation(len(mesh.vertices))
        faces = rng.permutation(np.argsort(order)[mesh.faces])
        trimesh.Trimesh(mesh.vertices[order], faces, process=False).export(bolted / "parts" / name)
    # Two decimals less, as a text format has, for good measure.
    before = plan_record(_plan(bolted))
    for name in tower_parts():
        mesh = trimesh.load_mesh(bolted / "parts" / name)
        trimesh.Trimesh(np.round(mesh.vertices, 3), mesh.faces, process=False).export(bolted / "parts" / name)
    assert _changes(bolted).is_empty
    # Not only within tolerance: the meshes of the last run are worked with, so every digit is the same.
    assert plan_record(_plan(bolted)) == before


def test_a_re_export_under_an_issued_letter_writes_nothing(bolted: Path) -> None:
    for name in tower_parts():
        mesh = trimesh.load_mesh(bolted / "parts" / name)
        trimesh.Trimesh(mesh.vertices, mesh.faces[::-1], process=False).export(bolted / "parts" / f"new {name}")
        (bolted / "parts" / name).unlink()
    report = pipeline.write_project_book(bolted, out=None, is_issue=True, progress=_quiet)
    assert report.is_unchanged
    _more_holes(bolted, 1, ("new ring upper.stl",))
    with pytest.raises(BookFolderError, match='revision = "B"'):
        pipeline.write_project_book(bolted, out=None, is_issue=True, progress=_quiet)


@pytest.mark.parametrize("count", [1, 2])
def test_bolts_that_were_added_are_found_in_the_new_meshes(bolted: Path, count: int) -> None:
    _more_holes(bolted, count)
    changes = _changes(bolted)
    assert [(change.fate.value, change.after) for change in changes.parts] == [
        ("reshaped", ("P02",)),
        ("reshaped", ("P03",)),
    ]
    assert {change.bolt: change.fate.value for change in changes.bolts} == {
        f"J02.{number}": "new" for number in range(7, 7 + count)
    }
    assert [line.amount for line in changes.buy] == [count, count, 2 * count]
    assert {bag.joint: bag.action for bag in changes.bags} == {"J02": "change"}


def test_a_renamed_file_keeps_its_number_and_changes_no_step(bolted: Path) -> None:
    (bolted / "parts" / "ring lower.stl").rename(bolted / "parts" / "waist v2.stl")
    changes = _changes(bolted)
    assert [(change.fate.value, change.after) for change in changes.parts] == [("renamed", ("P02",))]
    assert (changes.steps, changes.joints, changes.bolts) == ((), (), ())


def test_a_shifted_export_is_one_finding(bolted: Path) -> None:
    _everything(bolted, lambda solid: solid.translate([0, 10, 0]))
    findings = open_project(bolted, _quiet).findings
    assert [finding.code for finding in findings if finding.code.startswith("figure-")] == ["figure-shifted"]
    # Everything goes on from the last good export, hand edits and all.
    changes = _changes(bolted)
    assert (changes.motion, changes.parts, changes.joints, changes.bolts, changes.steps) == (None, (), (), (), ())
    assert [finding.code for finding in changes.findings_new] == ["figure-shifted"]


def test_a_shift_that_is_meant_is_taken_back(bolted: Path) -> None:
    _everything(bolted, lambda solid: solid.translate([0, 10, 0]))
    (said,) = [f for f in open_project(bolted, _quiet).findings if f.code == "figure-shifted"]
    line = "moved_mm = [0.000, 10.000, 0.000]"
    assert line in str(said.remedy)
    text = (bolted / "figure.toml").read_text(encoding="utf-8")
    (bolted / "figure.toml").write_text(text.replace("[shop]", f"{line}\n\n[shop]"), encoding="utf-8")
    assert [f.code for f in open_project(bolted, _quiet).findings if f.code.startswith("figure-")] == []
    assert _changes(bolted).is_empty


def test_a_slip_of_units_is_one_finding(bolted: Path) -> None:
    _everything(bolted, lambda solid: solid.scale([0.1, 0.1, 0.1]))
    findings = open_project(bolted, _quiet).findings
    (slip,) = [finding for finding in findings if finding.code == "figure-rescaled"]
    assert "centimetres" in str(slip.message)
    assert _changes(bolted).parts == ()


def test_stating_the_unit_as_the_finding_asks_is_enough(tmp_path: Path) -> None:
    # Exported in metres, read in millimetres: far too small, nothing touches. The remedy has to lead out of it.
    exports = write_tower(tmp_path / "exports")
    for file in sorted(exports.iterdir()):
        mesh = trimesh.load_mesh(file)
        mesh.apply_scale(0.001)
        mesh.export(file)
    root = tmp_path / "tower"
    with pytest.raises(InputError, match="--unit m,"):
        pipeline.survey_project(exports, root, unit=None, progress=_quiet)
    assert not (root / "figure.toml").exists()
    again = pipeline.survey_project(exports, root, unit="m", progress=_quiet)
    assert not [finding for finding in again.findings if finding.code.startswith("figure-")]
    plain = pipeline.survey_project(write_tower(tmp_path / "mm"), tmp_path / "other", unit=None, progress=_quiet)
    assert len(again.joints) == len(plain.joints) > 0
    assert open_project(root, _quiet).joints == again.joints


def _half_rings() -> dict[str, Manifold]:
    """The lower ring cut in two at half height, with a flange and six holes on both sides of the cut."""
    ring = tower_parts()["ring lower.stl"]
    inner = OUTER_MM - WALL_MM
    disc = Manifold.cylinder(2 * FLANGE_THICK_MM, inner + 1, circular_segments=128)
    disc -= Manifold.cylinder(2 * FLANGE_THICK_MM, inner - FLANGE_MM, circular_segments=128)
    for turn in (k * math.pi / 3 for k in range(6)):
        hole = Manifold.cylinder(60, HOLE_MM / 2, circular_segments=48)
        disc -= hole.translate([CIRCLE_MM * math.cos(turn), CIRCLE_MM * math.sin(turn), -10])
    whole = ring + disc.translate([0, 0, LEVEL_MM / 2 - FLANGE_THICK_MM])
    below, above = whole.split_by_plane([0, 0, 1], LEVEL_MM / 2)[::-1]
    return {"ring lower bottom.stl": below, "ring lower top.stl": above}


def test_a_ring_split_in_two_is_told_and_only_its_steps_are_new(bolted: Path) -> None:
    (bolted / "parts" / "ring lower.stl").unlink()
    for name, solid in _half_rings().items():
        _export(bolted / "parts" / name, solid)
    changes = _changes(bolted)
    assert [(change.fate.value, change.before, change.after) for change in changes.parts] == [
        ("split", ("P02",), ("P04", "P05"))
    ]
    assert changes.untold == ()
    assert {change.joint: change.fate.value for change in changes.joints} == {
        "J01": "gone",
        "J02": "gone",
        "J03": "new",
        "J04": "new",
        "J05": "new",
    }
    assert {str(line.item).split()[0]: line.amount for line in changes.buy} == {"Hexagon": 6, "Plain": 12}
    # What the shop decided of the joints of the ring goes over to those that take their place; the cut is a new matter.
    methods = {joint.id: joint.method.value for joint in open_project(bolted, _quiet).joints}
    assert methods == {"J03": "bolted", "J04": "bolted and bonded", "J05": "bolted"}
    assert '"P02"' not in (bolted / "joints.toml").read_text(encoding="utf-8")
    assert changes.same_steps == ("1",)
    fates = {change.number: change.fate.value for change in changes.steps}
    assert (fates["2"], fates["2a"]) == ("gone", "new")
    # P03 is still fitted in step 3; what is new has numbers that were never printed.
    assert fates["3"] == "changed"
    assert not {"1", "2", "3"} & {number for number, fate in fates.items() if fate == "new"}


def test_a_missing_part_takes_its_joint_with_it(bolted: Path) -> None:
    (bolted / "parts" / "ring upper.stl").unlink()
    changes = _changes(bolted)
    assert [(change.fate.value, change.before) for change in changes.parts] == [("gone", ("P03",))]
    assert [change.joint for change in changes.joints] == ["J02"]
    assert [change.fate.value for change in changes.steps] == ["gone"]
    # The file keeps what a hand has stated; the plan says that it cannot be built.
    assert "joint-without-part" in [finding.code for finding in changes.findings_new if "J02" in finding.about]
    assert "J02" in (bolted / "joints.toml").read_text(encoding="utf-8")
    assert [change.joint for change in _changes(bolted).joints] == ["J02"]


def test_a_bolted_ring_that_stands_is_opened_and_the_plan_is_still_true(bolted: Path) -> None:
    numbers = [step.number for step in _plan(bolted).steps]
    assert numbers == ["1", "2", "3"]
    _record(bolted, ["1", "2"])
    _more_holes(bolted, 2)
    plan = _plan(bolted)
    assert [(step.number, step.kind.value, step.moves) for step in plan.steps] == [
        ("1", "base", ()),
        ("2a", "open", ("P02",)),
        ("2b", "join", ("P02",)),
        ("3", "join", ("P03",)),
    ]
    codes = [finding.code for finding in plan.findings]
    assert "opened-again" in codes
    assert not [code for code in codes if code.endswith("refuted")]


def test_a_bonded_ring_that_stands_stops(tmp_path: Path) -> None:
    root = _project(tmp_path, "bolted and bonded")
    done = [step.number for step in _plan(root).steps if "J02" in step.joints]
    _record(root, done, although="the steps before it were not written down")
    _more_holes(root, 2)
    plan = _plan(root)
    stuck = [finding.about for finding in plan.findings if finding.code == "recut-part-bonded-in"]
    assert stuck == [("P02", "J02"), ("P03", "J02")]
    assert not [step for step in plan.steps if step.kind.value == "open"]
