"""The pictures of a small figure, all kinds of them, by what they say and not by stored images."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from assembler.assistants import Assistants
from assembler.drawing import gallery
from assembler.figure.pictures import Picture
from tests.drawing.specimens import skittle


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, tuple[Picture, ...]]]:
    folder = tmp_path_factory.mktemp("pictures")
    specimen = skittle()
    orders = {joint.id: tuple(bolt.id for bolt in joint.bolts) for joint in specimen.plan.joints}
    return folder, gallery.draw_steps(specimen.plan, specimen.meshes, folder, tightening=orders)


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
    orders = {joint.id: tuple(bolt.id for bolt in joint.bolts) for joint in specimen.plan.joints}
    few = replace(specimen.plan, steps=specimen.plan.steps[:3])
    with Assistants() as others:
        again = gallery.draw_steps(few, specimen.meshes, tmp_path, tightening=orders, assistants=others)
    for number, made in again.items():
        assert made == pictures[number]
        for picture in made:
            assert _digest(folder / picture.file) == _digest(tmp_path / picture.file)


def test_whole_figure_pictures(tmp_path):
    specimen = skittle()
    cover = gallery.draw_cover(specimen.plan, specimen.meshes, tmp_path)
    apart = gallery.draw_exploded_overview(specimen.plan, specimen.meshes, tmp_path)
    small = gallery.draw_part_thumbnails(specimen.plan, specimen.meshes, tmp_path)
    sections = gallery.draw_section_views(specimen.plan, specimen.meshes, tmp_path)
    for picture in (cover, apart, *small.values(), *sections.values()):
        pixels = np.asarray(Image.open(tmp_path / picture.file).convert("RGB"))
        assert 0.05 < (pixels < 250).any(axis=2).mean() < 0.9
    assert apart.view.label_overlaps == 0
    assert {reference for reference, _ in apart.legend} == set(specimen.meshes)
    assert set(small) == set(specimen.meshes)
    assert list(sections) == ["S1"]


def _digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
