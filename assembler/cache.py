"""What earlier runs of a project made: JSON values, arrays and files by a key over all they were made from.

One file that is safe to delete, and safe with two runs at once. A project folder may come from a stranger: nothing in
it is unpickled, and an entry is believed only where it is signed with the key of this user. A damaged or foreign entry
counts as not there, such a file as empty, and where nothing can be written nothing is kept: that costs time and nothing
else, since whatever is in here can be made again.
"""

from __future__ import annotations

import hashlib
import hmac
import io
import json
import os
import platform
import secrets
import sqlite3
import tempfile
import time
import weakref
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

LIMIT_BYTES = 1_000_000_000
MOST_UNSAVED_BYTES = 30_000_000
"""More than this is not held back until somebody saves."""
WAIT_S = 30.0
"""For another run that writes."""

_HOME = Path(__file__).resolve().parent
_KEY_BYTES = 32
_COLUMNS = """entries (key text primary key, value text not null, arrays blob not null,
    signature blob not null, used integer not null)"""
_TABLE = f"create table if not exists {_COLUMNS}"
_SCHEMA = "select sql from sqlite_master where sql is not null"
_ADD = "insert or replace into entries values (?, ?, ?, ?, ?)"
_USED = "update entries set used = ? where key = ?"
_GET = "select value, arrays, signature from entries where key = ?"
_MAKE_ROOM = """delete from entries where key in (select key from (select key,
    sum(length(value) + length(arrays)) over (order by used desc, key) as total from entries) where total > ?)"""

Arrays = Mapping[str, NDArray[Any]]


