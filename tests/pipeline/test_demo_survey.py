"""The survey of the demo equals what its generator knows: every joint and bolt, none invented."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assembler.figure.joints import Bolt, Joint, Method, Seat
from assembler.project import Project, open_project
from tests.pipeline.demo_parts import demo_folder

Truth = Mapping[str, Any]


@pytest.fixture(scope="module")
def truth() -> dict[frozenset[str], Truth]:
    record = json.loads((demo_folder() / "truth.json").read_text(encoding="utf-8"))
    return {frozenset(joint["files"]): joint for joint in record["joints"]}


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Project:
    root = tmp_path_factory.mktemp("demo") / "otter"
    return open_project(root, lambda _: None, parts_from=demo_folder() / "parts", unit="mm")


@pytest.fixture(scope="module")
def pairs(project: Project, truth: Mapping[frozenset[str], Truth]) -> Sequence[tuple[Joint, Truth]]:
    files = {part.id: part.file for part in project.parts}
    found = {frozenset(files[part] for part in joint.parts): joint for joint in project.joints}
    assert set(found) == set(truth), "joints missed or invented"
    return [(found[pair], truth[pair]) for pair in sorted(truth, key=sorted)]


def test_every_bolt_is_found_and_none_invented(pairs: Sequence[tuple[Joint, Truth]], project: Project) -> None:
    files = {part.id: part.file for part in project.parts}
    for joint, known in pairs:
        assert len(joint.bolts) == len(known["bolts"]), joint.id
        assert {_match(bolt, known["bolts"]) for bolt in joint.bolts} == set(range(len(joint.bolts))), joint.id
        for bolt in joint.bolts:
            true = known["bolts"][_match(bolt, known["bolts"])]
            assert bolt.hole_mm == pytest.approx(true["hole_mm"], abs=0.1)
            assert bolt.grip_mm == pytest.approx(true["grip_mm"], abs=0.05)
            captive = [files[bolt.through[end]] for end in (0, -1) if bolt.seats[end] is Seat.CAPTIVE]
            assert captive == ([true["captive"]] if true["captive"] else [])


def _match(bolt: Bolt, known: Sequence[Truth]) -> int:
    """Index of the bolt whose axis this is: within 0.1 mm and 0.2 degrees."""
    for index, true in enumerate(known):
        away = np.linalg.norm(np.cross(np.subtract(bolt.at_mm, true["at"]), true["axis"]))
        if away <= 0.1 and abs(np.dot(bolt.axis, true["axis"])) >= np.cos(np.radians(0.2)):
            return index
    raise AssertionError(f"{bolt.id} at {bolt.at_mm} is no bolt of the figure")


def test_methods_areas_and_seams_are_true(pairs: Sequence[tuple[Joint, Truth]]) -> None:
    wrong = []
    for joint, known in pairs:
        # A bolted joint may also be glued: meshes do not tell, so the survey assumes it.
        if joint.method is not Method(known["method"]) and known["method"] != "bolted":
            wrong.append(f"{joint.id} {joint.method} is {known['method']}")
        if joint.bond_area_mm2 != pytest.approx(known["bond_area_mm2"], rel=0.005):
            wrong.append(f"{joint.id} {known['files']} area {joint.bond_area_mm2:.0f} is {known['bond_area_mm2']:.0f}")
        if joint.seam_mm != pytest.approx(known["seam_mm"], rel=0.01):
            wrong.append(f"{joint.id} {known['files']} seam {joint.seam_mm:.0f} is {known['seam_mm']:.0f}")
    assert not wrong, "\n".join(wrong)


def test_nothing_is_wrong_with_the_demo(project: Project) -> None:
    assert [finding for finding in project.findings if finding.level != "note"] == []
    assert len(project.questions) == len({asked.about for asked in project.questions}) <= 8
    (asked,) = (asked for asked in project.questions if "without bolts" in str(asked.question))
    assert "J28, hatch panel (P03)" in str(asked.question)
    assert "J34, lantern ring handle (P08)" in str(asked.question)
    assert not list(Path(project.folder.root).glob("parts-set-aside/*"))
