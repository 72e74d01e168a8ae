"""How long, and with how much memory, work on a project's own templates may run: they come from strangers.

In: seconds of processor time and bytes. Out: `TooMuch`, raised in whatever runs there when it goes beyond.
"""

from __future__ import annotations

import resource
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType


class TooMuch(Exception):  # noqa: N818  says what happened
    """Work that does not end within its bounds."""


@contextmanager
def bounded(*, processor_s: float, more_bytes: int) -> Iterator[None]:
    """Bounds on what is done inside; to be used by the main thread of a process.

    The memory is bounded where the system tells how much a process has (Linux).

    Parameters
    ----------
    processor_s
        Time.
    more_bytes
        Memory on top of what the process has now.

    Raises
    ------
    TooMuch
        If the time is over.
    MemoryError
        If the memory is used up.
    """

    def _end(_signal: int, _frame: FrameType | None) -> None:
        raise TooMuch(f"does not end within {processor_s:g} s")

    handler = signal.signal(signal.SIGPROF, _end)
    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    try:
        # Again and again: Python swallows what is raised while it gives back an object.
        signal.setitimer(signal.ITIMER_PROF, processor_s, processor_s)
        resource.setrlimit(resource.RLIMIT_AS, (_lower(soft, more_bytes), hard))
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, handler)
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


def _lower(limit: int, more_bytes: int) -> int:
    """A limit on the address space that leaves so much more, or the one there is."""
    told = Path("/proc/self/statm")
    if not told.is_file():
        return limit
    wanted = int(told.read_text(encoding="ascii").split()[0]) * resource.getpagesize() + more_bytes
    return wanted if limit == resource.RLIM_INFINITY else min(limit, wanted)
