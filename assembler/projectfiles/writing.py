"""Files and folders are written whole or not at all: a reader never meets half of one."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


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
    scratch = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}.", suffix=".new"))
    scratch.chmod(0o755)
    try:
        yield scratch
        # A folder cannot be replaced in one step: the old one steps aside under a name that the next run recognises.
        aside = target.parent / f".{target.name}.old"
        if target.exists():
            target.rename(aside)
        scratch.rename(target)
        shutil.rmtree(aside, ignore_errors=True)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _sweep_leftovers(target: Path) -> None:
    """Put back a folder that an interrupted run had set aside, and drop what such a run left half-written."""
    aside = target.parent / f".{target.name}.old"
    if aside.exists():
        if target.exists():
            shutil.rmtree(aside)
        else:
            aside.rename(target)
    for stale in sorted(target.parent.glob(f".{target.name}.*.new")):
        shutil.rmtree(stale, ignore_errors=True)
