"""Printed pictures that stay: told from the part of a picture that differs, as the whole picture tells it."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from assembler.assistants import Assistants
from assembler.drawing.camera import Camera, direction, framed
from assembler.drawing.desk import Order
from assembler.drawing.linework import drawing
from assembler.drawing.raster import Rasteriser
from assembler.drawing.sameness import look_the_same
from assembler.drawing.scenes import Item, Role
from assembler.drawing.stepview import step_picture
from assembler.drawing.stillshown import show_the_same
from assembler.drawing.style import look_of
from assembler.drawing.workshop import drawn_pictures
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.shelf import NoShelf, Shelf
from tests.drawing.specimens import Specimen, skittle
from tests.drawing.test_reuse import Box, _digests


def test_a_part_of_a_picture_shows_what_the_whole_shows_there():
    rng = np.random.default_rng(7)
    whole = framed(rng.uniform(-90.0, 90.0, (20, 3)), direction(30.0, 20.0, (0.0, 0.0, 1.0)), (0.0, 0.0, 1.0), 401, 300)
    part = whole.cropped(37, 21, 140, 78)
    points = rng.uniform(-90.0, 90.0, (50, 3))
    assert (part.width_px, part.height_px) == (103, 57)
    assert np.allclose(part.project(points), whole.project(points) - [37.0, 21.0, 0.0])


def test_cameras_are_about_the_same_within_a_part_of_a_pixel():
    camera = CAMERA
    assert camera.is_about(camera, 1e-9)
    for centre, scale, slack_px, is_about in (
        ((60.0 + 0.45 * 0.04, 0.0, 0.0), 0.45, 0.05, True),
        ((60.0 + 0.45 * 0.06, 0.0, 0.0), 0.45, 0.05, False),
        ((60.0, 77.0, 0.0), 0.45, 0.05, True),  # along the view
        ((60.0, 0.0, 0.0), 0.45 * (1.0 + 0.04 / 350.0), 0.05, True),
        ((60.0, 0.0, 0.0), 0.45 * (1.0 + 0.06 / 350.0), 0.05, False),
    ):
        assert camera.is_about(replace(camera, centre_mm=centre, mm_per_px=scale), slack_px) == is_about
    assert not camera.is_about(replace(camera, eye=(1.0, 0.0, 0.0)), 0.05)
    assert not camera.is_about(replace(camera, width_px=701), 9.0)


def _ball(radius_mm: float, finer: int = 5) -> Mesh:
    ball = trimesh.creation.icosphere(subdivisions=finer, radius=radius_mm)
    return Mesh(vertices=ball.vertices, faces=ball.faces)


def _knocked(mesh: Mesh, way: np.ndarray, reach_mm: float, depth_mm: float) -> Mesh:
    """A body that is knocked in round one place."""
    at = mesh.vertices[int(np.argmax(mesh.vertices @ way))]
    near = np.clip(1.0 - np.linalg.norm(mesh.vertices - at, axis=1) / reach_mm, 0.0, None)
    return Mesh(vertices=mesh.vertices - near[:, None] * depth_mm * way, faces=mesh.faces)


def _item(shape: str, x: float = 0.0, y: float = 0.0) -> Item:
    return Item(name=shape.split()[0], shape=shape, role=Role.STANDING, shift_mm=(x, y, 0.0))


CAMERA = Camera(
    eye=(0.0, -1.0, 0.0), up=(0.0, 0.0, 1.0), centre_mm=(60.0, 0.0, 0.0), mm_per_px=0.45, width_px=700, height_px=400
)


def _pictures(rasteriser: Rasteriser, *scenes: list[Item]) -> list[np.ndarray]:
    return [
        drawing(rasteriser.draw(items, CAMERA), [look_of(item) for item in items], CAMERA.mm_per_px) for items in scenes
    ]


def test_the_part_tells_what_the_whole_picture_tells():
    """Knocks of all sizes at places on a ball, half of it behind another one."""
    rng = np.random.default_rng(11)
    ball = _ball(80.0)
    ways = rng.normal(size=(12, 3))
    ways[:, 1] = -np.abs(ways[:, 1])
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    shapes = {"A": ball, "B": _ball(50.0)}
    for number, way in enumerate(ways):
        shapes[f"A {number}"] = _knocked(ball, way, rng.uniform(8.0, 40.0), 10.0 ** rng.uniform(-1.0, 1.5))
    verdicts = []
    with Rasteriser(shapes) as rasteriser:
        front = _item("B", 60.0, -150.0)
        before = [_item("A"), front]
        for number in range(len(ways)):
            now = [_item(f"A {number}"), front]
            first, second = _pictures(rasteriser, before, now)
            verdicts.append(show_the_same(rasteriser, before, now, CAMERA, look_of))
            assert verdicts[-1] == look_the_same(first, second), number
    assert 3 <= sum(verdicts) <= len(verdicts) - 3


def test_a_body_more_is_told_if_it_is_in_sight():
    shapes = {"A": _ball(80.0), "B": _ball(50.0)}
    with Rasteriser(shapes) as rasteriser:
        alone = [_item("A")]
        for place, is_same in (((150.0, 0.0), False), ((0.0, 200.0), True), ((900.0, 0.0), True)):
            assert show_the_same(rasteriser, alone, [*alone, _item("B", *place)], CAMERA, look_of) == is_same
        assert show_the_same(rasteriser, alone, alone, CAMERA, look_of)


def _two_steps() -> tuple[Specimen, PartId]:
    """A step, and a later one in whose background its part stands; that part."""
    whole = skittle()
    first = whole.plan.steps[0].moves[0]
    joined = {step.number: _partners(whole, step.joints) for step in whole.plan.steps}
    later = next(step for step in whole.plan.steps if first in step.onto and first not in joined[step.number])
    steps = (whole.plan.steps[0], later)
    names = {part for step in steps for part in (*step.moves, *step.onto)}
    parts = tuple(part for part in whole.plan.parts if part.id in names)
    plan = replace(whole.plan, steps=steps, parts=parts, sections=())
    return replace(whole, plan=plan, meshes={part: mesh for part, mesh in whole.meshes.items() if part in names}), first


def _partners(specimen: Specimen, joints: tuple[str, ...]) -> set[PartId]:
    return {part for joint in specimen.plan.joints if joint.id in joints for part in joint.parts}


def _bulged(mesh: Mesh, share: float) -> Mesh:
    """The part, pushed out a little in the middle; its box stays."""
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    inside = np.clip(1.0 - np.abs(mesh.vertices - (low + high) / 2.0) / ((high - low) / 2.0), 0.0, None).min(axis=1)
    centre = np.array([0.0, 0.0, 1.0]) * mesh.vertices[:, 2:]
    return Mesh(vertices=mesh.vertices - (share * inside)[:, None] * (mesh.vertices - centre), faces=mesh.faces)


JOBS = ("overview", "step 1")


def _made(
    specimen: Specimen,
    meshes: dict[PartId, Mesh],
    out: Path,
    shelf: Shelf,
    printed: Path | None = None,
    jobs: tuple[str, ...] = JOBS,
) -> None:
    order = Order(plan=specimen.plan, meshes=meshes, out_dir=out, orders={}, marks={}, printed=printed)
    drawn_pictures(order, jobs, shelf, Assistants(0), lambda _: None)


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Shelf and pictures of a first run."""
    folder = tmp_path_factory.mktemp("first")
    specimen, _ = _two_steps()
    _made(specimen, specimen.meshes, folder / "out", Box(folder / "shelf"))
    return folder / "shelf", folder / "out"


