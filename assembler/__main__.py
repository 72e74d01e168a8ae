"""The command `assembler`, and `python -m assembler`: ready to be stopped from its first moment on."""

from __future__ import annotations

import os
import signal
from types import FrameType
from typing import NoReturn


def _leave(number: int, _: FrameType | None) -> NoReturn:
    # Nothing is loaded yet, let alone written.
    os.write(2, b"assembler: stopped; nothing was half-written\n")
    os._exit(128 + number)


def run() -> NoReturn:
    """Load the command line and run it."""
    for wanted in (signal.SIGINT, signal.SIGTERM):
        signal.signal(wanted, _leave)
    from assembler import cli

    cli.run()


if __name__ == "__main__":
    run()
