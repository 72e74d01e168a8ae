"""Marks of change: pages keep those they were printed with, as long as they are in force."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from assembler.errors import BookFolderError
from assembler.figure.plan import Plan
from assembler.projectfiles.planfile import as_written
from assembler.recut.changes import Changes, PagePlace, changes_record, read_changes
from assembler.recut.compare import compare_plans
from assembler.recut.marks import step_marks
from assembler.recut.numbering import keep_numbers
from tests.recut.test_compare import OLD, SPLIT
from tests.recut.tower import Recipe, plan


def _next(old: Plan, recipe: Recipe, *before: Changes) -> tuple[Plan, Changes]:
    """Plan and changes of the next book."""
    new = as_written(keep_numbers(plan(recipe), old))
    pages = before[-1].effective_pages if before else ()
    return new, compare_plans(old, new, earlier_pages=pages)


def test_a_first_book_has_no_marks() -> None:
    assert step_marks([]) == {}


def test_new_and_changed_steps_are_marked_where_they_differ() -> None:
    _, b = _next(OLD, SPLIT)
    marks = step_marks([b])
    assert {number: mark.revision for number, mark in marks.items() if PagePlace.WHOLE in mark.places} == {
        "1a": "B",
        "1b": "B",
    }
    assert marks["2"].places == (PagePlace.JOB, PagePlace.PICTURE, PagePlace.BRING, PagePlace.ORDERS, PagePlace.TIGHTEN)
    assert marks["2"].parts == {"P07": "new", "P08": "new"}


def test_a_damaged_changes_file_is_one_clear_line(tmp_path: Path) -> None:
    _, b = _next(OLD, SPLIT)
    path, record = tmp_path / "changes.json", changes_record(b)
    path.write_text(json.dumps(record), encoding="utf-8")
    assert read_changes(path) == b
    spoiled = (
        ({**record, "schema": "assembler/changes/9"}, "got schema"),
        ({**record, "pages": {}}, "pages_out"),
        ({**record, "steps": 3}, "steps"),
        ([], "figure_name"),
    )
    for content, said in spoiled:
        path.write_text(json.dumps(content), encoding="utf-8")
        with pytest.raises(BookFolderError, match=said) as caught:
            read_changes(path)
        assert "\n" not in str(caught.value)


def test_a_page_behind_whose_work_something_was_cut_again_has_no_mark() -> None:
    _, b = _next(OLD, SPLIT)
    assert "4" in b.background_steps
    assert "4" not in step_marks([b])


def test_a_page_keeps_the_marks_of_the_revision_in_which_it_was_printed() -> None:
    new, b = _next(OLD, SPLIT)
    _, c = _next(new, replace(SPLIT, revision="C", bolts={3: 8}), b)
    first, second = step_marks([b]), step_marks([b, c])
    # Step 1a was new in B and is untouched in C: the same page, mark and all.
    assert second["1a"] == first["1a"]
    changed = {number for number, mark in second.items() if mark.revision == "C"}
    assert changed == {change.number for change in c.steps}
    assert changed
