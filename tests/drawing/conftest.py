"""One studio for the tests of a module: it costs more than most pictures, and two at a time share one context."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from assembler.drawing.studio import Studio
from tests.drawing.specimens import skittle


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    """The skittle of six parts, ready to be drawn."""
    with skittle().studio(tmp_path_factory.mktemp("room")) as made:
        yield made
