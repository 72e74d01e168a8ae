"""The pictures of a small figure, all kinds of them, by what they say and not by stored images."""

from __future__ import annotations

import hashlib
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from assembler.cache import Cache
from assembler.drawing.bodies import Figure, figure_of, write_figure
from assembler.drawing.details import StepDetails, draw_details
from assembler.drawing.drawnstep import Notes, Solids, drawn_steps
from assembler.drawing.pictures import Drawn, chosen_view, draw_book, draw_part_thumbnails
from assembler.drawing.stepview import ShownStep, draw_step
from assembler.drawing.studio import close_studio, studio_of
from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.pictures import Picture
from assembler.figure.plan import View
from assembler.parallel import workers
from tests.drawing.specimens import Specimen, skittle

NOTES = Notes(tightening={joint.id: tuple(bolt.id for bolt in joint.bolts) for joint in skittle().plan.joints})


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, tuple[Picture, ...]]]:
    folder = tmp_path_factory.mktemp("pictures")
    specimen = skittle()
    return folder, draw_book(specimen.plan, specimen.meshes, folder, notes=NOTES).steps


def test_each_step_has_a_main_picture_named_by_its_number(drawn):
    folder, pictures = drawn
    assert list(pictures) == [step.number for step in skittle().plan.steps]
    for number, made in pictures.items():
        assert made[0].file == f"step-{number}.png"
        for picture in made:
            with Image.open(folder / picture.file) as image:
                assert image.size == (picture.width_px, picture.height_px)


def test_new_part_and_joint_are_visible_and_labels_are_apart(drawn):
    _, pictures = drawn
    for step in skittle().plan.steps:
        view = pictures[step.number][0].view
        assert view.label_overlaps == 0
        assert view.new_visible >= 0.6
        assert view.mating_visible >= 0.5 or not step.joints


def test_new_parts_are_shown_back_along_their_path(drawn):
    _, pictures = drawn
    for step in skittle().plan.steps:
        explode = pictures[step.number][0].view.explode_mm
        assert (explode > 0.0) == bool(step.onto)
        assert explode <= (step.path[-1].travel_mm if step.path else 0.0)


def test_text_of_references_is_real_text_and_in_the_legend(drawn):
    _, pictures = drawn
    for step in skittle().plan.steps:
        main = pictures[step.number][0]
        texts = set(re.findall(r"<text[^>]*>([^<]*)</text>", main.overlay_svg))
        assert set(step.moves) <= texts
        assert {line.item for line in step.hardware} <= {what for _, what in main.legend}


def test_hidden_hardware_appears_in_a_cut(drawn):
    _, pictures = drawn
    for step in skittle().plan.steps:
        cuts = [p for p in pictures[step.number] if "-cut-" in p.file]
        assert bool(cuts) == bool(step.joints)
        for cut in cuts:
            texts = re.findall(r"<text[^>]*>([^<]*)</text>", cut.overlay_svg)
            assert {"screw", "washer", "nut"} <= set(texts)
            assert cut.view.label_overlaps == 0


def test_every_joint_of_a_step_has_its_face_with_each_bolt_once(drawn):
    _, pictures = drawn
    joints = {joint.id: joint for joint in skittle().plan.joints}
    for step in skittle().plan.steps:
        details = pictures[step.number][1:]
        for name in step.joints:
            face = next(p for p in details if p.file == f"step-{step.number}-face-{name}.png")
            numbers = re.findall(r'font-weight="bold">(\d+)</text>', face.overlay_svg)
            assert sorted(map(int, numbers)) == list(range(1, len(joints[name].bolts) + 1))


def test_same_input_same_bytes_whatever_the_workers(drawn, tmp_path):
    folder, pictures = drawn
    specimen = skittle()
    few = replace(specimen.plan, steps=specimen.plan.steps[:3])
    with workers(2) as executor:
        again = draw_book(few, specimen.meshes, tmp_path, notes=NOTES, executor=executor).steps
    for number, made in again.items():
        assert made == pictures[number]
        for picture in made:
            assert _digest(folder / picture.file) == _digest(tmp_path / picture.file)


def test_whole_figure_pictures(tmp_path):
    specimen = skittle()
    made = draw_book(replace(specimen.plan, steps=()), specimen.meshes, tmp_path)
    for picture in (made.cover, made.overview, *made.thumbnails.values(), *made.sections.values()):
        pixels = np.asarray(Image.open(tmp_path / picture.file).convert("RGB"))
        assert 0.05 < (pixels < 250).any(axis=2).mean() < 0.9
    assert made.overview.view.label_overlaps == 0
    assert {reference for reference, _ in made.overview.legend} == set(specimen.meshes)
    assert set(made.thumbnails) == set(specimen.meshes)
    assert list(made.sections) == ["S1"]
    assert draw_part_thumbnails(specimen.plan, specimen.meshes, tmp_path / "small") == made.thumbnails
    # The file that workers read the bodies from is no picture, and gone.
    assert {path.suffix for path in tmp_path.iterdir() if path.is_file()} == {".png"}


