"""One run at a time changes the files of a project: what two read, change and write at once would be half lost."""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assembler.errors import Fault, ProjectFileError

LOCK = ".lock"
WAIT_S = 20.0
"""A survey or an issue takes longer: whoever meets one is told, and does not wait without knowing for what."""
_AGAIN_S = 0.05


@contextmanager
def locked(root: Path, *, wait_s: float = WAIT_S) -> Iterator[None]:
    """Keep other runs from changing a project until the block ends.

    Parameters
    ----------
    root
        The project folder; one that is not there yet has nothing to lose, and is not locked.
    wait_s
        How long to wait for another run.

    Raises
    ------
    ProjectFileError
        If another run still holds it then.
    OSError
        If the lock file cannot be made: such a project cannot be changed either.
    """
    if not root.is_dir():
        yield
        return
    # A link of that name is not followed, and a pipe not waited for; the lock ends with the process, however that ends.
    handle = os.open(root / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK, 0o666)
    try:
        _wait_for(handle, root, time.monotonic() + wait_s)
        yield
    finally:
        os.close(handle)


def _wait_for(handle: int, root: Path, until_s: float) -> None:
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as exc:
            if time.monotonic() >= until_s:
                wrong = "another run is changing this project"
                raise ProjectFileError(
                    Fault(file=str(root), place="", wrong=wrong, right="call again when it has ended; nothing was done")
                ) from exc
            time.sleep(_AGAIN_S)
        else:
            return
