"""What several parts are called together."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assembler.planning.headings import unit_name
from tests import specimens

CUBE = specimens.part_of("P01", specimens.mesh_of(specimens.box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))))


@pytest.mark.parametrize(
    ("files", "name"),
    [
        (("forearm right", "lantern base", "lantern body", "lantern roof", "upper arm right"), "lantern"),
        (("torso 1 left", "torso_1_right", "torso-2 left", "torso 2 right"), "torso"),
        (("hand left", "foot left", "ear left", "eye left"), ""),
        (("arm left", "arm right", "leg left", "leg right"), ""),
        (("head", "tail", "tail tip", "paw", "ear"), ""),
    ],
)
def test_parts_are_called_by_the_word_that_their_names_share(files: tuple[str, ...], name: str) -> None:
    assert unit_name([replace(CUBE, file=f"{file}.stl") for file in files]) == name
