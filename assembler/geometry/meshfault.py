"""One line about a part file: file, place, what is wrong, what would be right; cut to what a terminal shows."""

from __future__ import annotations

from pathlib import Path

from assembler.errors import Fault, MeshFileError

_MOST_NAME, _MOST_WORDS = 80, 100


def mesh_fault(path: Path, place: str, wrong: str, right: str) -> MeshFileError:
    """The error to raise.

    Parameters
    ----------
    path
        The part file; a long name is cut in the middle.
    place, wrong
        Where and what; may quote the file or a foreign reader, so they are cut and kept to one line.
    right
        What would be right.
    """
    shown = str(path.with_name(_cut(path.name, _MOST_NAME))) if path.name else str(path)
    return MeshFileError(Fault(file=shown, place=_cut(place, 30), wrong=_cut(wrong, _MOST_WORDS), right=right))


def _cut(text: str, most: int) -> str:
    """One printable line of at most so many characters; the end of a name says more than its middle."""
    line = " ".join(text.encode("utf-8", "backslashreplace").decode().split())
    return line if len(line) <= most else f"{line[: most - 16]}...{line[-13:]}"
