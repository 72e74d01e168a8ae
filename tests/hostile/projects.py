"""A project that costs no survey and no drawing: figure.toml, and a book that holds a plan with holds."""

from __future__ import annotations

from pathlib import Path

from assembler.projectfiles.bookfolder import book_written_whole
from assembler.projectfiles.figuretemplate import FirstGuess, figure_toml
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.planfile import plan_json
from assembler.projectfiles.writing import write_whole
from tests.recut.tower import Recipe, plan

PLAN = plan(Recipe(bonded=(0, 1, 2)))
"""Step 2 comes after 1 and waits for J01 of it; 3 waits for J02 of step 2; 4 and 5 come after 2."""

_TEXT = plan_json(PLAN)


def project(root: Path, *revisions: str) -> ProjectFolder:
    """A project with these issued books."""
    folder = ProjectFolder(root)
    write_whole(folder.figure, figure_toml(FirstGuess(name="tower", unit="mm")))
    for revision in revisions:
        book(folder.books / revision, revision)
    return folder


def book(target: Path, revision: str, figure_name: str | None = None) -> None:
    """A book whose pictures and tables are a few bytes."""
    with book_written_whole(
        target,
        revision=revision,
        version="0",
        digest="0" * 64,
        is_issue=revision != "draft",
        figure_name=figure_name,
    ) as folder:
        write_whole(folder / "plan.json", _TEXT)
        write_whole(folder / "hardware.xlsx", "a table")
        write_whole(folder / "step-1.png", "a picture")
