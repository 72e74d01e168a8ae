"""A mark of the program's own code: what was made with other code, or with other libraries, is made again."""

from __future__ import annotations

import hashlib
import platform
from collections.abc import Sequence
from functools import cache
from importlib import metadata
from pathlib import Path

_HOME = Path(__file__).resolve().parent


@cache
def code_mark(rooms: Sequence[str], libraries: Sequence[str]) -> str:
    """SHA-256 over every file of some rooms of the program and the versions of libraries, Python and machine.

    Parameters
    ----------
    rooms
        Names of packages inside `assembler`, such as ('drawing', 'figure').
    libraries
        Names of installed distributions.

    Raises
    ------
    importlib.metadata.PackageNotFoundError
        If a library is not installed.
    """
    digest = hashlib.sha256()
    for room in rooms:
        for path in sorted((_HOME / room).rglob("*")):
            if path.is_file() and "__pycache__" not in path.parts:
                digest.update(path.relative_to(_HOME).as_posix().encode())
                digest.update(path.read_bytes())
    for name in libraries:
        digest.update(f"{name} {metadata.version(name)}\n".encode())
    digest.update(f"{platform.machine()} {platform.python_version()}".encode())
    return digest.hexdigest()
