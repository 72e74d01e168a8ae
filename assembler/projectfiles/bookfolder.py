"""Book folders: written whole or not at all, frozen once issued, and able to prove that they are complete.

A book folder carries `book.json`: revision, program version, a digest of what it was made from, and every file with
its SHA-256. That file is written last, so a folder without it, or with a file that does not match, is not a book.

An issued book that somebody touched is never passed over in silence: where a record that later books go on from is
damaged nothing goes on (`issued_books`); where a picture, a table or a PDF is, the book counts and the file is named.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path, PurePosixPath
from typing import Annotated, Literal

import pydantic

from assembler.errors import BookFolderError, Fault
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import natural_key
from assembler.filegate import MESH_BYTES, checked_file, read_json
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.writing import folder_written_whole, make_scratch, sweep_leftovers, write_whole

SCHEMA_NAME = "assembler/book/1"
RECORD = "book.json"
DRAFT = "draft"
PDF = "crew-book.pdf"

_SCRATCH = ".issue"
_RECORDS = ".json"
"""Ending of the files that the next book goes on from: plan, pages, changes."""
_REVISION = re.compile(r"[A-Z]{1,2}")
_LONGEST_NAME = 250


def _plain_name(name: str) -> str:
    path = PurePosixPath(name)
    if not name or path.is_absolute() or ".." in path.parts or "\0" in name or len(name) > _LONGEST_NAME:
        raise ValueError("is no name of a file in the folder")
    return name


_Sha256 = Annotated[str, pydantic.Field(pattern=r"^[0-9a-f]{64}$")]
_Name = Annotated[str, pydantic.AfterValidator(_plain_name)]


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
        SHA-256 of every file that is as it was written, by path inside the folder.
    touched
        What is wrong with the others; empty for a complete book.
    read
        Digest of the project's files as they lay when it was begun; empty for books of earlier versions.
    """

    path: Path
    revision: str
    program_version: str
    input_digest: str
    files: Mapping[str, str]
    touched: tuple[Fault, ...] = ()
    read: str = ""


class _Record(pydantic.BaseModel):
    model_config = pydantic.ConfigDict(extra="ignore", frozen=True)
    book_schema: Annotated[str, pydantic.Field(alias="schema", pattern=f"^{SCHEMA_NAME}$")]
    revision: Annotated[str, pydantic.Field(min_length=1)]
    program_version: str
    input_digest: _Sha256
    files: dict[_Name, _Sha256]
    read: _Sha256 | Literal[""] = ""


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
    book = _read_touched(path)
    if book.touched:
        raise BookFolderError(*book.touched)
    return book


def _read_touched(path: Path) -> Book:
    """A book folder whose files may have been touched since: `touched` says which."""
    record = _read_record(path)
    touched = {}
    for name, digest in sorted(record.files.items()):
        try:
            found = _digest_of_file(path, path / name)
        except (FileNotFoundError, NotADirectoryError):
            touched[name] = _fault(path, name, "the file is missing")
            continue
        except BookFolderError as exc:
            touched[name] = _fault(path, name, exc.faults[0].wrong)
            continue
        if found != digest:
            touched[name] = _fault(path, name, "the file was changed after the book was written")
    return Book(
        path=path,
        revision=record.revision,
        program_version=record.program_version,
        input_digest=record.input_digest,
        files={name: digest for name, digest in record.files.items() if name not in touched},
        touched=tuple(touched.values()),
        read=record.read,
    )


def _fault(path: Path, place: str, wrong: str) -> Fault:
    return Fault(file=str(path), place=place, wrong=wrong, right="name a complete book folder, or restore this one")


