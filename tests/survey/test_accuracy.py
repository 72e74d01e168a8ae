"""The cheap part of the accuracy bench: a sculpted figure with a modelled bond line, and cuts that are not flat."""

from __future__ import annotations

import pytest

from assembler.figure.tolerances import Tolerances
from assembler.survey.joints import survey_joints
from tests.bench.survey_accuracy import meshes_in, score
from tests.bench.survey_curves import CURVED, curved_cut
from tests.bench.survey_figures import FIGURES, sculpted
from tests.survey.part_sets import PartSet


@pytest.fixture(scope="module")
def figure() -> PartSet:
    return sculpted(FIGURES["gap"])


@pytest.mark.parametrize("state", ["clean", "noisy"])
def test_sculpted_figure_is_within_the_bars(figure: PartSet, state: str) -> None:
    result = score(figure, survey_joints(meshes_in(figure, state), Tolerances()), state)
    assert result.bolts == 18
    assert not result.missed
    assert not result.invented
    assert not result.over(state), result.errors


def test_seam_of_a_fine_curved_cut_runs_along_its_edge_past_slivers() -> None:
    part_set = curved_cut(seed=25, facets=500, bow_mm=360.0, hole=5.5)
    result = score(part_set, survey_joints(part_set.meshes(), Tolerances()), "clean")
    assert not result.missed
    assert not result.invented
    assert result.errors["seam"] <= 0.003
    assert not result.over("clean"), result.errors


@pytest.mark.parametrize(
    ("name", "state"),
    [("hilly, upright holes", "clean"), ("rolling cut", "clean"), ("rolling cut", "noisy"), ("bolted cone", "noisy")],
)
def test_cut_that_is_not_flat_is_within_the_bars(name: str, state: str) -> None:
    part_set = CURVED[name]()
    result = score(part_set, survey_joints(meshes_in(part_set, state), Tolerances()), state)
    assert not result.missed
    assert not result.invented
    assert not result.over(state), result.errors
