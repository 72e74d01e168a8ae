"""A background that no picture shows: told by boxes, then by the camera; pictures stay those of a cold run."""

from __future__ import annotations

import shutil
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from assembler.assistants import Assistants
from assembler.drawing.camera import Camera, direction
from assembler.drawing.copies import Copies, half_pixel_mm, light_copies
from assembler.drawing.desk import Desk, Order
from assembler.drawing.scenes import Item, Role
from assembler.drawing.stepview import step_picture
from assembler.drawing.unseen import clear_views, is_unseen
from assembler.drawing.viewchoice import chosen_view
from assembler.drawing.viewpoints import Choice, Shown, Subject, measured, serves
from assembler.drawing.workshop import drawn_pictures
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.plan import Plan, Step, View
from assembler.figure.shelf import NoShelf, Shelf
from tests.drawing.specimens import skittle
from tests.drawing.test_reuse import Box

FRONT = Camera(
    eye=(0.0, -1.0, 0.0), up=(0.0, 0.0, 1.0), centre_mm=(0.0, 0.0, 0.0), mm_per_px=1.0, width_px=200, height_px=100
)


def stands(**more: object) -> dict[str, object]:
    parts = {
        "P01": ["a", True, [-10.0, -10.0, -10.0, 10.0, 10.0, 10.0]],
        "P02": ["b", True, [500.0, -10.0, -10.0, 520.0, 10.0, 10.0]],
    }
    return {"is_whole": False, "ground": [], "others": [-10.0] * 3 + [520.0] * 3, "turn": "", "parts": parts, **more}


def test_a_change_out_of_the_frame_is_unseen_and_one_within_is_not():
    now = stands()
    parts = now["parts"]
    assert is_unseen(stands(), now, [FRONT])
    far = stands(parts={**parts, "P02": ["other", True, parts["P02"][2]]})
    near = stands(parts={**parts, "P01": ["other", True, parts["P01"][2]]})
    assert is_unseen(far, now, [FRONT])
    assert not is_unseen(near, now, [FRONT])
    # From the side everything lies in one line.
    side = replace(FRONT, eye=(1.0, 0.0, 0.0))
    assert not is_unseen(far, now, [FRONT, side])
    # A part more, in the frame, and the same part painted as bought.
    assert not is_unseen(stands(parts={"P02": parts["P02"]}), now, [FRONT])
    assert not is_unseen(stands(parts={**parts, "P01": ["a", False, parts["P01"][2]]}), now, [FRONT])


@pytest.mark.parametrize(
    "other",
    [
        {"is_whole": True},
        {"ground": [[-50.0, -9.0, -9.0, 50.0, 9.0, -8.0]]},
        {"others": [900.0] * 6},
        {"turn": "it lies"},
    ],
    ids=str,
)
def test_what_frames_the_picture_has_to_be_the_same(other):
    assert not is_unseen(stands(**other), stands(), [FRONT])


class Boxes:
    """Stands for a studio: items are boxes of 20 mm round a point that their shape names."""

    def __init__(self) -> None:
        self.rasteriser = self

    def box(self, item: Item) -> np.ndarray:
        middle = np.array([float(value) for value in item.shape.split()])
        return middle + np.array([[x, y, z] for x in (-10.0, 10.0) for y in (-10.0, 10.0) for z in (-10.0, 10.0)])


@pytest.mark.parametrize(
    ("place", "eye", "is_clear"),
    [
        ("0 0 0", (0.0, -1.0, 0.0), False),
        ("0 -60 0", (0.0, -1.0, 0.0), False),
        ("0 60 0", (0.0, -1.0, 0.0), True),
        ("60 0 0", (0.0, -1.0, 0.0), True),
        ("60 0 0", (1.0, 0.0, 0.0), False),
        ("-60 0 0", (1.0, 0.0, 0.0), True),
        ("0 0 30", (0.0, -0.6, 0.8), False),
        ("0 0 -30", (0.0, -0.6, 0.8), True),
    ],
)
def test_a_change_beside_or_behind_the_subject_leaves_a_view_as_it_was(place, eye, is_clear):
    subject = Subject(
        items=(Item(name="P01", shape="0 0 0", role=Role.NEW),),
        focus_mm=np.zeros((1, 3)),
        maps=(),
        axes_mm=np.zeros((0, 3)),
        motion=None,
        up=(0.0, 0.0, 1.0),
    )
    x, y, z = (float(value) for value in place.split())
    box = [x - 10.0, y - 10.0, z - 10.0, x + 10.0, y + 10.0, z + 10.0]
    before, now = stands(parts={"P02": ["old", True, box]}), stands(parts={"P02": ["new", True, box]})
    camera = replace(FRONT, eye=eye)
    assert clear_views(Boxes(), subject, before, now, [camera]) == [is_clear]
    assert clear_views(Boxes(), subject, before, before, [camera]) == [True]
    assert clear_views(Boxes(), subject, before, {**now, "others": [9000.0] * 6}, [camera]) == [False]


