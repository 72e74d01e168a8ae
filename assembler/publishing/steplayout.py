"""How a step shares its room: one page where all of it fits there, else two that face each other.

The words come first, as high as they are set; pictures take what room is left. Two short steps in a row make a pair of
pages. A short step between longer ones has two pages as well: no page stays empty.
Goes in: pages as data, and the heights of their blocks. Comes out: the same pages with sizes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

from assembler.drawing.style import DPI, PX_PER_MM
from assembler.publishing.pages import Book, PictureBox, StepLayout, StepPage
from assembler.publishing.sheets import SheetSize

SLACK_MM = 1.2
"""Room left over on each page: the sum of blocks set apart differs a little from blocks set together."""
GAP_MM = 3.0
"""Between pictures, and between pictures and words."""
SHORT_SHARE = 0.76
"""A step is short if its picture keeps this share of the size it is drawn for: its letters stay readable."""
ENLARGED = DPI / 240.0
"""A picture may be set larger than it is drawn for, but not below 240 pixels an inch."""
LEAST_SHARE = 0.3
"""Share of the page that a picture keeps above two rows of faces."""
LATER_MM = 57.0
"""Least height of a close-up on the second page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """How steps lay in the book before: they keep it, so that a step more elsewhere turns nothing over.

    Parameters
    ----------
    pairs
        Short steps that shared a pair of pages.
    long
        Steps that had two pages.
    """

    pairs: tuple[tuple[str, str], ...] = ()
    long: frozenset[str] = frozenset()


Heights = Mapping[str, float]
"""Height in mm by '<step>/<block>'; blocks are named in templates/measure.html."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """Heights of the blocks of one step, mm."""

    top: float
    cautions: float
    narrow: float
    wide: float
    work: float
    why: float
    signs: float


def laid_out(book: Book, heights: Heights, sheet: SheetSize, kept: Kept | None = None) -> Book:
    """The book with the layout of every step.

    Parameters
    ----------
    book
        As composed.
    heights
        Of every block of every step.
    sheet
        Its page.
    kept
        The book before; None: there is none.
    """
    shorts = {step.number: short_layout(step, _blocks(step, heights), sheet) for step in book.steps}
    paired = _paired(
        [step.number for step in book.steps], {name for name, row in shorts.items() if row}, kept or Kept()
    )
    steps = []
    for step in book.steps:
        short = shorts[step.number] if step.number in paired else None
        steps.append(replace(step, layout=short or long_layout(step, _blocks(step, heights), sheet)))
    return replace(book, steps=tuple(steps))


def _blocks(step: StepPage, heights: Heights) -> _Blocks:
    return _Blocks(**{field.name: heights[f"{step.number}/{field.name}"] for field in fields(_Blocks)})


def _paired(numbers: Sequence[str], short: set[str], before: Kept) -> set[str]:
    """Short steps that stand next to another one that is left over; pairs that were printed come first."""
    neighbours = list(zip(numbers, numbers[1:], strict=False))
    found: set[str] = set()
    kept = [pair for pair in neighbours if pair in before.pairs]
    for one, other in (*kept, *neighbours):
        if {one, other} <= short - found - before.long:
            found |= {one, other}
    return found


def short_layout(step: StepPage, blocks: _Blocks, sheet: SheetSize) -> StepLayout | None:
    """One page: picture above, orders beside the only face; None where that is too little room."""
    faces = [box for box in step.close_ups if box.width_px <= box.height_px]
    if len(faces) > 1:
        return None
    beside = sheet.close_up_mm if faces else 0.0
    beside_words = max(blocks.narrow, beside + GAP_MM) if faces else blocks.wide
    words = blocks.top + blocks.cautions + beside_words + blocks.work + blocks.signs
    room = sheet.page_height_mm - SLACK_MM - words - GAP_MM
    if step.picture is None:
        return None if room < 0 else StepLayout(is_short=True, picture_mm=0.0, close_up_mm=beside, close_ups=len(faces))
    natural = _fitting(step.picture, sheet)
    if room < SHORT_SHARE * natural:
        return None
    picture = round(min(room, _largest(step.picture, sheet)), 1)
    return StepLayout(is_short=True, picture_mm=picture, close_up_mm=round(beside, 1), close_ups=len(faces))


def long_layout(step: StepPage, blocks: _Blocks, sheet: SheetSize) -> StepLayout:
    """Two pages: what is seen on the first, what is done on the second; the picture has at least half of the first."""
    page = sheet.page_height_mm - SLACK_MM
    count = _in_a_row(step.close_ups, sheet)
    row = sheet.close_up_mm + GAP_MM if count else 0.0
    rows_mm = row
    faces = [box for box in step.close_ups if box.width_px <= box.height_px]
    if len(faces) > count and page - blocks.top - 2 * row >= LEAST_SHARE * page:
        # Which bolt comes first is seen on a face: all of them stand here, the picture is smaller for it.
        count += _in_a_row(faces[count:], sheet)
        rows_mm = 2 * row
    room = page - blocks.top - rows_mm - GAP_MM
    picture = min(room, _largest(step.picture, sheet)) if step.picture else 0.0
    words = blocks.cautions + blocks.wide + blocks.work + blocks.signs
    has_why = words + blocks.why <= page
    words += blocks.why if has_why else 0.0
    left = len(step.close_ups) - count
    rows = (left + 1) // 2
    most = (page - words) / rows - GAP_MM if rows else 0.0
    shown_rows = rows if most >= LATER_MM else max(int((page - words) / (LATER_MM + GAP_MM)), 0)
    height = min(sheet.close_up_mm, (page - words) / shown_rows - GAP_MM) if shown_rows else 0.0
    return StepLayout(
        is_short=False,
        picture_mm=round(picture, 1),
        close_up_mm=round(max(row - GAP_MM, 0.0), 1),
        close_ups=count,
        later_mm=round(height, 1),
        dropped=max(left - 2 * shown_rows, 0),
        has_why=has_why,
    )


def _in_a_row(boxes: Sequence[PictureBox], sheet: SheetSize) -> int:
    """How many close-ups stand beside each other at the height of a row; a cut may be a little lower."""
    width, count = 0.0, 0
    for box in boxes:
        width += _row_width(box, sheet) + (GAP_MM if count else 0.0)
        if width > sheet.text_width_mm + 0.1:
            break
        count += 1
    return count


def _row_width(box: PictureBox, sheet: SheetSize) -> float:
    """Width of a close-up in the row; what is wider than high is set no larger than it is drawn, and a tenth."""
    wide = sheet.close_up_mm * box.width_px / box.height_px
    return wide if box.width_px <= box.height_px else min(wide, sheet.text_width_mm - sheet.close_up_mm - GAP_MM)


def _largest(box: PictureBox, sheet: SheetSize) -> float:
    """Height up to which a picture may be enlarged."""
    return min(ENLARGED * box.height_px / PX_PER_MM, sheet.text_width_mm * box.height_px / box.width_px)


def _fitting(box: PictureBox, sheet: SheetSize) -> float:
    """Height for which a picture is drawn, or that which the page has width for."""
    return min(box.height_px / PX_PER_MM, sheet.text_width_mm * box.height_px / box.width_px)
