"""Files and folders are written whole or not at all: a reader never meets half of one."""

from __future__ import annotations

import os
import platform
import re
import shutil
import tempfile
import time
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_SCRATCH, _ASIDE = ".new", ".old"
# Longer than any run: what is older was left by a run that was killed.
_STALE_S = 24 * 3600.0
_ATTEMPTS = 5


def write_whole(path: Path, content: str | bytes) -> None:
    """Replace a file in one step; the old content stays if anything goes wrong before.

    Parameters
    ----------
    path
        The file; its folder is made if missing.
    content
        Text (written as UTF-8) or bytes.

    Raises
    ------
    OSError
        If the folder cannot be written.
    """
    data = content.encode() if isinstance(content, str) else content
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".new")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        # mkstemp makes private files; a project is shared by a shop.
        temporary.chmod(0o644)
        temporary.replace(path)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def folder_written_whole(target: Path) -> Iterator[Path]:
    """A scratch folder that takes the place of `target` when the block ends without an exception.

    Parameters
    ----------
    target
        The folder to write; an older one is replaced, and kept if the block fails.

    Yields
    ------
    Path
        An empty folder beside `target`.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    _sweep_leftovers(target)
    scratch = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}.{_own_mark()}.", suffix=_SCRATCH))
    scratch.chmod(0o755)
    try:
        yield scratch
        _take_place(scratch, target)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _take_place(scratch: Path, target: Path) -> None:
    """Put a folder in the place of another, which steps aside under a name that the next run recognises.

    A folder cannot be replaced in one step. Where another run takes the place in between, this one is the later.
    """
    for attempt in range(1, _ATTEMPTS + 1):
        aside = scratch.with_name(f"{scratch.name.removesuffix(_SCRATCH)}{attempt}{_ASIDE}")
        with suppress(FileNotFoundError):
            target.rename(aside)
        try:
            scratch.rename(target)
        except OSError:
            if not target.exists():
                with suppress(FileNotFoundError):
                    aside.rename(target)
                raise
            if attempt == _ATTEMPTS:
                raise
        shutil.rmtree(aside, ignore_errors=True)
        if not scratch.exists():
            return


def _sweep_leftovers(target: Path) -> None:
    """Put back a folder that an interrupted run had set aside, and drop what killed runs left half-written.

    What belongs to a run that is at work stays.
    """
    asides = sorted(target.parent.glob(f".{target.name}.*{_ASIDE}"), key=lambda path: (_age_s(path), path.name))
    if asides and not target.exists():
        with suppress(OSError):
            # Another run may be about to take the place: then nothing has to be put back.
            asides.pop(0).rename(target)
    for aside in asides:
        shutil.rmtree(aside, ignore_errors=True)
    for scratch in sorted(target.parent.glob(f".{target.name}.*{_SCRATCH}")):
        if not _is_at_work(scratch):
            shutil.rmtree(scratch, ignore_errors=True)


def _own_mark() -> str:
    """Machine and process, for the names of scratch folders."""
    return f"{zlib.crc32(platform.node().encode()):08x}-{os.getpid()}"


def _is_at_work(scratch: Path) -> bool:
    """Whether the run that made a scratch folder may still be at work; one of another machine, for a day."""
    machine, _, process = _own_mark().partition("-")
    found = re.search(r"\.([0-9a-f]{8})-(\d+)\.", scratch.name)
    if found is None or found[1] != machine or os.name != "posix":
        return _age_s(scratch) <= _STALE_S
    if found[2] == process:
        return True
    try:
        # Signal 0 asks only whether the process is there.
        os.kill(int(found[2]), 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _age_s(path: Path) -> float:
    try:
        return time.time() - path.stat().st_mtime
    except FileNotFoundError:
        return 0.0
