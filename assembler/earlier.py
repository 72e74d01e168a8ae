"""What the issued books of a project have to say in the next one: numbers, pages in force, marks of change.

A plan and the project folder go in; the plan as it continues, what differs, and the marks on its pages come out.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from assembler.assistants import Assistants
from assembler.drawing.sameness import is_same_to_the_eye
from assembler.figure.findings import Finding
from assembler.figure.ids import PartId, StepNumber
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step, View
from assembler.figure.printed import PrintedPiece
from assembler.figure.shelf import Shelf
from assembler.projectfiles.bookfolder import Book, issued_books, next_free_revision
from assembler.projectfiles.builtlog import read_built
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.planfile import plan_record, read_plan
from assembler.projectfiles.writing import write_whole
from assembler.recut.asbuilt import as_built
from assembler.recut.changes import Changes
from assembler.recut.compare import compare_plans
from assembler.recut.marks import StepMark, step_marks
from assembler.recut.numbering import keep_numbers
from assembler.recut.wording import changes_record, effective_pages

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
    def part_words(self) -> dict[StepNumber, Mapping[PartId, str]]:
        """By step: a word for each part that a picture of it has to mark."""
        return {number: mark.parts for number, mark in self.marks.items() if mark.parts}


def issued_steps(folder: ProjectFolder, shelf: Shelf | None = None) -> Sequence[Mapping[str, Any]]:
    """Steps of the last issued plan.json; none for a first book."""
    books = issued_books(folder)
    steps: Sequence[Mapping[str, Any]] = read_plan(books[-1].path / "plan.json", shelf)["steps"] if books else ()
    return steps


def continued(plan: Plan, folder: ProjectFolder, shelf: Shelf | None = None) -> tuple[Plan, tuple[Finding, ...]]:
    """The plan with the numbers of the last issued book, going on from what stands.

    Raises
    ------
    InputError
        If the as-built log or an issued plan cannot be used.
    """
    books = [read_plan(book.path / "plan.json", shelf) for book in issued_books(folder)]
    if not books:
        return plan, ()
    *earlier, issued = books
    built = read_built(folder.built)
    if built:
        return as_built(plan, built, issued, earlier=earlier)
    return keep_numbers(plan, issued, earlier=earlier), ()


def since_last(plan: Plan, folder: ProjectFolder, shelf: Shelf | None = None) -> tuple[Plan, Since]:
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
    return _since(plan, folder, books[-1], shelf)


def since_book(plan: Plan, folder: ProjectFolder, book: Book) -> tuple[Plan, Since]:
    """What differs from any complete book; as `since_last`."""
    return _since(plan, folder, book)


def _since(plan: Plan, folder: ProjectFolder, book: Book, shelf: Shelf | None = None) -> tuple[Plan, Since]:
    changes = changes_since(book, plan, shelf)
    taken = {one.revision for one in issued_books(folder)}
    if not changes.is_empty and plan.revision in taken:
        plan = replace(plan, revision=next_free_revision(folder, plan.revision))
        changes = changes_since(book, plan, shelf)
    issued = read_plan(book.path / "plan.json", shelf)["steps"]
    looks, printed = _pages_of(book)
    since = Since(
        book=book,
        changes=changes,
        marks=_marks(folder, changes),
        looks=looks,
        printed=printed,
        views={StepNumber(step["number"]): _view(step["view"]) for step in issued if any(step["view"]["eye"])},
    )
    return _with_reasons_of(plan, issued, changes), since


def _view(record: Mapping[str, Any]) -> View:
    x, y, z = record["eye"]
    right, back, above = record["up"]
    return View(**{**record, "eye": (x, y, z), "up": (right, back, above)})


def _marks(folder: ProjectFolder, changes: Changes) -> Mapping[StepNumber, StepMark]:
    records = [record for one in issued_books(folder) if (record := _changes_of(one)) is not None]
    return step_marks([*records, changes_record(changes)])


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
    others: Sequence[Picture],
    since: Since,
    folder: Path,
    assistants: Assistants | None = None,
) -> dict[StepNumber, str]:
    """Put pictures of the book before in the place of those that look the same to the eye.

    No page is changed in a binder for the last bits of a line that nobody sees. Each picture is held against the one
    that was printed, so small differences do not add up from book to book.

    Parameters
    ----------
    steps
        By step; where one picture looks otherwise, all of that step stay as they are.
    others
        Pictures that belong to no step.
    since
        The book before.
    folder
        Where the new files lie.
    assistants
        Other processes that look at half of them; None: this one looks at all.

    Returns
    -------
    dict
        What the steps look like now, see `step_looks`.
    """
    looks = step_looks(steps, folder)
    if since.book is None:
        return looks
    changed = [number for number, look in looks.items() if look != since.looks.get(number, look)]
    judged = [steps[number] for number in changed] + [[other] for other in others]
    half = len(changed) // 2
    with (assistants or Assistants(0)).beside(_all_alike, judged[:half], since.book, folder) as first:
        second = _all_alike(judged[half:], since.book, folder)
        alike = [*first(), *second]
    for number, found in zip(changed, alike, strict=False):
        if found and _look(steps[number], {**_places(steps[number], folder), **found}) == since.looks[number]:
            _copy(found.values(), folder)
            looks[number] = since.looks[number]
    for found in alike[len(changed) :]:
        _copy(found.values(), folder)
    return looks


def _all_alike(groups: Sequence[Sequence[Picture]], book: Book, folder: Path) -> list[dict[str, Path]]:
    """Of each group of pictures those that look as before, see `_alike`."""
    return [_alike(pictures, book, folder) for pictures in groups]


def _alike(pictures: Sequence[Picture], book: Book, folder: Path) -> dict[str, Path]:
    """Files of a book that look like those of the same name in a folder, though their bytes differ.

    None where one of the pictures looks otherwise.
    """
    found = {}
    for name, now in _places(pictures, folder).items():
        before = book.path / name
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
    """What differs once the pictures are drawn: a step whose background changed where no picture shows it did not."""
    changes = since.changes
    if changes is None:
        return since
    seen = tuple(number for number in changes.background_steps if since.looks.get(number) != looks.get(number))
    return replace(since, changes=replace(changes, background_steps=seen))


def write_pages(folder: Path, looks: Mapping[StepNumber, str], printed: Mapping[str, PrintedPiece]) -> None:
    """Write pages.json: what the pages of a book look like, for the book after it."""
    record = {"steps": looks, "pieces": {name: asdict(piece) for name, piece in printed.items()}}
    write_whole(folder / PAGES, json.dumps(record, indent=1, sort_keys=True) + "\n")


def _pages_of(book: Book) -> tuple[dict[StepNumber, str], dict[str, PrintedPiece]]:
    """Looks and printed pieces of a book; nothing for books that were written before these were kept."""
    path = book.path / PAGES
    if not path.exists():
        return {}, {}
    record = json.loads(path.read_text(encoding="utf-8"))
    looks = {StepNumber(number): look for number, look in record["steps"].items()}
    return looks, {name: PrintedPiece(**piece) for name, piece in record["pieces"].items()}


def _with_reasons_of(plan: Plan, steps: Sequence[Mapping[str, Any]], changes: Changes) -> Plan:
    """The plan whose unchanged steps say what was printed: their pages stay in the binder.

    That is why they come now, and the angle that tips what stands and the height of a lift, which move by less than is
    worth saying.
    """
    printed = {step["number"]: step for step in steps}
    kept = set(changes.same_steps)
    return replace(
        plan,
        steps=tuple(_as_printed(step, printed[step.number]) if step.number in kept else step for step in plan.steps),
    )


def _as_printed(step: Step, record: Mapping[str, Any]) -> Step:
    stands, stood = step.stability, record.get("stability")
    if stands is not None and stood is not None:
        stands = replace(stands, tip_deg=stood["tip_deg"])
    lift, lifted = step.lift, record.get("lift")
    if lift is not None and lifted is not None and "height_mm" in lifted:
        lift = replace(lift, height_mm=lifted["height_mm"])
    return replace(step, why=tuple(record.get("why", ())), stability=stands, lift=lift)


def changes_since(book: Book, plan: Plan, shelf: Shelf | None = None) -> Changes:
    """What differs from a book; pages that it carried on from still earlier books keep their revision."""
    before = _changes_of(book)
    pages = effective_pages(before) if before is not None else ()
    return compare_plans(read_plan(book.path / "plan.json", shelf), plan_record(plan), earlier_pages=pages)


def _changes_of(book: Book) -> Mapping[str, Any] | None:
    path = book.path / CHANGES
    if not path.exists():
        return None
    record: Mapping[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return record


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
