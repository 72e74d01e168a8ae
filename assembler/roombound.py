"""May an array of this size be made? One bound for everything whose size follows from coordinates or counts.

A part that was exported in another unit makes grids and samples a thousand or a thousand million times larger. Whoever
is about to make such an array asks here first, so that the call ends with one line and not with the machine's memory.
"""

from __future__ import annotations

from assembler.errors import Fault, InputError

MEMORY_GIB = 4.0
"""What is allowed unless the call says otherwise (`--memory`): the largest figure that was measured (61 parts, 1.9 m)
needs 0.1 of it in one place, and machines that draw books have 8 GiB and more."""
_allowed_gib = MEMORY_GIB


def allow_memory(gib: float) -> None:
    """Set the bound of this process: once, when it starts. What is made does not depend on it, only what is refused.

    Parameters
    ----------
    gib
        What one array and what is worked out beside it may take, GiB.
    """
    global _allowed_gib  # noqa: PLW0603  one bound of a process, like that of the system
    _allowed_gib = gib


def memory_gib() -> float:
    """What one array and what is worked out beside it may take, GiB."""
    return _allowed_gib


def memory_bytes() -> float:
    """The same in bytes."""
    return _allowed_gib * 1024**3


def check_room(need_bytes: float, what: str) -> None:
    """Nothing, when there is room.

    Parameters
    ----------
    need_bytes
        What the array and what is worked out beside it take.
    what
        What is about to be made, in the words of the person whose parts ask for it; with its size in mm.

    Raises
    ------
    InputError
        If it is more than `memory_bytes`.
    """
    if need_bytes <= memory_bytes():
        return
    most = f"{memory_gib():g} are allowed (--memory)"
    raise InputError(
        Fault(
            file="",
            place="",
            wrong=f"{what} would take {need_bytes / 1024**3:.3g} GiB of memory, {most}",
            right="look for a part in another unit or far from the others, and export it again",
        )
    )
