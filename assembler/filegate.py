"""The one gate through which files are read and places are written to: inside their folder, plain, of a bounded size.

In: a path and the folder that it has to lie in. Out: its content, or one `Fault` that says what is wrong.

Part folders and projects come from strangers: a link may lead to any file of the machine, a pipe never ends, a device
is endless. Whoever reads a file of a project or of a parts folder asks here first (`checked_file`, `read_file`,
`read_text`, `read_json`), and so does whoever writes into one (`checked_place`).
"""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path
from typing import Any

from assembler.errors import Fault, InputError

TEXT_BYTES = 20_000_000
"""Largest text of a project (settings, joints, log, template): the largest seen has 61 parts and 0.4 MB."""
MESH_BYTES = 4_000_000_000
"""Largest part file: 20 million triangles as ASCII STL are some 5 GB, as binary STL 1 GB."""
PICTURE_BYTES = 20_000_000
"""Largest picture of a shop's own, such as a logo."""


def is_there(path: Path) -> bool:
    """Whether something lies at a place, be it a link that leads nowhere: that is no reason to begin anew."""
    return path.is_symlink() or path.exists()


def checked_file(path: Path, *, root: Path | None, most_bytes: int, error: type[InputError] = InputError) -> Path:
    """The path itself, when it may be read.

    Parameters
    ----------
    path
        The file as the user wrote it.
    root
        Folder that the file has to lie in after links are resolved; None: the caller names a file of the user's own
        choice, which may lie anywhere.
    most_bytes
        Bound on its size.
    error
        Leaf of the exception tree that the caller promises.

    Returns
    -------
    Path
        `path`, unchanged.

    Raises
    ------
    FileNotFoundError
        If there is no such file; what that means is the caller's to say.
    InputError
        If it leaves `root`, is no regular file, is too large or must not be read.
    """
    fault = _fault(path, root, most_bytes)
    if fault is not None:
        raise error(fault)
    return path


def read_file(path: Path, *, root: Path | None, most_bytes: int, error: type[InputError] = InputError) -> bytes:
    """Content of a file.

    Parameters, Raises
        As `checked_file`.
    """
    checked_file(path, root=root, most_bytes=most_bytes, error=error)
    try:
        # A pipe that has just taken the file's place must not be waited for.
        handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb") as stream:
            content = stream.read(most_bytes + 1)
    except FileNotFoundError:
        raise
    except OSError as exc:
        raise error(_refused(path, exc)) from exc
    if len(content) > most_bytes:
        raise error(_too_large(path, len(content), most_bytes))
    return content


def read_text(path: Path, *, root: Path | None, error: type[InputError] = InputError) -> str:
    """Text of a file in UTF-8, with or without the mark that some editors put before it.

    Parameters, Raises
        As `checked_file`; also `InputError` where the text is not UTF-8.
    """
    content = read_file(path, root=root, most_bytes=TEXT_BYTES, error=error)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as exc:
        place = f"byte {exc.start}"
        wrong, right = "the text is not UTF-8", "save it as UTF-8"
        raise error(Fault(file=str(path), place=place, wrong=wrong, right=right)) from exc


def read_json(path: Path, *, root: Path | None, error: type[InputError] = InputError) -> Any:
    """Value of a JSON file.

    Parameters, Raises
        As `read_text`; also `InputError` where the text is no JSON, or nested too deeply to be any of this program's.
    """
    try:
        return json.loads(read_text(path, root=root, error=error))
    except (ValueError, RecursionError) as exc:
        wrong = "is no JSON" if isinstance(exc, ValueError) else "is nested too deeply"
        raise error(Fault(file=str(path), place="", wrong=wrong, right="put back the file as it was written")) from exc


def checked_place(path: Path, *, root: Path, error: type[InputError] = InputError) -> Path:
    """The path itself, when it may be written to: no link on the way to it leads out of a folder.

    Parameters
    ----------
    path
        A file or folder that is there or is to come.
    root
        Folder that it has to lie in.
    error
        Leaf of the exception tree that the caller promises.

    Raises
    ------
    InputError
        If what is there is a link that leads elsewhere, or lies behind one.
    """
    try:
        leaves = not path.resolve().is_relative_to(root.resolve())
    except (OSError, RuntimeError, ValueError) as exc:
        raise error(_refused(path, exc)) from exc
    if leaves:
        raise error(_leaving(path, root))
    return path


def _fault(path: Path, root: Path | None, most_bytes: int) -> Fault | None:
    try:
        found = path.stat()
        if root is not None and not path.resolve().is_relative_to(root.resolve()):
            return _leaving(path, root)
    except FileNotFoundError:
        if path.is_symlink():
            right = "bring back what it leads to, or take the link away"
            return Fault(file=str(path), place="", wrong="is a link that leads nowhere", right=right)
        raise
    except (OSError, RuntimeError, ValueError) as exc:
        # RuntimeError: a circle of links; ValueError: a name with NUL.
        return _refused(path, exc)
    if not stat.S_ISREG(found.st_mode):
        kind = "a folder" if stat.S_ISDIR(found.st_mode) else "a pipe, device or socket"
        return Fault(file=str(path), place="", wrong=f"is {kind}", right="put a plain file in its place")
    if found.st_size > most_bytes:
        return _too_large(path, found.st_size, most_bytes)
    return None


def _leaving(path: Path, root: Path) -> Fault:
    right = "put it there itself instead of a link or a path that leaves the folder"
    return Fault(file=str(path), place="", wrong=f"leads out of {root}", right=right)


def _too_large(path: Path, size: int, most_bytes: int) -> Fault:
    right = f"give a file of at most {most_bytes / 1e6:g} MB"
    return Fault(file=str(path), place="", wrong=f"has {size / 1e6:.1f} MB", right=right)


def _refused(path: Path, exc: Exception) -> Fault:
    wrong = f"cannot be read ({getattr(exc, 'strerror', None) or exc})"
    return Fault(file=str(path), place="", wrong=wrong, right="check its rights and its name")
