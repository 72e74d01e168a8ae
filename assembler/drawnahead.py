"""Has an assistant draw while this process plans, and find out what follows from the parts alone.

It loads nothing for that: what is needed there is the assistant's business.
"""

from __future__ import annotations

import importlib
import pickle
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from assembler.assistants import Assistants
from assembler.partsread import PartsRead

DRAWS = "assembler.likely"
"""Module that assistants are to have loaded."""


@contextmanager
def drawing_ahead(assistants: Assistants) -> Iterator[Callable[[PartsRead], None]]:
    """What to call when the parts are read: until this ends, an assistant draws what the book most likely shows."""
    with ExitStack() as stack:

        def begin(read: PartsRead) -> None:
            if assistants.count:
                # Handed over as a file: what goes through the pipe of a new process is waited for until it has started.
                given = assistants.place() / "read"
                given.write_bytes(pickle.dumps(read, pickle.HIGHEST_PROTOCOL))
                stack.enter_context(assistants.ahead(_drawn_elsewhere, given))

        yield begin


def _drawn_elsewhere(given: Path, is_wanted: Callable[[], bool]) -> None:
    """Draw ahead, in an assistant."""
    from assembler.likely import draw_likely_book

    read: PartsRead = pickle.loads(given.read_bytes())
    draw_likely_book(read, given.parent / "ahead", is_wanted)
    if is_wanted():
        # With time left: what setting pages needs.
        importlib.import_module("assembler.paper")
    if is_wanted():
        from assembler.planning.finalstand import printed_skin_mm2
        from assembler.reuse import planning_memory

        arrays = planning_memory(read.folder).arrays
        printed_skin_mm2(read.parts, read.meshes, read.settings, arrays)
        arrays.save()