def _chosen(plan: Plan, meshes, folder: Path, shelf: Shelf, issued=None) -> list[Choice]:
    """The views of all steps, one after the other."""
    order = Order(plan=plan, meshes=meshes, out_dir=folder, orders={}, marks={}, issued=issued or {})
    last: dict[str, tuple[Vector, Vector]] = {}
    choices = []
    with ExitStack() as stack:
        desk = Desk(order=order, stack=stack, shelf=shelf)
        for step in plan.steps:
            choices.append(chosen_view(desk, step, last.get(step.bench)))
            last[step.bench] = (choices[-1].eye, choices[-1].up)
    return choices


def test_views_searched_again_are_those_of_a_cold_run(tmp_path, monkeypatch):
    """A part in the background differs: views that it cannot hide anything in are not measured again."""
    specimen = skittle()
    plan, cut = replace(specimen.plan, sections=()), specimen.plan.steps[0].moves[0]
    low = specimen.meshes[cut]
    # Clear of the parts above it, as most parts of a larger figure are: what touches is always looked at again.
    low = Mesh(vertices=low.vertices * [1.0, 1.0, 0.5], faces=low.faces)
    measures: list[object] = []
    monkeypatch.setattr("assembler.drawing.viewpoints.measured", lambda *a: measures.append(a) or measured(*a))

    def chosen(meshes, folder: str, shelf: Shelf) -> tuple[list[Choice], int]:
        measures.clear()
        return _chosen(plan, meshes, tmp_path / folder, shelf), len(measures)

    shelf = Box(tmp_path / "shelf")
    chosen({**specimen.meshes, cut: low}, "a", shelf)
    now = {**specimen.meshes, cut: _with_a_speck(low)}
    (warm, few), (cold, many) = chosen(now, "b", shelf), chosen(now, "c", NoShelf())
    assert warm == cold
    assert few < many


def test_a_view_of_the_issued_book_is_kept_while_it_serves(tmp_path):
    """Whatever the shelf has, and whatever a search from scratch would find now."""
    specimen = skittle()
    plan = replace(specimen.plan, sections=())

    def chosen(meshes, folder: str, shelf: Shelf, issued) -> list[Choice]:
        return _chosen(plan, meshes, tmp_path / folder, shelf, issued)

    shelf = Box(tmp_path / "shelf")
    first = chosen(specimen.meshes, "a", shelf, {})
    number = next(at for at, step in enumerate(plan.steps) if step.moves and at)
    aside = direction(210.0, 30.0, plan.steps[number].up)
    other = (float(aside[0]), float(aside[1]), float(aside[2]))
    issued = {
        step.number: View(
            # As a plan says it: rounded to six digits.
            eye=tuple(round(value, 6) for value in choice.eye),
            up=choice.up,
            new_visible=round(choice.shown.new, 3),
            mating_searched=round(choice.shown.mating, 3),
        )
        for step, choice in zip(plan.steps, first, strict=True)
    }
    # The same scene with the book at hand: the same views to the last bit, with a shelf and without.
    assert chosen(specimen.meshes, "b", shelf, issued) == first
    assert [c.eye for c in chosen(specimen.meshes, "c", NoShelf(), issued)] == [c.eye for c in first]
    # Issued from elsewhere: kept if it shows as much as it did, given up if it promised more than it shows.
    step = plan.steps[number]
    poor = {**issued, step.number: replace(issued[step.number], eye=other, new_visible=0.0, mating_searched=0.0)}
    assert chosen(specimen.meshes, "d", NoShelf(), poor)[number].eye == other
    assert chosen(specimen.meshes, "e", shelf, poor)[number].eye == other
    lying = {**issued, step.number: replace(poor[step.number], up=tuple(-value for value in step.up))}
    assert chosen(specimen.meshes, "f", NoShelf(), lying)[number].eye != other


@pytest.mark.parametrize(
    ("shown", "serves_still"),
    [
        (Shown(new=0.70, mating=0.60, goal=0.0, axes=0.0, path=0.5), True),
        # Less than wanted, but about what the book showed.
        (Shown(new=0.46, mating=0.21, goal=0.0, axes=0.0, path=0.5), True),
        (Shown(new=0.40, mating=0.60, goal=0.0, axes=0.0, path=0.5), False),
        (Shown(new=0.70, mating=0.10, goal=0.0, axes=0.0, path=0.5), False),
        # Along the movement nobody sees where a part comes from.
        (Shown(new=0.70, mating=0.60, goal=0.0, axes=0.0, path=0.1), False),
    ],
)
def test_an_issued_view_serves_while_it_shows_as_much(shown, serves_still):
    assert serves(shown, View(new_visible=0.5, mating_searched=0.25)) is serves_still


