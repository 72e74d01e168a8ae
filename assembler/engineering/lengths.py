"""How long a screw has to be: grip, washers, nut and protrusion, rounded up in the series in stock.

Goes in: the pieces on one axis. Comes out: the length needed, and the length to use.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assembler.catalogue.records import Nut, Screw, Thread, Washer

PROTRUSION_PITCHES = 2.0
"""Thread past the nut: 2 pitches, one for a full thread and one for tolerances (trade rule, read second-hand).

EN 1090-2, clause 8.2.2, asks for one pitch at least.
"""

MOST_PROTRUSION_PITCHES = 10.0
"""In no case more (Naval Ships' Technical Manual, chapter 075, read in a quotation; five are better)."""

THREAD_IN_GRIP_PITCHES = 1.0
"""Thread that has to lie between head and nut, so that the nut can be drawn up (EN 1090-2, clause 8.2.2)."""

INSERT_ENGAGEMENT = 1.0
"""Least engagement in a threaded insert, in diameters (common practice, no source)."""

FULL_THREAD_PITCHES = 5.0
"""A shank shorter than this many pitches is not made: the screw is threaded to the head (from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """What goes on one axis besides the parts.

    Parameters
    ----------
    thread, screw
        Table rows.
    nut
        None when the screw goes into an insert.
    washer
        None where none fits.
    washers
        Pieces.
    """

    thread: Thread
    screw: Screw
    nut: Nut | None
    washer: Washer | None
    washers: int

    @property
    def washers_mm(self) -> float:
        """Greatest thickness of all washers."""
        return self.washers * self.washer.greatest_mm if self.washer else 0.0


def needed_length_mm(grip_mm: float, pieces: Pieces) -> float:
    """Shortest length that serves, to 0.1 mm: grip + washers + nut + protrusion.

    Washers and nut count with their greatest thickness. With an insert: grip + washer + engagement.

    Parameters
    ----------
    grip_mm
        Between the seats, the bond line included.
    pieces
        On this axis.
    """
    past_mm = INSERT_ENGAGEMENT * pieces.thread.diameter_mm
    if pieces.nut is not None:
        past_mm = pieces.nut.height_mm + PROTRUSION_PITCHES * pieces.thread.pitch_mm
    return round(grip_mm + pieces.washers_mm + past_mm, 1)


def stocked_length_mm(needed_mm: float, series_mm: Sequence[float], stock_mm: Sequence[float]) -> float | None:
    """Shortest length that is standard, in stock, and long enough; None when there is none.

    Parameters
    ----------
    needed_mm
        From `needed_length_mm`.
    series_mm
        Lengths in which the size is standard.
    stock_mm
        Lengths that the shop has; empty: all.
    """
    choice = [length for length in series_mm if length >= needed_mm and (not stock_mm or length in stock_mm)]
    return min(choice, default=None)


def unthreaded_mm(screw: Screw, thread: Thread, length_mm: float) -> float:
    """Length from the head's seat to where the thread begins.

    Parameters
    ----------
    screw, thread
        Table rows.
    length_mm
        Nominal length.

    References
    ----------
    ISO 888: b = 2 d + 6 up to 125 mm, 2 d + 12 up to 200 mm, 2 d + 25 above (read in a supplier's page); ISO 4762 and
    ISO 7380-1: their table value, which is 2 d + 12.
    """
    if not screw.thread_mm:
        return 0.0
    is_hexagon = screw.across_flats_mm > 0
    more_mm = 0.0 if length_mm <= 125 or not is_hexagon else 6.0 if length_mm <= 200 else 19.0
    shank_mm = length_mm - screw.thread_mm - more_mm
    return shank_mm if shank_mm >= FULL_THREAD_PITCHES * thread.pitch_mm else 0.0


def has_thread_in_grip(grip_mm: float, pieces: Pieces, length_mm: float) -> bool:
    """Whether the thread begins at least one pitch before the nut or insert.

    Parameters
    ----------
    grip_mm
        Between the seats.
    pieces
        On this axis; washers count with their nominal thickness.
    length_mm
        Of the screw.

    References
    ----------
    EN 1090-2, clause 8.2.2, as quoted in an advisory note: one full thread for bolts that are not preloaded.
    """
    washers_mm = pieces.washers * pieces.washer.nominal_mm if pieces.washer else 0.0
    if not pieces.screw.thread_mm:
        return True
    plain_mm = unthreaded_mm(pieces.screw, pieces.thread, length_mm)
    return plain_mm + THREAD_IN_GRIP_PITCHES * pieces.thread.pitch_mm <= grip_mm + washers_mm