def _read_record(path: Path) -> _Record:
    try:
        return _Record.model_validate(read_json(path / RECORD, root=path, error=BookFolderError))
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
    """All issued books of a project, earliest revision first; see `touched_findings` for what was done to them since.

    Raises
    ------
    BookFolderError
        If a folder that is named like a revision, or has a `book.json`, is no book, or one of its records was touched:
        going on without it would give out its numbers again, and make no change sheet.
    """
    if not project.books.is_dir():
        return ()
    books, faults = [], []
    for path in sorted(project.books.iterdir()):
        if _is_for_an_issue(path):
            try:
                book = _read_touched(path)
            except BookFolderError as exc:
                faults += [_restore(fault) for fault in exc.faults]
                continue
            faults += [_restore(fault) for fault in book.touched if fault.place.endswith(_RECORDS)]
            if book.revision != path.name:
                wrong = f"the folder of revision {book.revision} has another name"
                right = f"name it {book.revision} again, or move it out of {project.books}"
                faults.append(Fault(file=str(path), place="", wrong=wrong, right=right))
            books.append(book)
    if faults:
        raise BookFolderError(*faults)
    return tuple(sorted(books, key=lambda book: (revision_key(book.revision), book.path.name)))


def _is_for_an_issue(path: Path) -> bool:
    """Whether a folder holds an issued book, or what is left of one; an empty one holds nothing."""
    if path.name == DRAFT or path.name.startswith(".") or not path.is_dir():
        return False
    return (path / RECORD).exists() or (_REVISION.fullmatch(path.name) is not None and any(path.iterdir()))


def _restore(fault: Fault) -> Fault:
    right = "bring back the issued book from a copy: the next one goes on from it"
    return Fault(file=fault.file, place=fault.place, wrong=fault.wrong, right=right)


def touched_findings(books: tuple[Book, ...]) -> tuple[Finding, ...]:
    """A finding for each issued book of which a picture, a table or a PDF is no longer what was issued."""
    return tuple(
        Finding(
            level=Level.WARN,
            code="issued-book-touched",
            about=(book.revision,),
            message=f"book {book.revision}: {'; '.join(f'{fault.place}: {fault.wrong}' for fault in book.touched)}",
            remedy=f"bring {book.path} back from a copy: what the crew holds was printed from the issued files",
        )
        for book in books
        if book.touched
    )


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
    books = issued_books(project)
    if not target.exists():
        return None
    book = next((one for one in books if one.path.name == revision), None)
    if book is None:
        raise BookFolderError(_fault(target, "", "holds no book"))
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
def book_written_whole(
    target: Path,
    *,
    revision: str,
    version: str,
    digest: str,
    is_issue: bool,
    read: str = "",
    figure_name: str | None = None,
) -> Iterator[Path]:
    """An empty folder that becomes a book folder whole once it is filled; or else everything stays as it was.

    Parameters
    ----------
    target
        The folder. A draft takes the place of a draft (see `checked_draft`); an issue never does.
    revision, version, digest
        For `book.json`.
    is_issue
        Whether the folder is frozen from now on.
    read
        For `book.json`: `input_digest` of the project's files as they are, by which `status` knows a draft to be old.
    figure_name
        Of which figure a draft has to be to be replaced; None: of any.

    Raises
    ------
    BookFolderError
        If it would take the place of something that it must not.
    """
    if not is_issue:
        with folder_written_whole(target, partial(checked_draft, figure_name=figure_name)) as folder:
            yield folder
            _seal(folder, revision=revision, version=version, digest=digest, read=read)
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    sweep_leftovers(target.parent)
    scratch = make_scratch(target, _SCRATCH)
    try:
        yield scratch
        _seal(scratch, revision=revision, version=version, digest=digest, read=read)
        # A rename onto a folder with content fails: two runs that issue at once cannot overwrite each other.
        scratch.rename(target)
    except OSError as exc:
        if not target.exists() and not target.is_symlink():
            raise
        raise BookFolderError(
            Fault(file=str(target), place="", wrong="it is there already", right="an issued book is never overwritten")
        ) from exc
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def checked_draft(folder: Path, *, figure_name: str | None = None) -> None:
    """Pass a folder that may be deleted: absent, empty, or a draft with nothing in it but what this program wrote.

    Parameters
    ----------
    folder
        The folder.
    figure_name
        Of which figure it has to be; None: of any.

    Raises
    ------
    BookFolderError
        If something lies in it that would be lost.
    """
    if not folder.exists() and not folder.is_symlink():
        return
    if folder.is_symlink() or not folder.is_dir():
        raise BookFolderError(_not_replaced(folder, "", "is a link" if folder.is_symlink() else "is a file"))
    if not any(folder.iterdir()):
        return
    try:
        book = _read_touched(folder)
    except BookFolderError as exc:
        raise BookFolderError(_not_replaced(folder, "", "holds files, and no draft of a book")) from exc
    if book.revision != DRAFT:
        raise BookFolderError(_not_replaced(folder, "", f"holds the issued book {book.revision}"))
    changed = [fault.place for fault in book.touched if "missing" not in fault.wrong]
    known = {folder / RECORD, *(folder / name for name in book.files)}
    strange = [path for path in sorted(folder.rglob("*")) if path not in known and not _holds_files(path)]
    if strange:
        names = [path.relative_to(folder).as_posix() for path in strange]
        wrong = "was changed after it was written" if names[0] in changed else "is no file of the draft that lies there"
        raise BookFolderError(_not_replaced(folder, names[0], wrong))
    if figure_name is not None and _figure_name(folder) != figure_name:
        raise BookFolderError(_not_replaced(folder, "", f"holds a draft of {_figure_name(folder)!r}"))