@pytest.fixture(scope="module")
def bulged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The step with a part that bulges a little, drawn on an empty shelf."""
    out = tmp_path_factory.mktemp("bulged")
    specimen, part = _two_steps()
    meshes = {**specimen.meshes, part: _bulged(specimen.meshes[part], 1e-5)}
    _made(specimen, meshes, out, NoShelf(), None, JOBS[-1:])
    return out


def test_printed_pictures_stay_where_nobody_could_tell_new_ones(first, tmp_path, monkeypatch):
    """Also from one re-cut to the next: what is compared is what was printed, so small differences do not add up."""
    kept, printed = first
    specimen, part = _two_steps()
    shelf = Box(Path(shutil.copytree(kept, tmp_path / "shelf")))
    number = specimen.plan.steps[-1].number
    calls: list[str] = []

    def seen(studio, shot, *rest):
        calls.append(shot.stage.step.number)
        return step_picture(studio, shot, *rest)

    monkeypatch.setattr("assembler.drawing.jobs.step_picture", seen)
    names = {"exploded.png", f"step-{number}.png", f"step-{number}-key.png"}
    before, stayed = _digests(printed), []
    for turn, share in enumerate((1e-5, 2e-5, 0.05)):
        calls.clear()
        out = tmp_path / f"{turn}"
        _made(specimen, {**specimen.meshes, part: _bulged(specimen.meshes[part], share)}, out, shelf, printed)
        after = _digests(out)
        stayed.append({name for name in names if before[name] == after[name]})
        assert (number in calls) == (f"step-{number}.png" not in stayed[-1])
    assert stayed == [names, names, set()]


@pytest.mark.parametrize("why", ["printed otherwise", "its copies are gone"])
def test_pictures_are_drawn_as_on_an_empty_shelf_where_none_can_stay(first, bulged, tmp_path, why, monkeypatch):
    """To the last byte: a draft is the same whatever was drawn before it."""
    kept, out = first
    specimen, part = _two_steps()
    printed = out
    if why == "printed otherwise":
        printed = Path(shutil.copytree(out, tmp_path / "other"))
        for picture in printed.glob("*.png"):
            picture.write_bytes(picture.read_bytes() + b"\0")
    else:
        monkeypatch.setattr("assembler.drawing.printedpictures.kept_copy", lambda *_, **__: None)
    meshes = {**specimen.meshes, part: _bulged(specimen.meshes[part], 1e-5)}
    shelf = Box(Path(shutil.copytree(kept, tmp_path / "shelf")))
    _made(specimen, meshes, tmp_path / "warm", shelf, printed, JOBS[-1:])
    assert _digests(tmp_path / "warm") == _digests(bulged)
