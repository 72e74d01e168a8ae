"""plan.json read back: held against its schema once, and never taken on trust after a change."""

from __future__ import annotations

from pathlib import Path

import pytest

from assembler.errors import BookFolderError
from assembler.projectfiles import planfile
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.planfile import keep_fitting, plan_json, read_plan
from assembler.reuse import CachedShelf
from tests.recut.tower import Recipe
from tests.recut.tower import plan as tower_plan


def test_a_plan_that_was_written_here_is_not_held_against_the_schema_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf, path = CachedShelf(ProjectFolder(tmp_path)), tmp_path / "plan.json"
    text = plan_json(tower_plan(Recipe()))
    path.write_text(text, encoding="utf-8")
    keep_fitting(text, shelf)
    monkeypatch.setattr(planfile, "_FITTING", set())
    with monkeypatch.context() as within:
        within.setattr("assembler.projectfiles.planfile.jsonschema.validate", None)
        assert read_plan(path, shelf)["schema"] == planfile.SCHEMA_NAME
    path.write_text(text.replace('"steps"', '"stairs"'), encoding="utf-8")
    with pytest.raises(BookFolderError):
        read_plan(path, shelf)