def test_copies_from_the_shelf_are_those_that_were_made(tmp_path):
    ball = trimesh.creation.icosphere(subdivisions=5, radius=100.0)
    meshes = {**skittle().meshes, PartId("P99"): Mesh(vertices=np.asarray(ball.vertices), faces=np.asarray(ball.faces))}
    shelf = Box(tmp_path)
    made, again = light_copies(meshes, shelf), light_copies(meshes, shelf)
    assert isinstance(again, Copies)
    assert any(len(made.fine[part].faces) < len(meshes[part].faces) for part in meshes)
    for first, second in ((made.fine, again.fine), (made.rough, again.rough)):
        for part in meshes:
            assert np.array_equal(first[part].vertices, second[part].vertices)
            assert np.array_equal(first[part].faces, second[part].faces)


def test_a_figure_that_grows_a_little_keeps_its_copies():
    block = Mesh(vertices=np.array([[0.0, 0, 0], [1000, 0, 0], [0, 10, 1000]]), faces=np.array([[0, 1, 2]]))
    grown = [Mesh(vertices=block.vertices * factor, faces=block.faces) for factor in (1.0, 1.02, 2.0)]
    sizes = [half_pixel_mm({PartId("P1"): mesh}) for mesh in grown]
    assert sizes[0] == sizes[1]
    assert sizes[2] == pytest.approx(2.0 * sizes[0])
    true = 1000.0 / 1400.0 / 2.0
    assert true / 2.0 ** (1.0 / 4.0) <= sizes[0] <= true


def test_a_hidden_change_keeps_pictures_and_a_visible_one_does_not(tmp_path, monkeypatch):
    """The same as a cold run in both; drawn again only where it shows."""
    specimen = skittle()
    whole = specimen.plan
    first = whole.steps[0].moves[0]
    last = next(
        index for index, step in enumerate(whole.steps) if first in step.onto and first not in _joined(whole, step)
    )
    steps = (whole.steps[0], whole.steps[last])
    names = {part for step in steps for part in (*step.moves, *step.onto)}
    plan = replace(whole, steps=steps, parts=tuple(part for part in whole.parts if part.id in names), sections=())
    meshes = {part: mesh for part, mesh in specimen.meshes.items() if part in names}

    def drawn(given, folder: str, shelf: Shelf) -> bytes:
        order = Order(plan=plan, meshes=given, out_dir=tmp_path / folder, orders={}, marks={})
        made = drawn_pictures(order, ("step 1",), shelf, Assistants(0), lambda _: None)["step 1"]
        return b"".join([(tmp_path / folder / made[0].file).read_bytes(), repr(made).encode()])

    calls: list[object] = []
    before = drawn(meshes, "a", Box(tmp_path / "shelf"))
    for name, mesh in (("hidden", _with_a_speck(meshes[first])), ("shown", _shrunk(meshes[first], 0.3))):
        shelf = Box(Path(shutil.copytree(tmp_path / "shelf", tmp_path / f"shelf {name}")))
        calls.clear()
        with monkeypatch.context() as patch:
            patch.setattr("assembler.drawing.jobs.step_picture", lambda *a: calls.append(a) or step_picture(*a))
            warm = drawn({**meshes, first: mesh}, f"warm {name}", shelf)
        assert len(calls) == (name == "shown")
        assert warm == drawn({**meshes, first: mesh}, f"cold {name}", NoShelf())
        assert (warm == before) == (name == "hidden")


def _joined(plan: Plan, step: Step) -> set[PartId]:
    return {part for joint in plan.joints if joint.id in step.joints for part in joint.parts}


def _with_a_speck(mesh: Mesh) -> Mesh:
    """The part with a crumb in the middle of its solid, where no camera gets."""
    centres = mesh.corners.mean(axis=1)
    inward = np.cross(mesh.corners[:, 1] - mesh.corners[:, 0], mesh.corners[:, 2] - mesh.corners[:, 0])
    at = centres[0] - 0.6 * inward[0] / np.linalg.norm(inward[0])
    crumb = at + 0.1 * np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]]) + len(mesh.vertices)
    return Mesh(vertices=np.vstack([mesh.vertices, crumb]), faces=np.vstack([mesh.faces, faces]))


def _shrunk(mesh: Mesh, share: float) -> Mesh:
    middle = (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0)) / 2.0
    return Mesh(vertices=middle + (mesh.vertices - middle) * (1.0 - share), faces=mesh.faces)
