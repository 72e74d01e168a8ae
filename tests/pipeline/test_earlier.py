"""What an issued book says about the next one's pages: by what they look like, not by guess."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PIL import Image

from assembler.earlier import Since, as_drawn, keep_issued_pictures, since_last, step_looks
from assembler.figure.ids import StepNumber
from assembler.figure.pictures import Picture
from assembler.figure.printed import PrintedPiece
from assembler.projectfiles.bookfolder import Book, book_written_whole
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.planfile import plan_json
from assembler.projectfiles.writing import write_whole
from assembler.publishing.pieces import Printed
from assembler.recut.compare import compare_plans
from tests.recut.tower import Recipe
from tests.recut.tower import plan as tower_plan

ONE, TWO = StepNumber("1"), StepNumber("2")


def test_a_step_whose_pictures_look_the_same_is_no_step_with_another_background() -> None:
    plan = tower_plan(Recipe())
    changes = compare_plans(plan, replace(plan, revision="B"))
    since = Since(changes=replace(changes, background_steps=(ONE, TWO)), looks={ONE: "like this", TWO: "like that"})
    drawn = as_drawn(since, {ONE: "like this", TWO: "another"})
    assert drawn.changes is not None
    assert drawn.changes.background_steps == (TWO,)
    # A book from before looks were kept: nothing is known, so nothing is left out.
    unknown = as_drawn(replace(since, looks={}), {ONE: "like this", TWO: "another"})
    assert unknown.changes == since.changes


def test_looks_tell_pixels_and_marks_apart_but_not_key_figures(tmp_path: Path) -> None:
    def look(colour: int, overlay: str) -> str:
        Image.new("L", (4, 4), colour).save(tmp_path / "step-1.png")
        picture = Picture(file="step-1.png", width_px=4, height_px=4, overlay_svg=overlay, alt="a")
        return step_looks({ONE: (picture,)}, tmp_path)[ONE]

    first = look(10, "<text>P01</text>")
    Image.new("L", (4, 4), 1).save(tmp_path / "step-1-key.png")
    assert look(10, "<text>P01</text>") == first
    assert len({first, look(11, "<text>P01</text>"), look(10, "<text>P02</text>")}) == 3


def test_a_picture_that_nobody_can_tell_from_the_printed_one_stays(tmp_path: Path) -> None:
    def saved(folder: Path, name: str, *dark: tuple[int, int]) -> Picture:
        folder.mkdir(exist_ok=True)
        paper = Image.new("L", (200, 100), 220)
        for column, grey in dark:
            paper.paste(grey, (column, 40, column + 1, 60))
        paper.save(folder / name)
        return Picture(file=name, width_px=200, height_px=100, overlay_svg="", alt="a")

    def kept(*dark: tuple[int, int], alt: str = "a") -> tuple[bool, bool]:
        """Whether step 1 and the cover are those that were printed, with other lines in both."""
        folder = tmp_path / "new"
        main, cut = saved(folder, "step-1.png", *dark), saved(folder, "step-1-cut.png", (50, 0))
        pictures = {ONE: (replace(main, alt=alt), cut)}
        looks = keep_issued_pictures(pictures, [saved(folder, "cover.png", *dark).file], since, folder)
        assert looks == step_looks(pictures, folder)
        files = [(place / "cover.png").read_bytes() for place in (old, folder)]
        return looks == since.looks, files[0] == files[1]

    old = tmp_path / "A"
    printed = {ONE: (saved(old, "step-1.png", (20, 0)), saved(old, "step-1-cut.png", (50, 0)))}
    saved(old, "cover.png", (20, 0))
    files = dict.fromkeys(("step-1.png", "step-1-cut.png", "cover.png"), "")
    book = Book(path=old, revision="A", program_version="0", input_digest="", files=files)
    since = Since(book=book, looks=step_looks(printed, old))
    assert kept((20, 0)) == (True, True)
    assert kept((20, 0), (120, 216)) == (True, True)
    assert kept((20, 0), (120, 100)) == (False, False)
    # As faint, but something else differs in the step.
    assert kept((20, 0), (120, 216), alt="b") == (False, True)


def test_a_piece_keeps_its_revision_while_it_reads_and_looks_the_same(tmp_path: Path) -> None:
    html = '<p>Parts</p><image width="4" href="part-P01.png">'
    Image.new("L", (4, 4), 10).save(tmp_path / "part-P01.png")
    issue = Printed(tmp_path, {}, "A")
    assert issue.revision_of("parts", html) == "A"
    again = Printed(tmp_path, issue.now, "B")
    assert again.revision_of("parts", html) == "A"
    assert again.revision_of("days", html) == "B"
    assert again.revision_of("parts", html.replace("Parts", "Part")) == "B"
    Image.new("L", (4, 4), 11).save(tmp_path / "part-P01.png")
    assert Printed(tmp_path, again.now, "C").revision_of("days", html) == "C"
    assert isinstance(again.now["days"], PrintedPiece)


def test_an_unchanged_step_prints_the_angle_of_its_pages_in_the_binder(tmp_path: Path) -> None:
    plan = tower_plan(Recipe())
    number, stands = next((step.number, step.stability) for step in plan.steps if step.stability is not None)
    book_folder = tmp_path / "books" / "A"
    with book_written_whole(
        book_folder,
        revision="A",
        version="0",
        digest="0" * 64,
        is_issue=True,
    ) as folder:
        write_whole(folder / "plan.json", plan_json(plan))
    nearly = replace(
        plan,
        revision="B",
        steps=tuple(
            replace(step, stability=replace(stands, tip_deg=stands.tip_deg + 0.3)) if step.number == number else step
            for step in plan.steps
        ),
    )
    printed, since = since_last(nearly, ProjectFolder(tmp_path))
    assert since.changes is not None
    assert number in since.changes.same_steps
    (same,) = (step for step in printed.steps if step.number == number)
    assert same.stability is not None
    assert abs(same.stability.tip_deg - stands.tip_deg) < 0.01
