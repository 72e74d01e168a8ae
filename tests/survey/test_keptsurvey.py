"""A survey that remembers an earlier one says the same as one that remembers nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from shapely import to_wkb

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.outlinerecords import outline_records, outlines_from
from assembler.geometry.outlines import Outline, outlines_of
from assembler.projectfiles.answers import Answers
from assembler.projectfiles.cachefolder import CacheFolder
from assembler.projectfiles.keptarrays import KeptArrays
from assembler.projectfiles.memory import Memory
from assembler.survey.joints import Survey, survey_joints
from tests.survey.part_sets import noisy, plug_and_cone, quartered_tower, seat_zoo

Parts = dict[PartId, Mesh]


def _survey(meshes: Parts, cache: Path | None = None) -> Survey:
    memory = _memory(cache) if cache else Memory()
    found = survey_joints(meshes, Tolerances(), memory=memory)
    memory.save()
    return found


def _memory(cache: Path) -> Memory:
    arrays = KeptArrays(CacheFolder(root=cache), common="code")
    return Memory(answers=Answers(cache / "answers.json", common="code"), arrays=arrays)


def _tower() -> Parts:
    return {PartId(name): mesh for name, mesh in quartered_tower().meshes().items()}


def _noisy_tower() -> Parts:
    return {name: noisy(mesh, seed) for seed, (name, mesh) in enumerate(_tower().items())}


def _cone() -> Parts:
    return {PartId(name): mesh for name, mesh in plug_and_cone(is_curved=True).meshes().items()}


def _seats() -> Parts:
    return {PartId(name): mesh for name, mesh in seat_zoo().meshes().items()}


@pytest.mark.parametrize("make", [_tower, _noisy_tower, _cone, _seats])
def test_the_second_survey_says_the_same_without_looking(
    make: Callable[[], Parts], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    meshes = make()
    plain = _survey(meshes)
    assert plain.joints
    assert _survey(meshes, tmp_path) == plain

    def no_more(*_: object, **__: object) -> None:
        raise AssertionError("faces were compared that were compared before")

    monkeypatch.setattr("assembler.survey.nearness.facing_samples", no_more)
    monkeypatch.setattr("assembler.survey.contacts.find_flats", no_more)
    monkeypatch.setattr("assembler.survey.keptbores.BoreProbe", no_more)
    assert _survey(meshes, tmp_path) == plain


def test_after_a_re_cut_the_survey_is_that_of_the_new_parts(tmp_path: Path) -> None:
    meshes = _tower()
    before = _survey(meshes, tmp_path)
    changed = sorted(meshes)[0]
    away = Mesh(vertices=meshes[changed].vertices + np.array([0.0, 0.0, 0.25]), faces=meshes[changed].faces)
    for now in (
        meshes | {changed: away},
        {name: mesh for name, mesh in meshes.items() if name != changed},
        {PartId(f"Z-{name}" if name == changed else name): mesh for name, mesh in meshes.items()},
        {name: Mesh(vertices=mesh.vertices + 5.0, faces=mesh.faces) for name, mesh in meshes.items()},
    ):
        plain = _survey(now)
        assert plain != before
        assert _survey(now, tmp_path) == plain


def test_other_tolerances_are_another_question(tmp_path: Path) -> None:
    meshes = _tower()
    changed = sorted(meshes)[0]
    meshes[changed] = Mesh(vertices=meshes[changed].vertices - np.array([0.0, 0.0, 0.4]), faces=meshes[changed].faces)
    found = []
    for gap_mm in (0.6, 0.1):
        memory = _memory(tmp_path)
        found.append(survey_joints(meshes, Tolerances(gap_mm=gap_mm), memory=memory))
        memory.save()
        assert found[-1] == survey_joints(meshes, Tolerances(gap_mm=gap_mm))
    assert found[0] != found[1]


def test_damaged_entries_are_found_anew(tmp_path: Path) -> None:
    meshes = _tower()
    plain = _survey(meshes, tmp_path)
    for number, file in enumerate(sorted(tmp_path.glob("*/*/*.bin"))):
        if number % 2:
            file.write_bytes(b"")
        else:
            file.unlink()
    assert _survey(meshes, tmp_path) == plain


def test_outlines_come_back_to_the_bit(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[Outline] = []

    def watched(mesh: Mesh, flats: object) -> tuple[Outline, ...]:
        found = outlines_of(mesh, flats)  # type: ignore[arg-type]
        seen.extend(found)
        return found

    monkeypatch.setattr("assembler.survey.contacts.outlines_of", watched)
    _survey(_seats())
    assert any(outline.openings for outline in seen)
    for was, now in zip(seen, outlines_from(*outline_records(seen)), strict=True):
        assert to_wkb(now.polygon) == to_wkb(was.polygon)
        assert _plain(now) == _plain(was)


def _plain(thing: object) -> object:
    """A record as nested plain values, arrays by their bytes."""
    if isinstance(thing, np.ndarray):
        return thing.astype(thing.dtype).tobytes(), thing.shape, thing.dtype.str
    if isinstance(thing, tuple):
        return tuple(map(_plain, thing))
    if hasattr(thing, "__dataclass_fields__"):
        return tuple(_plain(getattr(thing, name)) for name in thing.__dataclass_fields__ if name != "polygon")
    return thing
