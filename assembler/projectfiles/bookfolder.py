"""Book folders: written whole or not at all, frozen once issued, and able to prove that they are complete.

A book folder carries `book.json`: revision, program version, a digest of what it was made from, and every file with
its SHA-256. That file is written last, so a folder without it, or with a file that does not match, is not a book.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Annotated

import pydantic

from assembler.errors import BookFolderError, Fault
from assembler.figure.ids import natural_key
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.writing import folder_written_whole, write_whole

SCHEMA_NAME = "assembler/book/1"
RECORD = "book.json"
DRAFT = "draft"
PDF = "build-book.pdf"

_SCRATCH = ".issue"
# Longer than any run: what is older was left by a run that was killed, not by one that is at work.
_STALE_S = 24 * 3600.0

_Sha256 = Annotated[str, pydantic.Field(pattern=r"^[0-9a-f]{64}$")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """A complete book folder.

    Parameters
    ----------
    path
        The folder.
    revision
        'A'; 'draft' for a draft.
    program_version
        Of the program that wrote it.
    input_digest
        Of everything it was made from.
    files
        SHA-256 of every file, by path inside the folder.
    """

    path: Path
    revision: str
    program_version: str
    input_digest: str
    files: Mapping[str, str]


class _Record(pydantic.BaseModel):
    model_config = pydantic.ConfigDict(extra="ignore", frozen=True)
    book_schema: Annotated[str, pydantic.Field(alias="schema", pattern=f"^{SCHEMA_NAME}$")]
    revision: Annotated[str, pydantic.Field(min_length=1)]
    program_version: str
    input_digest: _Sha256
    files: dict[str, _Sha256]


def next_revision(revision: str) -> str:
    """The revision after this one: A to Z, then AA; a trailing number counts on (A1, A2).

    Raises
    ------
    BookFolderError
        If it ends in neither a capital letter nor a digit.
    """
    digits = re.search(r"\d+$", revision)
    if digits:
        width = len(digits.group())
        return revision[: digits.start()] + str(int(digits.group()) + 1).zfill(width)
    head = revision.rstrip("Z")
    tail = len(revision) - len(head)
    if revision and not head:
        return "A" * (tail + 1)
    if not re.fullmatch(r"[A-Y]", head[-1:]):
        raise BookFolderError(
            Fault(
                file="figure.toml",
                place="revision",
                wrong=f"got {revision!r}",
                right="use capital letters, or letters and a number, such as A, B or A2",
            )
        )
    if tail and not re.fullmatch(r"[A-Z]*", head):
        return head + "A" * (tail + 1)
    return head[:-1] + chr(ord(head[-1]) + 1) + "A" * tail


def revision_key(revision: str) -> tuple[object, ...]:
    """Sorting key that puts B before AA and A2 before A10."""
    letters = re.match(r"[A-Z]*", revision)
    return (len(letters.group()) if letters else 0, natural_key(revision))


def read_book(path: Path) -> Book:
    """A book folder, every file of which is there and is what was written.

    Parameters
    ----------
    path
        The folder.

    Raises
    ------
    BookFolderError
        If it is no complete book: one fault for each file that is missing or was changed.
    """
    record = _read_record(path)
    faults = []
    for name, digest in sorted(record.files.items()):
        file = path / name
        if not file.is_file():
            faults.append(_fault(path, name, "the file is missing"))
        elif _digest_of_file(file) != digest:
            faults.append(_fault(path, name, "the file was changed after the book was written"))
    if faults:
        raise BookFolderError(*faults)
    return Book(
        path=path,
        revision=record.revision,
        program_version=record.program_version,
        input_digest=record.input_digest,
        files=record.files,
    )


def _fault(path: Path, place: str, wrong: str) -> Fault:
    return Fault(file=str(path), place=place, wrong=wrong, right="name a complete book folder, or restore this one")


def _read_record(path: Path) -> _Record:
    try:
        return _Record.model_validate_json((path / RECORD).read_bytes())
    except (FileNotFoundError, NotADirectoryError) as exc:
        raise BookFolderError(_fault(path, RECORD, "the file is missing: this is no complete book")) from exc
    except pydantic.ValidationError as exc:
        faults = [
            _fault(path, ".".join([RECORD, *map(str, error["loc"])]), f"it cannot be used: {error['msg']}")
            for error in exc.errors()
        ]
        raise BookFolderError(*faults) from exc


def is_complete_book(path: Path) -> bool:
    """Whether a folder is a book, with every file as it was written."""
    try:
        read_book(path)
    except BookFolderError:
        return False
    return True


def issued_books(project: ProjectFolder) -> tuple[Book, ...]:
    """All complete issued books of a project, earliest revision first; drafts and damaged folders are left out."""
    if not project.books.is_dir():
        return ()
    books = []
    for path in project.books.iterdir():
        if path.is_dir() and path.name != DRAFT and not path.name.startswith("."):
            with suppress(BookFolderError):
                books.append(read_book(path))
    return tuple(sorted(books, key=lambda book: (revision_key(book.revision), book.path.name)))


def issued_place(project: ProjectFolder, revision: str, digest: str) -> Book | None:
    """Whether a revision may be issued: None when its letter is free, the book itself when nothing has changed.

    Parameters
    ----------
    project
        The project folder.
    revision
        As figure.toml names it.
    digest
        Of everything the book is made from, see `input_digest`.

    Raises
    ------
    BookFolderError
        If the letter was issued with other input, or a folder of that name is no complete book.
    """
    target = project.books / revision
    if revision == DRAFT or revision != Path(revision).name or revision.startswith("."):
        raise BookFolderError(
            Fault(file="figure.toml", place="revision", wrong=f"got {revision!r}", right="use a capital letter")
        )
    if not target.exists():
        return None
    book = read_book(target)
    if book.input_digest == digest:
        return book
    raise BookFolderError(_taken(project, revision))


def _taken(project: ProjectFolder, revision: str) -> Fault:
    free = next_free_revision(project, revision)
    return Fault(
        file="figure.toml",
        place="revision",
        wrong=f"revision {revision} was issued from other input and stays as it is",
        right=f'the next free letter is {free}: set revision = "{free}"',
    )


def next_free_revision(project: ProjectFolder, revision: str) -> str:
    """The first revision after this one and after all issued ones that has no folder yet."""
    taken = [book.revision for book in issued_books(project)]
    free = next_revision(max([revision, *taken], key=revision_key))
    while (project.books / free).exists():
        free = next_revision(free)
    return free


@contextmanager
def book_written_whole(target: Path, *, revision: str, version: str, digest: str, is_issue: bool) -> Iterator[Path]:
    """An empty folder that becomes a book folder whole once it is filled; or else everything stays as it was.

    Parameters
    ----------
    target
        The folder. A draft replaces what was there; an issue never does.
    revision, version, digest
        For `book.json`.
    is_issue
        Whether the folder is frozen from now on.

    Raises
    ------
    BookFolderError
        If an issue would take the place of something that is there.
    """
    if not is_issue:
        with folder_written_whole(target) as folder:
            yield folder
            _seal(folder, revision=revision, version=version, digest=digest)
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    _sweep(target)
    scratch = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}.", suffix=_SCRATCH))
    try:
        scratch.chmod(0o755)
        yield scratch
        _seal(scratch, revision=revision, version=version, digest=digest)
        # A rename onto a folder with content fails: two runs that issue at once cannot overwrite each other.
        scratch.rename(target)
    except OSError as exc:
        if not target.exists():
            raise
        raise BookFolderError(
            Fault(file=str(target), place="", wrong="it is there already", right="an issued book is never overwritten")
        ) from exc
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _sweep(target: Path) -> None:
    for leftover in sorted(target.parent.glob(f".{target.name}.*{_SCRATCH}")):
        if time.time() - leftover.stat().st_mtime > _STALE_S:
            shutil.rmtree(leftover, ignore_errors=True)


def _seal(folder: Path, *, revision: str, version: str, digest: str) -> None:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    for path in files:
        _flush(path)
    record = {
        "schema": SCHEMA_NAME,
        "revision": revision,
        "program_version": version,
        "input_digest": digest,
        "files": {path.relative_to(folder).as_posix(): _digest_of_file(path) for path in files},
    }
    write_whole(folder / RECORD, json.dumps(record, indent=1, ensure_ascii=False) + "\n")


def _flush(path: Path) -> None:
    # A power cut after the rename must not leave a whole-looking folder of empty files.
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _digest_of_file(path: Path) -> str:
    """Every command asks for the books that were issued several times: a file that did not change is read once."""
    known = path.stat()
    return _digest_of_content(path, known.st_ino, known.st_size, known.st_mtime_ns, known.st_ctime_ns)


@lru_cache(maxsize=4096)
def _digest_of_content(path: Path, *_: int) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
