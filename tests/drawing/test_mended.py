"""Printed pictures that are mended: they show what one drawn anew shows, and only the place that changed differs."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from manifold3d import Manifold
from manifold3d import Mesh as Body
from PIL import Image

from assembler.assistants import Assistants
from assembler.drawing.desk import Order
from assembler.drawing.overview import cover_picture
from assembler.drawing.sameness import is_same_to_the_eye
from assembler.drawing.spots import faded
from assembler.drawing.stepview import step_picture
from assembler.drawing.workshop import drawn_pictures
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.pictures import Picture
from assembler.figure.plan import Step
from assembler.figure.shelf import NoShelf, Shelf
from tests.drawing.specimens import BAND_MM, Specimen, skittle
from tests.drawing.test_reuse import Box

BANDS = 8
JOBS = ("cover", "step 0")


def _one_step() -> tuple[Specimen, Step, PartId]:
    """One step high up on a figure, and a part in its background that is in the picture."""
    whole = skittle(BANDS)
    step = whole.plan.steps[-1]
    joined = {part for joint in whole.plan.joints if joint.id in step.joints for part in joint.parts}
    standing = sorted(
        set(step.onto) - joined - set(step.moves), key=lambda part: whole.meshes[part].vertices[:, 2].max()
    )
    return replace(whole, plan=replace(whole.plan, steps=(step,), sections=())), step, standing[-1]


def _solid(mesh: Mesh) -> Manifold:
    return Manifold(Body(vert_properties=mesh.vertices.astype(np.float32), tri_verts=mesh.faces.astype(np.uint32)))


def _mesh(solid: Manifold) -> Mesh:
    body = solid.to_mesh()
    return Mesh(vertices=np.asarray(body.vert_properties[:, :3], dtype=np.float64), faces=np.asarray(body.tri_verts))


def _cut_in_two(specimen: Specimen, part: PartId, names: tuple[str, str], share: float = 0.6) -> Specimen:
    """The figure with one part as two."""
    mesh = specimen.meshes[part]
    low, high = mesh.vertices[:, 2].min(), mesh.vertices[:, 2].max()
    pieces = _solid(mesh).split_by_plane((0.0, 0.0, 1.0), low + share * (high - low))
    meshes = {name: other for name, other in specimen.meshes.items() if name != part}
    meshes |= {PartId(name): _mesh(piece) for name, piece in zip(names, pieces, strict=True)}
    plan = specimen.plan
    (step,) = plan.steps
    onto = tuple(sorted({*step.onto, *map(PartId, names)} - {part}))
    whole = next(one for one in plan.parts if one.id == part)
    parts = tuple(one for one in plan.parts if one.id != part) + tuple(
        replace(whole, id=PartId(name)) for name in names
    )
    joints = tuple(joint for joint in plan.joints if part not in joint.parts)
    plan = replace(plan, steps=(replace(step, onto=onto),), parts=parts, joints=joints)
    return replace(specimen, plan=plan, meshes=meshes)


def _made(specimen: Specimen, out: Path, shelf: Shelf, printed: Path | None, *jobs: str) -> list[Picture]:
    order = Order(plan=specimen.plan, meshes=specimen.meshes, out_dir=out, orders={}, marks={}, printed=printed)
    made = drawn_pictures(order, jobs, shelf, Assistants(0), lambda _: None)
    return [pictures[0] for pictures in made.values()]


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Shelf and pictures of a first book."""
    folder = tmp_path_factory.mktemp("first")
    specimen, _, _ = _one_step()
    _made(specimen, folder / "out", Box(folder / "shelf"), None, *JOBS)
    return folder / "shelf", folder / "out"


