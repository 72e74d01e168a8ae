"""Files that pages show: those in the folder of the book, and no others.

Goes in: the folder and a name as a page has it. Comes out: the content, or one line that says what is wrong.
"""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from assembler.errors import BookFolderError, Fault
from assembler.filegate import PICTURE_BYTES, read_file

_RIGHT = "show what lies in the folder of the book, by its name"


def book_picture(folder: Path, name: str) -> bytes:
    """Content of a file of a book.

    Parameters
    ----------
    folder
        Where the book is written.
    name
        Relative to it.

    Raises
    ------
    FileNotFoundError
        If there is none.
    BookFolderError
        If the name or a link leads out of the folder, or it is no plain file of ordinary size.
    """
    pure = PurePosixPath(name)
    if pure.is_absolute() or ".." in pure.parts:
        raise BookFolderError(not_shown(name, "lies outside the book"))
    return read_file(folder / pure, root=folder, most_bytes=PICTURE_BYTES, error=BookFolderError)


def not_shown(address: str, wrong: str, right: str = _RIGHT) -> Fault:
    """What is said of something that a page asks for and does not get; a long address is cut."""
    said = address if len(address) <= 100 else f"{address[:100]}..."
    return Fault(file="the PDF", place=repr(said), wrong=wrong, right=right)
