"""Pictures from the shelf: what did not change is not drawn again, and is the same to the last byte."""

from __future__ import annotations

import ast
import hashlib
import json
import shutil
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import assembler.drawing
from assembler.assistants import Assistants
from assembler.drawing import gallery
from assembler.drawing.desk import Order
from assembler.drawing.reuse import DRAWN_FIELDS, picture_of, picture_record
from assembler.drawing.workshop import drawn_pictures
from assembler.figure.ids import PartId, StepNumber
from assembler.figure.mesh import Mesh
from assembler.figure.plan import Step, View
from assembler.figure.shelf import NoShelf
from tests.drawing.specimens import Specimen, skittle


class Box:
    """A shelf in a folder that counts what it was asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.made: list[str] = []

    def files(self, key: str, into: Path) -> Any | None:
        place = self.folder / key
        if not place.exists():
            return None
        for path in place.glob("*.png"):
            shutil.copyfile(path, into / path.name)
        return json.loads((place / "value").read_text())

    def keep_files(self, key: str, value: Any, files: Iterable[Path]) -> None:
        place = self.folder / key
        place.mkdir(parents=True)
        self.made += [path.name for path in files]
        for path in files:
            shutil.copyfile(path, place / path.name)
        (place / "value").write_text(json.dumps(value))

    def value(self, key: str) -> Any | None:
        place = self.folder / f"{key}.view"
        return json.loads(place.read_text()) if place.exists() else None

    def keep_value(self, key: str, value: Any) -> None:
        self.folder.mkdir(exist_ok=True)
        (self.folder / f"{key}.view").write_text(json.dumps(value))

    def renew_value(self, key: str, value: Any) -> None:
        self.keep_value(key, value)


def _small() -> Specimen:
    """The first two steps of the skittle, and the parts that are in them."""
    whole = skittle()
    steps = whole.plan.steps[:2]
    names = {part for step in steps for part in (*step.moves, *step.onto)}
    parts = tuple(part for part in whole.plan.parts if part.id in names)
    plan = replace(whole.plan, steps=steps, parts=parts, sections=())
    return replace(whole, plan=plan, meshes={part: mesh for part, mesh in whole.meshes.items() if part in names})


def _digests(folder: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.glob("*.png"))}


@pytest.fixture(scope="module")
def cold(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, gallery.Drawn]:
    """Shelf, pictures and records of a first run."""
    folder = tmp_path_factory.mktemp("cold")
    specimen = _small()
    shelf = Box(folder / "shelf")
    drawn = gallery.draw_book(specimen.plan, specimen.meshes, folder / "out", shelf=shelf)
    return folder / "shelf", folder / "out", drawn


def test_the_same_again_is_not_drawn_at_all(cold, tmp_path, monkeypatch):
    shelf, out, drawn = cold
    monkeypatch.setattr("assembler.drawing.desk.Studio", None)
    specimen = _small()
    again = gallery.draw_book(specimen.plan, specimen.meshes, tmp_path, shelf=Box(shelf))
    assert again == drawn
    assert _digests(tmp_path) == _digests(out)


def _dented(mesh: Mesh) -> Mesh:
    """The part with one corner pushed in by a millimetre, its box kept."""
    points = mesh.vertices.copy()
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    inner = int(np.argmin(np.linalg.norm(points - middle, axis=1)))
    points[inner] += (middle - points[inner]) * 0.02
    return Mesh(vertices=points, faces=mesh.faces)


def test_a_part_that_was_cut_again_redraws_the_pictures_in_which_it_stands(cold, tmp_path):
    shelf, out, _ = cold
    copied = Box(Path(shutil.copytree(shelf, tmp_path / "shelf")))
    specimen = _small()
    steps = specimen.plan.steps
    last = steps[-1].moves[0]
    meshes = {**specimen.meshes, last: _dented(specimen.meshes[last])}
    warm = gallery.draw_book(specimen.plan, meshes, tmp_path / "warm", shelf=copied)
    free = [step for step in steps if last not in (*step.moves, *step.onto)]
    assert free
    drawn_again = set(copied.made)
    for step in free:
        assert not {f"step-{step.number}.png"} & drawn_again
    assert f"step-{steps[-1].number}.png" in drawn_again
    before, after = _digests(out), _digests(tmp_path / "warm")
    for step in free:
        assert after[f"step-{step.number}.png"] == before[f"step-{step.number}.png"]
    # And what was taken from the shelf is what a run without one draws.
    cold_again = gallery.draw_book(specimen.plan, meshes, tmp_path / "cold")
    assert _digests(tmp_path / "cold") == after
    assert cold_again == warm


def _likely(specimen: Specimen, changing: dict[StepNumber, View] | None = None) -> gallery.Likely:
    return gallery.Likely(
        plan=specimen.plan, meshes=specimen.meshes, changing=changing or {}, tightening={}, marks={}, issued={}
    )


def test_what_was_drawn_ahead_is_not_drawn_again(cold, tmp_path, monkeypatch):
    _, out, drawn = cold
    shelf, specimen = Box(tmp_path / "shelf"), _small()
    gallery.draw_ahead(_likely(specimen), tmp_path / "ahead", shelf, lambda: True)
    monkeypatch.setattr("assembler.drawing.desk.Studio", None)
    assert gallery.draw_book(specimen.plan, specimen.meshes, tmp_path / "out", shelf=shelf) == drawn
    assert _digests(tmp_path / "out") == _digests(out)


def test_drawing_ahead_goes_on_from_the_view_of_a_step_that_changes_and_draws_that_last(cold, tmp_path, monkeypatch):
    _, out, drawn = cold
    shelf, specimen = Box(tmp_path / "shelf"), _small()
    first, second = drawn.plan.steps
    gallery.draw_ahead(_likely(specimen, {first.number: first.view}), tmp_path / "ahead", shelf, lambda: True)
    pictures = [name for name in shelf.made if name in {f"step-{step.number}.png" for step in drawn.plan.steps}]
    # Twice each: by what is in it, and by what the camera sees.
    assert pictures == [f"step-{second.number}.png"] * 2 + [f"step-{first.number}.png"] * 2
    monkeypatch.setattr("assembler.drawing.desk.Studio", None)
    gallery.draw_book(specimen.plan, specimen.meshes, tmp_path / "out", shelf=shelf)
    assert _digests(tmp_path / "out") == _digests(out)


def test_drawing_ahead_passes_over_what_nobody_can_guess(cold, tmp_path):
    _, _, drawn = cold
    shelf, specimen = Box(tmp_path / "shelf"), _small()
    first, second = drawn.plan.steps
    likely = replace(_likely(specimen, {first.number: first.view}), unknown={first.number})
    gallery.draw_ahead(likely, tmp_path / "ahead", shelf, lambda: True)
    assert f"step-{second.number}.png" in shelf.made
    assert f"step-{first.number}.png" not in shelf.made


def test_drawing_ahead_ends_when_it_is_no_longer_wanted(tmp_path):
    shelf = Box(tmp_path / "shelf")
    gallery.draw_ahead(_likely(_small()), tmp_path / "ahead", shelf, lambda: False)
    assert not [name for name in shelf.made if not name.endswith("-key.png")]


def test_words_of_change_stand_behind_the_reference(tmp_path):
    specimen = _small()
    step = specimen.plan.steps[1]
    part = step.moves[0]
    marks = {step.number: {part: "cut again", PartId("P99"): "new"}}
    order = Order(plan=specimen.plan, meshes=specimen.meshes, out_dir=tmp_path, orders={}, marks=marks)
    main = drawn_pictures(order, ("step 1",), NoShelf(), Assistants(0), lambda _: None)["step 1"][0]
    assert f">{part} cut again</text>" in main.overlay_svg
    assert "new</text>" not in main.overlay_svg
    # The reference itself is what the list is looked up by.
    assert (part, part) in main.legend


def test_a_picture_comes_back_from_plain_values(cold):
    _, _, drawn = cold
    for pictures in drawn.steps.values():
        for picture in pictures:
            assert picture_of(json.loads(json.dumps(picture_record(picture)))) == picture


UPRIGHT = Path(assembler.drawing.__file__).parent / "upright.py"


def test_all_that_drawing_reads_of_a_step_is_in_its_key():
    read: set[str] = set()
    # upright.py turns every vector of a step, drawn or not, before any key is made.
    for module in sorted(set(Path(assembler.drawing.__file__).parent.glob("[!_]*.py")) - {UPRIGHT}):
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name | ast.Attribute):
                owner = node.value.id if isinstance(node.value, ast.Name) else node.value.attr
                if owner == "step" and node.attr in Step.__dataclass_fields__:
                    read.add(node.attr)
                assert (owner, node.attr) != ("hold", "before"), module
    # The bench decides which view is the one before, and that view is in the key.
    assert read - {"bench"} <= set(DRAWN_FIELDS)
    assert {"moves", "onto", "path"} <= read
