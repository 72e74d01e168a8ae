"""A bounded cache of files, keyed by what they were made from; safe to delete, and safe with two runs at once.

Each entry is a folder that appears in one step under its key, with a list of its files and their SHA-256. A damaged
or vanished entry is a miss, never an error: whatever is in the cache can be made again. In a project that may only be
read nothing is kept.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from assembler.errors import InputError, ProjectFileError
from assembler.filegate import checked_place, read_file
from assembler.projectfiles.writing import is_at_work, left_out_if_read_only, own_mark

_LIST = "entry.json"
_MOST_BYTES = 2_000_000_000
_LEFT = re.compile(r"\.(?:new|gone)\.[0-9a-f]{8}-\d+\.[a-z0-9_]{8}")
"""Names of scratch that this module makes."""
# How much may be stored before the whole folder is measured again, as a share of the limit.
_UNMEASURED = 0.02


_NOT_THERE = (OSError, InputError, ValueError, RecursionError, KeyError, TypeError)


def content_key(*pieces: bytes | str) -> str:
    """Key of what is made from these pieces; their number and borders count, not only their text."""
    digest = hashlib.sha256()
    for piece in pieces:
        data = piece.encode() if isinstance(piece, str) else piece
        digest.update(len(data).to_bytes(8, "big"))
        digest.update(data)
    return digest.hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class CacheFolder:
    """A folder of files that can be made again.

    Parameters
    ----------
    root
        Where it lies; made when something is stored. May be deleted at any time.
    limit_bytes
        Size above which entries go: the longest unused first, ties by key.
    """

    root: Path
    limit_bytes: int = 2_000_000_000
    _stored: list[int] = field(default_factory=list, init=False, repr=False, compare=False)

    def read(self, key: str, name: str) -> bytes | None:
        """One file of an entry; None if it is not there or damaged."""
        entry = self._entry(key)
        try:
            digests = json.loads(_read(entry / _LIST))
            data = _read(entry / name)
            is_whole: bool = hashlib.sha256(data).hexdigest() == digests[name]
        except _NOT_THERE:
            is_whole = False
        if not is_whole:
            self._drop(entry)
            return None
        self._touch(entry)
        return data

    def lookup(self, key: str, names: Sequence[str], into: Path) -> bool:
        """Copy the files of an entry; False if it is not there, lacks one of them, or is damaged.

        Parameters
        ----------
        key
            From `content_key`.
        names
            Files wanted.
        into
            Folder that gets all of them, or none.
        """
        entry = self._entry(key)
        try:
            digests = json.loads(_read(entry / _LIST))
            contents = {name: _read(entry / name) for name in names if _is_plain(name)}
            is_whole = len(contents) == len(set(names)) and all(
                hashlib.sha256(data).hexdigest() == digests[name] for name, data in contents.items()
            )
        except _NOT_THERE:
            is_whole = False
        if not is_whole:
            self._drop(entry)
            return False
        into.mkdir(parents=True, exist_ok=True)
        for name, data in contents.items():
            (into / name).write_bytes(data)
        self._touch(entry)
        return True

    def store(self, key: str, files: Mapping[str, Path | bytes], *, is_newest: bool = False) -> None:
        """Keep copies of files under a key; an entry that is there already stays.

        Parameters
        ----------
        key
            From `content_key`.
        files
            Files, or their content, by the name under which they are looked up; plain names without folders.
        is_newest
            They take the place of an entry that is there.

        Raises
        ------
        ValueError
            If a name is no plain file name.
        OSError
            If a file cannot be read or the cache cannot be written.
        """
        for name in files:
            if not _is_plain(name):
                raise ValueError(f"{name!r} is no plain file name")
        entry = self._entry(key)
        contents = {name: _content(files[name]) for name in sorted(files)}
        size = sum(map(len, contents.values()))
        if size > self.limit_bytes or (entry.exists() and not is_newest):
            return
        with left_out_if_read_only():
            self._put(entry, contents)
            self._stored.append(size)
            if len(self._stored) == 1 or sum(self._stored) > _UNMEASURED * self.limit_bytes:
                self._make_room(entry)
                self._stored[:] = [0]

    def _put(self, entry: Path, contents: Mapping[str, bytes]) -> None:
        checked_place(entry, root=self.root, error=ProjectFileError)
        self._drop(entry)
        entry.parent.mkdir(parents=True, exist_ok=True)
        scratch = Path(tempfile.mkdtemp(dir=self.root, prefix=f".new.{own_mark()}."))
        try:
            digests = {}
            for name, data in contents.items():
                (scratch / name).write_bytes(data)
                digests[name] = hashlib.sha256(data).hexdigest()
            (scratch / _LIST).write_text(json.dumps(digests), encoding="utf-8")
            _take_place(scratch, entry)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)

    def _entry(self, key: str) -> Path:
        return self.root / key[:2] / key

    def _touch(self, entry: Path) -> None:
        # Another run may have dropped it just now; the copies are made, and that is all that was asked.
        with left_out_if_read_only(), suppress(FileNotFoundError):
            os.utime(entry / _LIST)

    def _drop(self, entry: Path) -> None:
        """Take an entry out of sight in one step, then delete it; what is no folder inside the cache is no entry."""
        if not _is_entry(entry):
            return
        with left_out_if_read_only():
            aside = Path(tempfile.mkdtemp(dir=self.root, prefix=f".gone.{own_mark()}."))
            try:
                entry.rename(aside / entry.name)
            except FileNotFoundError:
                # Another run dropped it; if it is there again by now, a third has made it anew.
                return
            finally:
                shutil.rmtree(aside, ignore_errors=True)

    def _make_room(self, newest: Path) -> None:
        self._sweep()
        entries = sorted(_sizes_and_ages(self.root), key=lambda entry: (entry[0] == newest, entry[2], entry[0].name))
        total = sum(size for _, size, _ in entries)
        for entry, size, _ in entries:
            if total <= self.limit_bytes:
                return
            self._drop(entry)
            total -= size

    def _sweep(self) -> None:
        for leftover in sorted(self.root.glob(".*-*")):
            if _LEFT.fullmatch(leftover.name) and not is_at_work(leftover):
                shutil.rmtree(leftover, ignore_errors=True)


def _is_plain(name: str) -> bool:
    """Whether a name is one of a file of an entry: none that leads elsewhere."""
    return bool(name) and Path(name).name == name and name != _LIST


def _read(path: Path) -> bytes:
    # Wherever a link may lead: nothing is taken but what has the digest that the entry lists.
    return read_file(path, root=None, most_bytes=_MOST_BYTES)


def _is_entry(entry: Path) -> bool:
    return entry.is_dir() and not entry.is_symlink() and not entry.parent.is_symlink()


def _content(file: Path | bytes) -> bytes:
    return file if isinstance(file, bytes) else file.read_bytes()


def _take_place(scratch: Path, entry: Path) -> None:
    try:
        scratch.rename(entry)
    except OSError as exc:
        # Another run was quicker with the same content; that its entry may be dropped by now does not matter.
        if exc.errno not in (errno.EEXIST, errno.ENOTEMPTY):
            raise


def _sizes_and_ages(root: Path) -> list[tuple[Path, int, int]]:
    """Every entry with its size in bytes and the time of its last use in nanoseconds."""
    entries = []
    for entry in sorted(root.glob("[0-9a-f][0-9a-f]/*")):
        if not _is_entry(entry):
            continue
        try:
            with os.scandir(entry) as files:
                stats = {file.name: file.stat() for file in files}
            size = sum(stat.st_size for stat in stats.values())
            entries.append((entry, size, stats[_LIST].st_mtime_ns))
        except (FileNotFoundError, NotADirectoryError, KeyError):
            continue
    return entries
