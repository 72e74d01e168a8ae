"""A figure whose files have y up is drawn as if it stood, and its plan keeps the frame of its files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from assembler.drawing.pictures import draw_book
from assembler.drawing.upright import set_upright
from tests.drawing.specimens import skittle

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def test_setting_upright_and_back_is_the_identity() -> None:
    made = skittle(bands=2, sides=24)
    # Setting x upright and then y turns every axis into the next one and back.
    lying, meshes = set_upright(replace(made.plan, up=X), made.meshes)
    stood, back = set_upright(replace(lying, up=Y), meshes)
    assert stood == made.plan
    assert all((back[name].vertices == mesh.vertices).all() for name, mesh in made.meshes.items())


def test_y_up_draws_the_same_pictures(tmp_path: Path) -> None:
    made = skittle(bands=2, sides=24)
    few = replace(made.plan, steps=made.plan.steps[:2])
    lying, meshes = set_upright(replace(few, up=X), made.meshes)
    lying = replace(lying, up=Y)
    upright = draw_book(few, made.meshes, _folder(tmp_path, "upright"))
    turned = draw_book(lying, meshes, _folder(tmp_path, "turned"))
    files = sorted(file.name for file in (tmp_path / "upright").iterdir())
    assert files
    for name in files:
        assert (tmp_path / "turned" / name).read_bytes() == (tmp_path / "upright" / name).read_bytes(), name
    assert turned.plan.steps[0].path == lying.steps[0].path
    assert turned.plan.steps[0].view.up == pytest.approx(Y)
    x, y, z = upright.plan.steps[0].view.eye
    assert turned.plan.steps[0].view.eye == pytest.approx((y, z, x))


def _folder(root: Path, name: str) -> Path:
    folder = root / name
    folder.mkdir()
    return folder
