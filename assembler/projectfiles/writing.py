"""Files and folders are written whole or not at all: a reader never meets half of one.

Scratch carries the machine and the process that made it in its name: the next run knows whose is still at work, and
sweeps the rest. A name that others could guess would be a way in: what lies under it already might be a link.
"""

from __future__ import annotations

import errno
import os
import platform
import re
import shutil
import tempfile
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from assembler.errors import InputError

_SCRATCH, _ASIDE, _GONE = ".new", ".old", ".gone"
# Longer than any run: what is older was left by a run that was killed.
_STALE_S = 24 * 3600.0
_ATTEMPTS = 5
_LEFT = re.compile(r"\.(?:.+\.)?[0-9a-f]{8}-\d+\.[a-z0-9_]{8}\d?\.(?:new|issue|gone)")
"""Names of scratch that this module makes, and of no file that a person would name."""


def write_whole(path: Path, content: str | bytes) -> None:
    """Replace a file in one step; the old content stays if anything goes wrong before.

    Parameters
    ----------
    path
        The file; its folder is made if missing. A link of that name is replaced, not followed.
    content
        Text (written as UTF-8) or bytes.

    Raises
    ------
    OSError
        If the folder cannot be written.
    """
    data = content.encode() if isinstance(content, str) else content
    path.parent.mkdir(parents=True, exist_ok=True)
    with _file_written_whole(path) as handle, os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def copy_whole(source: Path, path: Path) -> None:
    """Put a copy of a file in a place in one step; as `write_whole`.

    Parameters
    ----------
    source
        Has passed the gate for reading.
    path
        In a folder that is there.
    """
    with _file_written_whole(path) as handle, os.fdopen(handle, "wb") as stream, source.open("rb") as given:
        shutil.copyfileobj(given, stream)
        stream.flush()
        os.fsync(stream.fileno())


@contextmanager
def _file_written_whole(path: Path) -> Iterator[int]:
    sweep_leftovers(path.parent)
    # Not named after the file: a name of 255 bytes is a name too.
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{own_mark()}.", suffix=_SCRATCH)
    temporary = Path(name)
    try:
        yield handle
        # mkstemp makes private files; a project is shared by a shop.
        temporary.chmod(0o644)
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def folder_written_whole(target: Path, may_replace: Callable[[Path], None]) -> Iterator[Path]:
    """A scratch folder that takes the place of `target` when the block ends without an exception.

    Parameters
    ----------
    target
        The folder to write; an older one is replaced, and kept if the block fails.
    may_replace
        Raises where what lies in a folder must not be deleted. Asked before anything is made, and again once the
        older folder has stepped aside, when nobody writes into it any more.

    Yields
    ------
    Path
        An empty folder beside `target`.
    """
    may_replace(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    _put_back(target, may_replace)
    sweep_leftovers(target.parent)
    scratch = make_scratch(target, _SCRATCH)
    try:
        yield scratch
        _take_place(scratch, target, may_replace)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def make_scratch(target: Path, suffix: str) -> Path:
    """An empty folder beside a place, under a name that nobody could guess and `sweep_leftovers` knows again."""
    scratch = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}.{own_mark()}.", suffix=suffix))
    scratch.chmod(0o755)
    return scratch


def _take_place(scratch: Path, target: Path, may_replace: Callable[[Path], None]) -> None:
    """Put a folder in the place of another, which steps aside under a name that the next run recognises.

    A folder cannot be replaced in one step. Where another run takes the place in between, this one is the later.
    """
    for attempt in range(1, _ATTEMPTS + 1):
        aside = scratch.with_name(f"{scratch.name.removesuffix(_SCRATCH)}{attempt}{_ASIDE}")
        with suppress(FileNotFoundError):
            target.rename(aside)
        try:
            may_replace(aside)
            scratch.rename(target)
        except BaseException as exc:
            if not target.exists():
                with suppress(FileNotFoundError):
                    aside.rename(target)
                raise
            if attempt == _ATTEMPTS or not isinstance(exc, OSError):
                raise
        _discard(aside)
        if not scratch.exists():
            return


def _put_back(target: Path, may_replace: Callable[[Path], None]) -> None:
    """Put back a folder that an interrupted run had set aside, and drop older ones that may be dropped."""
    known = re.compile(rf"\.{re.escape(target.name)}\.[0-9a-f]{{8}}-\d+\.[a-z0-9_]{{8}}\d{re.escape(_ASIDE)}")
    found = [path for path in target.parent.iterdir() if known.fullmatch(path.name)]
    asides = sorted(found, key=lambda path: (_age_s(path), path.name))
    if asides and not target.exists():
        with suppress(OSError):
            # Another run may be about to take the place: then nothing has to be put back.
            asides.pop(0).rename(target)
    for aside in asides:
        with suppress(InputError):
            may_replace(aside)
            _discard(aside)


def _discard(aside: Path) -> None:
    """Delete a folder that was found to hold nothing but an older draft: half deleted, it is known by its name."""
    gone = aside.with_name(aside.name.removesuffix(_ASIDE) + _GONE)
    with suppress(FileNotFoundError):
        aside.rename(gone)
    shutil.rmtree(gone, ignore_errors=True)


def sweep_leftovers(folder: Path) -> None:
    """Drop what killed runs left half-written in a folder; what belongs to a run that is at work stays."""
    if not folder.is_dir():
        return
    for path in sorted(folder.iterdir()):
        if _LEFT.fullmatch(path.name) and not is_at_work(path):
            if path.is_dir() and not path.is_symlink():
                shutil.rmtree(path, ignore_errors=True)
            else:
                with suppress(OSError):
                    path.unlink(missing_ok=True)


def own_mark() -> str:
    """Machine and process, for the names of scratch."""
    return f"{zlib.crc32(platform.node().encode()):08x}-{os.getpid()}"


def is_at_work(scratch: Path) -> bool:
    """Whether the run that made a piece of scratch may still be at work; one of another machine, for a day."""
    machine, _, process = own_mark().partition("-")
    found = re.search(r"\.([0-9a-f]{8})-(\d+)\.", scratch.name)
    if found is None or found[1] != machine or os.name != "posix":
        return _age_s(scratch) <= _STALE_S
    if found[2] == process:
        return True
    try:
        # Signal 0 asks only whether the process is there.
        os.kill(int(found[2]), 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return True


def _age_s(path: Path) -> float:
    try:
        return time.time() - path.lstat().st_mtime
    except FileNotFoundError:
        return 0.0


@contextmanager
def left_out_if_read_only() -> Iterator[None]:
    """Leave out what only saves time where the project may be read but not written."""
    try:
        yield
    except OSError as exc:
        if exc.errno not in (errno.EROFS, errno.EACCES, errno.EPERM):
            raise
