"""Since which revision the pages of a piece read as they do: told by what is on them.

In: what the book before printed, and the HTML of a piece without its revision. Out: the revision of the piece, and what
this book printed, for the one after it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import unquote

from assembler.figure.printed import PrintedPiece
from assembler.publishing.rasters import picture_names


class Printed:
    """Revisions of the pieces of a book.

    Parameters
    ----------
    folder
        Where the pictures lie.
    before
        What the last issue printed, by name of the piece.
    revision
        Of the book.
    """

    def __init__(self, folder: Path, before: Mapping[str, PrintedPiece], revision: str) -> None:
        self._folder = folder
        self._before = before
        self._revision = revision
        self.now: dict[str, PrintedPiece] = {}

    def revision_of(self, name: str, html: str, *, is_new: bool = False) -> str:
        """Since when a piece reads so; asked more than once, the last answer counts.

        Parameters
        ----------
        name, html
            The piece, without its revision.
        is_new
            Whether it is to be printed again, however it reads.
        """
        digest = hashlib.sha256(html.encode())
        for picture in picture_names(html):
            file = self._folder / unquote(picture)
            # A missing picture is a fault that setting the page reports.
            digest.update(file.read_bytes() if file.is_file() else b"")
        last = self._before.get(name)
        is_same = not is_new and last is not None and last.digest == digest.hexdigest()
        revision = last.revision if last is not None and is_same else self._revision
        self.now[name] = PrintedPiece(digest=digest.hexdigest(), revision=revision)
        return revision