@pytest.fixture
def whole_ones(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What is drawn at one go."""
    drawn: list[str] = []

    def step(*given):
        drawn.append("step 0")
        return step_picture(*given)

    def cover(*given):
        drawn.append("cover")
        return cover_picture(*given)

    monkeypatch.setattr("assembler.drawing.jobs.step_picture", step)
    monkeypatch.setattr("assembler.drawing.jobs.cover_picture", cover)
    return drawn


def _pixels(file: Path) -> np.ndarray:
    with Image.open(file) as image:
        return np.asarray(image.convert("RGB")).astype(int)


def test_a_seam_in_the_background_is_drawn_into_the_printed_picture(first, tmp_path, whole_ones):
    kept, printed = first
    specimen, step, part = _one_step()
    cut = _cut_in_two(specimen, part, ("P91", "P92"))
    expected = _made(cut, tmp_path / "anew", NoShelf(), None, *JOBS)
    assert whole_ones == list(JOBS[::-1])
    shelf = Box(Path(shutil.copytree(kept, tmp_path / "shelf")))
    assert _made(cut, tmp_path / "mended", shelf, printed, *JOBS) == expected
    assert whole_ones == list(JOBS[::-1])
    for file in ("cover.png", f"step-{step.number}.png"):
        assert not is_same_to_the_eye(printed / file, tmp_path / "mended" / file)
        assert is_same_to_the_eye(tmp_path / "anew" / file, tmp_path / "mended" / file)
        # All that is not in the rows about the seam is what was printed, but for the palette.
        changed = np.abs(_pixels(printed / file) - _pixels(tmp_path / "mended" / file)).max(axis=2) > 12
        rows = np.flatnonzero(changed.any(axis=1))
        assert len(rows) > 0
        assert np.ptp(rows) < 0.3 * len(changed)


def test_a_picture_that_was_mended_is_drawn_at_one_go_the_next_time(first, tmp_path, whole_ones):
    """So that small differences do not add up."""
    kept, printed = first
    specimen, _, part = _one_step()
    shelf = Box(Path(shutil.copytree(kept, tmp_path / "shelf")))
    cut = _cut_in_two(specimen, part, ("P91", "P92"))
    _made(cut, tmp_path / "second", shelf, printed, *JOBS)
    _made(cut, tmp_path / "again", shelf, tmp_path / "second", *JOBS)
    assert whole_ones == []
    more = _cut_in_two(cut, PartId("P92"), ("P93", "P94"))
    _made(more, tmp_path / "third", shelf, tmp_path / "second", *JOBS)
    assert whole_ones == list(JOBS[::-1])
    _made(more, tmp_path / "anew", NoShelf(), None, *JOBS)
    for file in (path.name for path in (tmp_path / "anew").glob("*.png")):
        assert (tmp_path / "third" / file).read_bytes() == (tmp_path / "anew" / file).read_bytes()


def test_a_picture_in_which_something_stands_deeper_is_drawn_at_one_go(first, tmp_path, whole_ones):
    """A window in the background: what lies behind it may follow from it, so nothing is mended but the cover."""
    kept, printed = first
    specimen, step, part = _one_step()
    low = specimen.meshes[part].vertices[:, 2].min()
    rod = Manifold.cylinder(900.0, 25.0, center=True).rotate((0.0, 90.0, 0.0))
    rods = rod + rod.rotate((0.0, 0.0, 90.0))
    opened = _mesh(_solid(specimen.meshes[part]) - rods.translate((0.0, 0.0, low + BAND_MM / 2.0)))
    shelf = Box(Path(shutil.copytree(kept, tmp_path / "shelf")))
    hollow = replace(specimen, meshes={**specimen.meshes, part: opened})
    _made(hollow, tmp_path / "warm", shelf, printed, *JOBS)
    assert whole_ones == ["step 0"]
    _made(hollow, tmp_path / "anew", NoShelf(), None, *JOBS)
    file = f"step-{step.number}.png"
    assert (tmp_path / "warm" / file).read_bytes() == (tmp_path / "anew" / file).read_bytes()
    assert is_same_to_the_eye(tmp_path / "warm" / "cover.png", tmp_path / "anew" / "cover.png")
    assert not is_same_to_the_eye(tmp_path / "warm" / "cover.png", printed / "cover.png")


@pytest.mark.parametrize("corner", [(0, 0), (7, 30), (55, 41)])
def test_a_part_of_a_picture_fades_as_the_whole_does(corner):
    whole = np.random.default_rng(3).integers(0, 255, (80, 90, 3)).astype(np.uint8)
    x, y = corner
    expected = faded(whole, 20.0, 5.0)[y : y + 30, x : x + 35]
    assert np.array_equal(faded(whole[y : y + 30, x : x + 35], 20.0, 5.0, corner=corner, whole=(90, 80)), expected)
