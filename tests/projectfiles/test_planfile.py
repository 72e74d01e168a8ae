"""plan.json read back: held against its schema once in a run, and never taken on trust after a change."""

from __future__ import annotations

from pathlib import Path

import pytest

from assembler.errors import BookFolderError
from assembler.projectfiles import planfile
from assembler.projectfiles.planfile import plan_json, read_plan
from tests.recut.tower import Recipe
from tests.recut.tower import plan as tower_plan


def test_a_plan_is_held_against_the_schema_once_and_again_after_a_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "plan.json"
    text = plan_json(tower_plan(Recipe()))
    path.write_text(text, encoding="utf-8")
    assert read_plan(path)["schema"] == planfile.SCHEMA_NAME
    with monkeypatch.context() as within:
        within.setattr("assembler.projectfiles.planfile.jsonschema.validate", None)
        assert read_plan(path)["schema"] == planfile.SCHEMA_NAME
    path.write_text(text.replace('"steps"', '"stairs"'), encoding="utf-8")
    with pytest.raises(BookFolderError):
        read_plan(path)
