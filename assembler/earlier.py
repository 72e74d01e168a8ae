"""What the issued books of a project have to say in the next one: numbers, pages in force, marks of change.

A plan and the project folder go in; the plan as it continues, what differs, and the marks on its pages come out.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from pathlib import Path

from assembler.drawing.sameness import is_same_to_the_eye
from assembler.figure.findings import Finding
from assembler.figure.ids import PartId, StepNumber
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step, View
from assembler.figure.printed import PrintedPiece
from assembler.figure.records import record_of
from assembler.parallel import ordered_map
from assembler.projectfiles.bookfolder import Book, issued_books, next_free_revision, touched_findings
from assembler.projectfiles.builtlog import read_built
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.jsonfile import read_json
from assembler.projectfiles.planfile import as_written, read_plan
from assembler.projectfiles.writing import write_whole
from assembler.recut.asbuilt import as_built
from assembler.recut.changes import Changes, changes_record, read_changes
from assembler.recut.compare import compare_plans
from assembler.recut.marks import StepMark, step_marks
from assembler.recut.numbering import keep_numbers
from assembler.words import Text

CHANGES = "changes.json"
PAGES = "pages.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Since:
    """What a book owes to the one before it.

    Parameters
    ----------
    book
        The book before; None for a first one.
    changes
        What differs from it; None for a first book.
    marks
        By step: how its pages differ from those of an earlier book.
    looks
        By step: what its pictures looked like in the book before, see `step_looks`.
    printed
        What that book printed, by name of the piece.
    views
        By step: where the picture was taken from in that book.
    """

    book: Book | None = None
    changes: Changes | None = None
    marks: Mapping[StepNumber, StepMark] = field(default_factory=dict)
    looks: Mapping[StepNumber, str] = field(default_factory=dict)
    printed: Mapping[str, PrintedPiece] = field(default_factory=dict)
    views: Mapping[StepNumber, View] = field(default_factory=dict)

    @property
    def folder(self) -> Path | None:
        """Where that book lies; None for a first one."""
        return self.book.path if self.book else None

    @property
    def part_words(self) -> dict[StepNumber, Mapping[PartId, Text]]:
        """By step: a word for each part that a picture of it has to mark."""
        return {number: mark.parts for number, mark in self.marks.items() if mark.parts}


def issued_steps(folder: ProjectFolder) -> Sequence[Step]:
    """Steps of the last issued plan.json; none for a first book."""
    books = issued_books(folder)
    return read_plan(books[-1].path / "plan.json").steps if books else ()


def continued(plan: Plan, folder: ProjectFolder) -> tuple[Plan, tuple[Finding, ...]]:
    """The plan with the numbers of the last issued book, going on from what stands.

    Raises
    ------
    InputError
        If the as-built log or an issued plan cannot be used.
    """
    # Read where no book is issued yet, too: a log that cannot be used is said before the crew goes by the book.
    built = read_built(folder.built)
    books = issued_books(folder)
    if not books:
        return plan, ()
    *earlier, issued = [read_plan(book.path / "plan.json") for book in books]
    touched = touched_findings(books)
    if built:
        plan, findings = as_built(plan, built, issued, earlier=earlier)
        return plan, (*touched, *findings)
    return keep_numbers(plan, issued, earlier=earlier), touched


def since_last(plan: Plan, folder: ProjectFolder) -> tuple[Plan, Since]:
    """What differs from the last issued book.

    Returns
    -------
    Plan
        With the next free revision where its own letter is taken and something differs: two different pages of one
        revision must not exist.
    Since
        Empty for a first book.
    """
    books = issued_books(folder)
    if not books:
        return plan, Since()
    return _since(plan, folder, books[-1])


def since_book(plan: Plan, folder: ProjectFolder, book: Book) -> tuple[Plan, Since]:
    """What differs from any complete book; as `since_last`."""
    return _since(plan, folder, book)


def _since(plan: Plan, folder: ProjectFolder, book: Book) -> tuple[Plan, Since]:
    changes = changes_since(book, plan)
    taken = {one.revision for one in issued_books(folder)}
    if not changes.is_empty and plan.revision in taken:
        plan = replace(plan, revision=next_free_revision(folder, plan.revision))
        changes = changes_since(book, plan)
    issued = read_plan(book.path / "plan.json")
    pages = _pages_of(book)
    since = Since(
        book=book,
        changes=changes,
        marks=_marks(folder, changes),
        looks=pages.steps,
        printed=pages.pieces,
        views={step.number: step.view for step in issued.steps if any(step.view.eye)},
    )
    return _with_reasons_of(plan, issued.steps, changes), since


def _marks(folder: ProjectFolder, changes: Changes) -> Mapping[StepNumber, StepMark]:
    books = [found for one in issued_books(folder) if (found := _changes_of(one)) is not None]
    return step_marks([*books, changes])


def step_looks(pictures: Mapping[StepNumber, Sequence[Picture]], folder: Path) -> dict[StepNumber, str]:
    """Digest of all that the pictures of each step show; of the key figure in the corner only its place.

    How it was taken, and what was measured then, is no part of it: nobody sees that.

    Parameters
    ----------
    pictures
        By step.
    folder
        Where their files lie.
    """
    return {number: _look(shown, _places(shown, folder)) for number, shown in pictures.items()}


def _look(pictures: Sequence[Picture], files: Mapping[str, Path]) -> str:
    digest = hashlib.sha256()
    for picture in pictures:
        shown = {**asdict(picture), "view": asdict(View())}
        del shown["corner_px"]
        digest.update(json.dumps(shown, sort_keys=True).encode())
        digest.update(files[picture.file].read_bytes())
    return digest.hexdigest()


def keep_issued_pictures(
    steps: Mapping[StepNumber, Sequence[Picture]],
    others: Sequence[str],
    since: Since,
    folder: Path,
    executor: Executor | None = None,
) -> dict[StepNumber, str]:
    """Put pictures of the book before in the place of those that look the same to the eye.

    No page is changed in a binder for the last bits of a line that nobody sees. Each picture is held against the one
    that was printed, so small differences do not add up from book to book.

    Parameters
    ----------
    steps
        By step; where one picture looks otherwise, all of that step stay as they are.
    others
        Files of pictures that stand for themselves.
    since
        The book before.
    folder
        Where the new files lie.
    executor
        Workers that compare; None: this process does.

    Returns
    -------
    dict
        What the steps look like now, see `step_looks`.
    """
    looks = step_looks(steps, folder)
    if since.book is None:
        return looks
    changed = [number for number, look in looks.items() if look != since.looks.get(number, look)]
    groups = [[picture.file for picture in steps[number]] for number in changed] + [[file] for file in others]
    alike = list(ordered_map(executor, [partial(_alike, files, since.book, folder) for files in groups]))
    for number, found in zip(changed, alike, strict=False):
        if found and _look(steps[number], {**_places(steps[number], folder), **found}) == since.looks[number]:
            _copy(found.values(), folder)
            looks[number] = since.looks[number]
    for found in alike[len(changed) :]:
        _copy(found.values(), folder)
    return looks


def _alike(files: Sequence[str], book: Book, folder: Path) -> dict[str, Path]:
    """Files of a book that look like those of the same name in a folder, though their bytes differ.

    None where one of the pictures looks otherwise.
    """
    found = {}
    for name in files:
        before, now = book.path / name, folder / name
        if name in book.files and before.read_bytes() != now.read_bytes():
            if not is_same_to_the_eye(before, now):
                return {}
            found[name] = before
    return found


def _places(pictures: Sequence[Picture], folder: Path) -> dict[str, Path]:
    return {picture.file: folder / picture.file for picture in pictures}


def _copy(files: Iterable[Path], folder: Path) -> None:
    for file in files:
        shutil.copyfile(file, folder / file.name)


def as_drawn(since: Since, looks: Mapping[StepNumber, str]) -> Since:
    """What differs once the pictures are drawn, and what they look like.

    A step whose background changed where no picture shows it did not change.
    """
    changes = since.changes
    if changes is None:
        return replace(since, looks=looks)
    seen = tuple(number for number in changes.background_steps if since.looks.get(number) != looks.get(number))
    return replace(since, looks=looks, changes=replace(changes, background_steps=seen))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pages:
    """pages.json: looks of the steps, and the pieces as they were printed."""

    steps: Mapping[StepNumber, str]
    pieces: Mapping[str, PrintedPiece]


def write_pages(folder: Path, looks: Mapping[StepNumber, str], printed: Mapping[str, PrintedPiece]) -> None:
    """Write pages.json: what the pages of a book look like, for the book after it."""
    record = record_of(_Pages(steps=looks, pieces=printed))
    write_whole(folder / PAGES, json.dumps(record, indent=1, sort_keys=True) + "\n")


def _pages_of(book: Book) -> _Pages:
    """Looks and printed pieces of a book; nothing for books that were written before these were kept."""
    path = book.path / PAGES
    return read_json(path, _Pages) if path.exists() else _Pages(steps={}, pieces={})


def _with_reasons_of(plan: Plan, steps: Sequence[Step], changes: Changes) -> Plan:
    """The plan whose unchanged steps say what was printed: their pages stay in the binder.

    That is why they come now, and the angle that tips what stands and the height of a lift, which move by less than is
    worth saying.
    """
    printed = {step.number: step for step in steps}
    kept = set(changes.same_steps)
    return replace(
        plan,
        steps=tuple(_as_printed(step, printed[step.number]) if step.number in kept else step for step in plan.steps),
    )


def _as_printed(step: Step, printed: Step) -> Step:
    stands, stood = step.stability, printed.stability
    if stands is not None and stood is not None:
        stands = replace(stands, tip_deg=stood.tip_deg)
    lift, lifted = step.lift, printed.lift
    if lift is not None and lifted is not None and lifted.parts:
        lift = replace(lift, height_mm=lifted.height_mm)
    return replace(step, why=printed.why, stability=stands, lift=lift)


def changes_since(book: Book, plan: Plan) -> Changes:
    """What differs from a book; pages that it carried on from still earlier books keep their revision."""
    before = _changes_of(book)
    pages = before.effective_pages if before is not None else ()
    return compare_plans(read_plan(book.path / "plan.json"), as_written(plan), earlier_pages=pages)


def _changes_of(book: Book) -> Changes | None:
    path = book.path / CHANGES
    return read_changes(path) if path.exists() else None


def write_changes(folder: Path, changes: Changes) -> None:
    """Write changes.json."""
    text = json.dumps(changes_record(changes), indent=1, ensure_ascii=False)
    write_whole(folder / CHANGES, text + "\n")


def old_pictures(since: Since, sizes: Mapping[PartId, Picture], prefix: str) -> dict[PartId, Picture]:
    """Small pictures of the parts that changed, as the book before printed them.

    Parameters
    ----------
    since
        What differs, and from which book.
    sizes
        Small pictures of now: the old ones are of the same size.
    prefix
        What the file names are to begin with.

    Returns
    -------
    dict
        Pictures whose files lie in the book as `part-<id>.png`; none where that has none.
    """
    if since.book is None or since.changes is None or not sizes:
        return {}
    like = next(iter(sizes.values()))
    return {
        part: replace(like, file=f"{prefix}part-{part}.png", alt=f"Part {part} in revision {since.book.revision}.")
        for change in since.changes.parts
        for part in change.before
        if f"part-{part}.png" in since.book.files
    }
