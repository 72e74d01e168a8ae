"""Which pages carry a mark of change, where, and which parts do in their pictures.

The changes of a book and of the books before it go in; a mark for each page that is not of the first book comes
out. A page that stayed in force since an earlier re-cut keeps the marks it was printed with: it is the same page. So it
is where only what stands behind the work was cut again: the change sheet names such steps, their pages stay.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assembler.figure.ids import PartId, StepNumber
from assembler.recut.changes import Changes, Fate, PagePlace, PartFate, StepChange
from assembler.words import Text, say


@dataclass(frozen=True, slots=True, kw_only=True)
class StepMark:
    """What tells the pages of a step from those that were printed before.

    Parameters
    ----------
    revision
        Since which they are in force.
    words
        What differs, one line each; none for a step that is new.
    places
        Where on the pages.
    parts
        Word for each part that was cut again or moved in that revision ('new', 'cut again').
    """

    revision: str
    words: tuple[Text, ...]
    places: tuple[PagePlace, ...]
    parts: Mapping[PartId, Text]


_PART_WORDS = {
    PartFate.MOVED: say("mark.moved"),
    PartFate.RESHAPED: say("mark.cut_again"),
    PartFate.SPLIT: say("mark.new"),
    PartFate.MERGED: say("mark.new"),
    PartFate.NEW: say("mark.new"),
    PartFate.SWAPPED: say("mark.exchanged"),
    PartFate.RESPECIFIED: say("mark.made_anew"),
}


def step_marks(books: Sequence[Changes]) -> dict[StepNumber, StepMark]:
    """The mark of every step page that a re-cut changed, by number.

    Parameters
    ----------
    books
        What each book changed, earliest first; the last is the one to be marked. None: no marks.

    Returns
    -------
    dict
        In the order of the pages.
    """
    if not books:
        return {}
    by_revision = {changes.new_revision: changes for changes in books}
    marks: dict[StepNumber, StepMark] = {}
    for page in books[-1].effective_pages:
        changes = by_revision.get(page.revision)
        change = None if changes is None else _change_of(changes, page.number)
        if changes is not None and change is not None:
            marks[page.number] = StepMark(
                revision=page.revision, words=change.words, places=change.places, parts=_part_words(changes)
            )
    return marks


def _change_of(changes: Changes, number: StepNumber) -> StepChange | None:
    return next((one for one in changes.steps if one.number == number and one.fate is not Fate.GONE), None)


def _part_words(changes: Changes) -> dict[PartId, Text]:
    return {
        part: _PART_WORDS[change.fate]
        for change in changes.parts
        if not change.is_name_only and change.fate in _PART_WORDS
        for part in change.after
    }