def _small() -> Specimen:
    """The first two steps of the skittle, and the parts that are in them."""
    whole = skittle()
    steps = whole.plan.steps[:2]
    names = {part for step in steps for part in (*step.moves, *step.onto)}
    parts = tuple(part for part in whole.plan.parts if part.id in names)
    plan = replace(whole.plan, steps=steps, parts=parts, sections=())
    return replace(whole, plan=plan, meshes={part: mesh for part, mesh in whole.meshes.items() if part in names})


def _digests(folder: Path) -> dict[str, str]:
    return {path.name: _digest(path) for path in sorted(folder.glob("*.png"))}


@pytest.fixture(scope="module")
def cold(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Drawn]:
    """Cache, pictures and records of a first run."""
    folder = tmp_path_factory.mktemp("cold")
    specimen = _small()
    drawn = draw_book(specimen.plan, specimen.meshes, folder / "out", kept=Cache(folder / "kept.sqlite"))
    return folder / "kept.sqlite", folder / "out", drawn


def test_the_same_again_is_not_drawn_at_all(cold, tmp_path, monkeypatch):
    kept, out, drawn = cold
    monkeypatch.setattr("assembler.drawing.studio.Studio", None)
    specimen = _small()
    assert draw_book(specimen.plan, specimen.meshes, tmp_path, kept=Cache(kept)) == drawn
    assert _digests(tmp_path) == _digests(out)


def _dented(mesh: Mesh) -> Mesh:
    """The part with one corner pushed in by a millimetre, its box kept."""
    points = mesh.vertices.copy()
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    inner = int(np.argmin(np.linalg.norm(points - middle, axis=1)))
    points[inner] += (middle - points[inner]) * 0.02
    return Mesh(vertices=points, faces=mesh.faces)


def test_a_part_that_was_cut_again_redraws_the_pictures_in_which_it_stands(cold, tmp_path, monkeypatch):
    kept, out, _ = cold
    specimen = _small()
    steps = specimen.plan.steps
    last = steps[-1].moves[0]
    meshes = {**specimen.meshes, last: _dented(specimen.meshes[last])}
    files: list[str] = []
    keep = Cache.keep_files
    monkeypatch.setattr(
        Cache,
        "keep_files",
        lambda one, key, value, made: files.extend(path.name for path in made) or keep(one, key, value, made),
    )
    warm = draw_book(specimen.plan, meshes, tmp_path / "warm", kept=Cache(Path(shutil.copy(kept, tmp_path))))
    free = [step for step in steps if last not in (*step.moves, *step.onto)]
    assert free
    for step in free:
        assert f"step-{step.number}.png" not in files
    assert f"step-{steps[-1].number}.png" in files
    before, after = _digests(out), _digests(tmp_path / "warm")
    for step in free:
        assert after[f"step-{step.number}.png"] == before[f"step-{step.number}.png"]
    # And what was taken from the cache is what a run without one draws.
    assert draw_book(specimen.plan, meshes, tmp_path / "cold") == warm
    assert _digests(tmp_path / "cold") == after


def test_words_of_change_stand_behind_the_reference(tmp_path):
    specimen = _small()
    step = specimen.plan.steps[1]
    part = step.moves[0]
    notes = Notes(marks={step.number: {part: "cut again", PartId("P99"): "new"}})
    main = draw_book(specimen.plan, specimen.meshes, tmp_path, notes=notes).steps[step.number][0]
    assert f">{part} cut again</text>" in main.overlay_svg
    assert "new</text>" not in main.overlay_svg
    # The reference itself is what the list is looked up by.
    assert (part, part) in main.legend


def test_pictures_of_a_step_show_no_part_that_its_record_does_not_name(tmp_path):
    """Its key is the hash of the record: what the record does not name cannot be in the picture."""
    specimen = skittle()
    solids = Solids(specimen.plan, specimen.meshes)
    made = []
    for name in ("all", "named"):
        step = drawn_steps(specimen.plan, solids, NOTES)[2]
        parts = step.parts if name == "named" else solids.known
        folder = tmp_path / name
        folder.mkdir()
        figure = figure_of(specimen.meshes)
        full, fine, rough = ({part: kind[part] for part in parts} for kind in (figure.full, figure.fine, figure.rough))
        write_figure(folder / "bodies", Figure(full=full, fine=fine, rough=rough, bought=solids.bought))
        choice = chosen_view(studio_of(folder / "bodies"), step, None)
        pictures = draw_step(folder / "bodies", ShownStep(step=step, choice=choice, key=None))
        details = draw_details(folder / "bodies", StepDetails(step=step.close_up, eye=choice.eye))
        made.append((pictures, details, _digests(folder)))
    close_studio()
    assert len(solids.known) > len(step.parts)
    assert made[0] == made[1]


def test_the_view_of_the_book_the_crew_holds_is_kept_while_it_serves(room):
    step = skittle().drawn[2]
    best = chosen_view(room, step, None)
    x, y, z = best.eye
    aside = chosen_view(room, step, None, View(eye=(-y, x, z), up=step.up, new_visible=0.3, mating_searched=0.3))
    assert aside.eye == pytest.approx((-y, x, z))
    # Seen along the way in, nobody can tell how far apart the parts are.
    along = View(eye=(0.02, 0.02, 0.9996), up=(0.0, 1.0, 0.0), new_visible=0.9, mating_searched=0.9)
    assert chosen_view(room, step, None, along).eye == best.eye


def _digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
