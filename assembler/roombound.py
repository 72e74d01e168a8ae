"""May an array of this size be made? One bound for everything whose size follows from coordinates or counts.

A part that was exported in another unit makes grids and samples a thousand or a thousand million times larger. Whoever
is about to make such an array asks here first, so that the call ends with one line and not with the machine's memory.
"""

from __future__ import annotations

from assembler.errors import Fault, InputError

MEMORY_BYTES = 4 * 1024**3
"""Most bytes that one array and what is worked out beside it may take. A constant, no option: the largest figure that
was measured (61 parts, 1.9 m) needs 0.1 of it in one place, and machines that draw books have 8 GiB and more."""


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
        If it is more than `MEMORY_BYTES`.
    """
    if need_bytes <= MEMORY_BYTES:
        return
    most = f"{MEMORY_BYTES / 1024**3:.0f} are allowed"
    raise InputError(
        Fault(
            file="",
            place="",
            wrong=f"{what} would take {need_bytes / 1024**3:.3g} GiB of memory, {most}",
            right="look for a part in another unit or far from the others, and export it again",
        )
    )
