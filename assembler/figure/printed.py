"""What a book printed, for the book after it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedPiece:
    """A run of pages as it was printed.

    Parameters
    ----------
    digest
        Of what is on its pages, pictures included, the revision in the heads left out.
    revision
        Since which it reads so.
    pages
        Numbers of its pages; a page that comes between two gets a letter, and no number moves. Empty for labels and
        in books of earlier versions.
    """

    digest: str
    revision: str
    pages: tuple[str, ...] = ()
