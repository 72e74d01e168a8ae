"""The command `assembler`, and `python -m assembler`: ready to be stopped from its first moment on."""

from assembler.isolation import leave_working_folder

leave_working_folder()

# Nothing else may be looked for in the working folder first.
import os  # noqa: E402
import signal  # noqa: E402
from types import FrameType  # noqa: E402
from typing import NoReturn  # noqa: E402


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
