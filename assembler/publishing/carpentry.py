"""What the shop saws for crates: a consignment in, rows of timber out."""

from __future__ import annotations

from dataclasses import dataclass

from assembler.figure.consignment import Crate, Timber
from assembler.publishing import quantities
from assembler.publishing.source import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class CrateTimber:
    """The timber of one crate.

    Parameters
    ----------
    title
        Crate and section.
    rows
        Piece, section, count, length.
    note
        What to buy.
    """

    title: str
    rows: tuple[tuple[str, str, str, str], ...]
    note: str


def crate_timber(source: Source) -> tuple[CrateTimber, ...]:
    """Timber of every crate; none where the figure does not travel."""
    crates = source.consignment.crates if source.consignment is not None else ()
    return tuple(_of(source, crate) for crate in crates)


def _of(source: Source, crate: Crate) -> CrateTimber:
    words = source.words
    length = f"{crate.boards_m:.0f}{quantities.NO_BREAK}m"
    return CrateTimber(
        title=words("install.crate_title", crate=crate.id, section=crate.section),
        rows=tuple(
            (words(f"install.timber.{row.name}"), row.section, str(row.count), _length(row)) for row in crate.timber
        ),
        note=words("install.timber_note", length=length, count=crate.sheets),
    )


def _length(row: Timber) -> str:
    """Length of a board, or length and width of a sheet, mm."""
    return f"{row.length_mm:.0f} × {row.width_mm:.0f}" if row.width_mm else f"{row.length_mm:.0f}"