def _holds_files(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink() and any(path.iterdir())


def _figure_name(folder: Path) -> str | None:
    try:
        plan = read_json(folder / "plan.json", root=folder, error=BookFolderError)
        return str(plan["figure"]["name"])
    except (FileNotFoundError, KeyError, TypeError):
        return None


def _not_replaced(folder: Path, place: str, wrong: str) -> Fault:
    right = "nothing was deleted: move it elsewhere, or name another folder for the book with -o"
    return Fault(file=str(folder), place=place, wrong=wrong, right=right)


def checked_out(out: Path, project: ProjectFolder, *, is_issue: bool) -> Path:
    """The folder that a user names for a book, when a book may lie there at all.

    Parameters
    ----------
    out
        As named.
    project
        Whose book it is.
    is_issue
        Whether it is to be frozen.

    Raises
    ------
    BookFolderError
        If it is the project, its parts, a home folder or a mount, or holds or lies in one of those that are the
        program's own.
    """
    place = out.absolute()
    there = place.resolve()
    kept = [project.root, project.parts, Path.home()]
    own = [project.parts, project.books, project.cache, project.kept_meshes, project.templates, project.set_aside]
    draft = project.books.resolve() / DRAFT
    holds = next((one for one in kept if one.resolve().is_relative_to(there)), None)
    inside = next((one for one in own if there.is_relative_to(one.resolve())), None)
    if there == draft and not is_issue:
        return out
    if holds is not None or inside is not None or place.is_mount():
        what = f"holds {holds}" if holds is not None else f"lies in {inside}" if inside is not None else "is a mount"
        right = "name a folder of its own for the book, or leave out -o"
        raise BookFolderError(Fault(file=str(out), place="", wrong=what, right=right))
    return out


def _seal(folder: Path, *, revision: str, version: str, digest: str, read: str) -> None:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    for path in files:
        _flush(path)
    record = {
        "schema": SCHEMA_NAME,
        "revision": revision,
        "program_version": version,
        "input_digest": digest,
        "read": read,
        "files": {path.relative_to(folder).as_posix(): _digest_of_file(folder, path) for path in files},
    }
    write_whole(folder / RECORD, json.dumps(record, indent=1, ensure_ascii=False) + "\n")


def _flush(path: Path) -> None:
    # A power cut after the rename must not leave a whole-looking folder of empty files.
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _digest_of_file(folder: Path, path: Path) -> str:
    """Every command asks for the books that were issued several times: a file that did not change is read once."""
    checked_file(path, root=folder, most_bytes=MESH_BYTES, error=BookFolderError)
    known = path.stat()
    return _digest_of_content(path, known.st_ino, known.st_size, known.st_mtime_ns, known.st_ctime_ns)


@lru_cache(maxsize=4096)
def _digest_of_content(path: Path, *_: int) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
