"""The cheap part of the accuracy bench: a sculpted figure in four parts with a modelled bond line."""

from __future__ import annotations

import pytest

from assembler.figure.tolerances import Tolerances
from assembler.survey.joints import survey_joints
from tests.bench.survey_accuracy import meshes_in, score
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