def content_key(*pieces: object) -> str:
    """Key of what is made from these JSON values; their number and borders count, not only their text."""
    return hashlib.sha256(json.dumps(pieces, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


@cache
def code_mark(rooms: Sequence[str], libraries: Sequence[str]) -> str:
    """SHA-256 over every file of some rooms of the program and the versions of libraries, Python and machine.

    Parameters
    ----------
    rooms
        Names of packages inside `assembler`, such as ('drawing', 'figure').
    libraries
        Names of installed distributions.

    Raises
    ------
    importlib.metadata.PackageNotFoundError
        If a library is not installed.
    """
    digest = hashlib.sha256()
    for room in rooms:
        for path in sorted((_HOME / room).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                digest.update(path.relative_to(_HOME).as_posix().encode())
                digest.update(path.read_bytes())
    for name in libraries:
        digest.update(f"{name} {metadata.version(name)}\n".encode())
    digest.update(f"{platform.machine()} {platform.python_version()}".encode())
    return digest.hexdigest()


class Cache:
    """A bounded store by key.

    Parameters
    ----------
    file
        Where it lies, made by the first `save`; None: this run only.
    limit_bytes
        Size above which entries go, the longest unused first.
    """

    def __init__(self, file: Path | None = None, *, limit_bytes: int = LIMIT_BYTES) -> None:
        # A link, pipe or device in its place is somebody else's: nothing is read from it, or written through it.
        is_strange = file is not None and (file.is_symlink() or (file.exists() and not file.is_file()))
        self._file = None if is_strange else file
        self._limit = limit_bytes
        self._database: sqlite3.Connection | None = None
        self._unsaved: dict[str, tuple[str, bytes]] = {}
        self._unsaved_bytes = 0
        self._used: set[str] = set()

    def value(self, key: str) -> Any | None:
        """A JSON value; None if it is not there."""
        entry = self._entry(key)
        try:
            return None if entry is None else json.loads(entry[0])
        except (ValueError, RecursionError):
            # Written by somebody else.
            return None

    def keep(self, key: str, value: Any) -> None:
        """Keep a JSON value other than None."""
        self._put(key, value, b"")

    def arrays(self, key: str) -> Arrays | None:
        """Arrays by name; None if they are not there."""
        entry = self._entry(key)
        return None if entry is None else _unpacked(entry[1])

    def keep_arrays(self, key: str, arrays: Arrays, value: Any = None) -> None:
        """Keep arrays of numbers, and a JSON value with them."""
        self._put(key, value, _packed(arrays))

    def files(self, key: str, into: Path) -> Any | None:
        """The value of an entry whose files are put into a folder; None if it is not there."""
        contents = self.arrays(key)
        for name, content in (contents or {}).items():
            # A plain name whatever the entry says.
            (into / Path(name).name).write_bytes(content.tobytes())
        return None if contents is None else self.value(key)

    def keep_files(self, key: str, value: Any, files: Iterable[Path]) -> None:
        """Keep a JSON value other than None with copies of files."""
        self._put(key, value, _packed({file.name: np.frombuffer(file.read_bytes(), np.uint8) for file in files}))

    def save(self) -> None:
        """Write what is new, all or nothing."""
        if self._file is None or not (self._unsaved or self._used):
            return
        now = time.time_ns()
        added = [(key, value, data, _signature(key, value, data), now) for key, (value, data) in self._unsaved.items()]
        try:
            self._file.parent.mkdir(parents=True, exist_ok=True)
            with self._connected(self._file) as database:
                database.execute(_TABLE)
                database.executemany(_ADD, added)
                database.executemany(_USED, [(now, key) for key in sorted(self._used)])
                if _size_bytes(database) > self._limit:
                    database.execute(_MAKE_ROOM, (self._limit,))
        except (OSError, sqlite3.Error) as exc:
            # On a disk that is full, or in a folder that is only read, it is made again next time.
            self._begin_anew(exc)
            return
        self._unsaved.clear()
        self._used.clear()
        self._unsaved_bytes = 0

    def _put(self, key: str, value: Any, data: bytes) -> None:
        self._unsaved[key] = (json.dumps(value, separators=(",", ":")), data)
        self._unsaved_bytes += len(data)
        if self._unsaved_bytes > MOST_UNSAVED_BYTES:
            self.save()

    def _entry(self, key: str) -> tuple[str, bytes] | None:
        if key in self._unsaved:
            return self._unsaved[key]
        if self._file is None or not self._file.is_file():
            return None
        try:
            found = self._connected(self._file).execute(_GET, (key,)).fetchone()
        except sqlite3.Error as exc:
            self._begin_anew(exc)
            return None
        if found is None:
            return None
        value, data, signature = found
        if not (isinstance(value, str) and isinstance(data, bytes) and isinstance(signature, bytes)):
            return None
        if not hmac.compare_digest(signature, _signature(key, value, data)):
            return None
        self._used.add(key)
        return value, data

    def _connected(self, file: Path) -> sqlite3.Connection:
        if self._database is None:
            self._database = sqlite3.connect(file, timeout=WAIT_S)
            weakref.finalize(self, self._database.close)
            # What a power cut damages is found by its signature, or by the database itself.
            self._database.execute("pragma synchronous = off")
            schema = [sql for (sql,) in self._database.execute(_SCHEMA)]
            if schema not in ([], [f"CREATE TABLE {_COLUMNS}"]):
                # Views and triggers of a stranger would be run by asking and keeping.
                foreign = sqlite3.DatabaseError("other tables")
                foreign.sqlite_errorcode = sqlite3.SQLITE_NOTADB
                raise foreign
        return self._database

    def _begin_anew(self, exc: OSError | sqlite3.Error) -> None:
        """Take a file away that is damaged, or no database at all; any other trouble is left to pass by."""
        if isinstance(exc, OSError):
            return
        if exc.sqlite_errorcode in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) and self._file is not None:
            if self._database is not None:
                self._database.close()
                self._database = None
            with suppress(OSError):
                self._file.unlink(missing_ok=True)


class Answers:
    """Answers to costly questions: JSON values by questions that hold everything the answer depends on.

    Parameters
    ----------
    kept
        Where they lie; None: this run only.
    common
        What every answer depends on, such as the mark of the code that gives them.
    """

    def __init__(self, kept: Cache | None = None, *, common: str = "") -> None:
        self._kept = kept or Cache()
        self._common = common
        self._known: dict[str, Any] = {}

    def key(self, *question: object) -> str:
        """Key of a question."""
        return content_key(self._common, *question)

    def has(self, key: str) -> bool:
        """Whether a question was answered before."""
        if key not in self._known:
            entry = self._kept.value(key)
            if isinstance(entry, dict) and "answer" in entry:
                self._known[key] = entry["answer"]
        return key in self._known

    def get(self, key: str) -> Any:
        """The answer to a question that was answered before.

        Raises
        ------
        KeyError
            If it was not.
        """
        if not self.has(key):
            raise KeyError(key)
        return self._known[key]

    def put(self, key: str, answer: Any) -> None:
        """Keep an answer."""
        self._known[key] = answer
        self._kept.keep(key, {"answer": answer})


def _size_bytes(database: sqlite3.Connection) -> int:
    pages, free, size = (
        int(database.execute(f"pragma {name}").fetchone()[0]) for name in ("page_count", "freelist_count", "page_size")
    )
    return (pages - free) * size


def _signature(key: str, value: str, data: bytes) -> bytes:
    signed = hmac.new(_user_key(), f"{len(key)}:{key}{len(value)}:{value}".encode(), hashlib.sha256)
    signed.update(data)
    return signed.digest()


@cache
def _user_key() -> bytes:
    """What this user signs with, made once; one for this run only where there is no place to keep it."""
    try:
        folder = Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "assembler"
        place = folder / "cache-key"
        if not place.exists():
            folder.mkdir(parents=True, exist_ok=True)
            handle, scratch = tempfile.mkstemp(dir=folder)
            with os.fdopen(handle, "wb") as stream:
                stream.write(secrets.token_bytes(_KEY_BYTES))
            Path(scratch).replace(place)
        with place.open("rb") as stream:
            key = stream.read(_KEY_BYTES)
    except (OSError, RuntimeError):
        # No home, or one that cannot be written.
        key = b""
    return key if len(key) == _KEY_BYTES else secrets.token_bytes(_KEY_BYTES)


def _packed(arrays: Arrays) -> bytes:
    if any(array.dtype.hasobject for array in arrays.values()):
        raise ValueError("an array holds objects, numbers were expected")
    stream = io.BytesIO()
    # Names apart from their arrays: names of files are no names of arguments.
    np.savez(stream, np.array(list(arrays), dtype=np.str_), *arrays.values())
    return stream.getvalue()


def _unpacked(data: bytes) -> dict[str, NDArray[Any]] | None:
    """Arrays by name; None of what only somebody else can have written."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as archive:
            names = archive["arr_0"].tolist()
            return {str(name): archive[f"arr_{number}"] for number, name in enumerate(names, start=1)}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return None
