"""Ways of hands of an earlier run: given again where no arm can tell a difference, found anew where one can."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from assembler.cache import Answers
from assembler.figure.mesh import Mesh
from assembler.planning import handroom
from assembler.planning.access import Hands
from assembler.planning.scene import scene_of
from tests.planning import odd
from tests.planning.odd import OPEN


def _verdicts(given, answers: Answers):
    scene = scene_of(**given)
    hands = Hands(scene, answers=answers)
    return {name: hands.verdict(bolt, scene.everything, floor=None) for name, bolt in hands.bolts.items()}


def _walked(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    walks: list[object] = []
    real = handroom.way_in
    monkeypatch.setattr(handroom, "way_in", lambda *given: walks.append(given) or real(*given))
    return walks


@pytest.mark.parametrize("hole_mm", [140.0, 157.0, 190.0])
def test_a_face_divided_anew_is_not_walked_round_again(hole_mm: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another mesh of the same solid: no verdict is known for it, every way is."""
    given = odd.flanges_in_one_cavity(OPEN, hole_mm=hole_mm).given
    answers = Answers()
    walks = _walked(monkeypatch)
    first = _verdicts(given, answers)
    assert walks
    walks.clear()
    again = {**given, "meshes": {part: _renumbered(mesh) for part, mesh in given["meshes"].items()}}
    assert _verdicts(again, answers) == first
    assert not walks


def test_an_opening_made_wider_is_found_although_everything_is_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    answers = Answers()
    narrow = _verdicts(odd.flanges_in_one_cavity(OPEN, hole_mm=140.0).given, answers)
    walks = _walked(monkeypatch)
    wide = odd.flanges_in_one_cavity(OPEN, hole_mm=190.0).given
    assert _verdicts(wide, answers) == _verdicts(wide, Answers())
    assert walks
    assert {verdict.missing for verdict in narrow.values()} != {
        verdict.missing for verdict in _verdicts(wide, answers).values()
    }


def _renumbered(mesh: Mesh) -> Mesh:
    """The same triangles, vertices and faces in another order."""
    count = len(mesh.vertices)
    return replace(mesh, vertices=mesh.vertices[::-1].copy(), faces=np.ascontiguousarray(count - 1 - mesh.faces))
