"""How the pages of a step share their room: sizes of its pictures, from the heights of its words as they are set.

A step is a spread: what to see and bring on the left page, what to do and record on the right. The words come first;
pictures take what room is left, and a close-up that finds none goes on to a later page.
Goes in: pages as data, and the heights of their blocks. Comes out: the same pages with sizes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

from assembler.drawing.style import DPI, PX_PER_MM
from assembler.publishing.pages import Book, CloseUp, PictureBox, StepLayout, StepPage
from assembler.publishing.sheets import SheetSize

SLACK_MM = 1.5
"""Room left over on each page: the sum of blocks set apart differs a little from blocks set together."""
LEAST_PICTURE_MM = 78.0
"""A main picture lower than this gets a page of its own, and the step a second spread."""
DETAIL_LEAST_MM, SECTION_LEAST_MM = 55.5, 49.0
"""Heights from which the letters of a close-up are 8 pt: a flange beside the orders, a section beside the checks."""
PICTURE_MARGIN_MM = 2.0
ENLARGED = DPI / 260.0
"""A main picture may be set larger than it is drawn for, but not below 260 pixels an inch."""
MORE_HEAD_MM, MORE_GAP_MM = 12.0, 4.0
"""Title above further close-ups, and the gap between their rows."""
NOTES_LEAST_MM, NOTES_GAP_MM, NOTES_LINE_MM = 50.0, 8.0, 10.0
"""Room from which the crew gets lines for notes, what stays free above them, and the distance of the lines."""

Heights = Mapping[str, float]
"""Height in mm by '<step>/<block>'; blocks are named in templates/measure.html."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """Heights of the blocks of one step, mm."""

    top: float
    foot: float
    before: float
    narrow: float
    wide: float
    after: float
    beside: float
    two: float
    signs: float


def laid_out(book: Book, heights: Heights, sheet: SheetSize) -> Book:
    """The book with the layout of every step, and in the appendix the close-ups that found no room.

    Parameters
    ----------
    book
        As composed.
    heights
        Of every block of every step.
    sheet
        Its page height and the width of the column for a flange.
    """
    steps = tuple(replace(step, layout=step_layout(step, heights, sheet)) for step in book.steps)
    return replace(book, steps=steps, appendix=replace(book.appendix, close_ups=left_over(steps)))


def left_over(steps: tuple[StepPage, ...]) -> tuple[CloseUp, ...]:
    """Close-ups that stand on no page of their step."""
    return tuple(
        CloseUp(step=step.number, anchor=step.anchor, picture=box, is_first=place == 0)
        for step in steps
        for place, box in enumerate(step.close_ups[step.layout.shown :])
    )


def step_layout(step: StepPage, heights: Heights, sheet: SheetSize) -> StepLayout:
    """Sizes of the pictures of one step."""
    blocks = _Blocks(**{field.name: heights[f"{step.number}/{field.name}"] for field in fields(_Blocks)})
    page = sheet.page_height_mm - SLACK_MM
    stage = page - blocks.top - blocks.foot - PICTURE_MARGIN_MM
    is_apart = stage < LEAST_PICTURE_MM
    if is_apart:
        stage = page - blocks.top - PICTURE_MARGIN_MM
        if stage < LEAST_PICTURE_MM:
            # The words alone fill a page or more: the picture gets the next one to itself.
            stage = page - PICTURE_MARGIN_MM
    detail, section = _close_up_sizes(step.close_ups, blocks, page, sheet)
    height = record_height(blocks, detail, section)
    is_checked_apart = height > page
    if is_checked_apart:
        detail, section = _sizes_with_checks_apart(step.close_ups, blocks, page, sheet)
        height = record_height(replace(blocks, before=0.0, narrow=0.0, wide=0.0, after=0.0), 0.0, section)
    is_joined = is_apart and not is_checked_apart and blocks.foot + height <= page
    left = len(step.close_ups) - (detail > 0) - (section > 0)
    more = min(left, _more_room(page - blocks.foot, sheet)) if is_apart and not is_joined else 0
    later = min(left - more, _more_room(page - height, sheet)) if is_checked_apart else 0
    notes = page - height - NOTES_GAP_MM if not (is_joined or later) else 0.0
    return StepLayout(
        stage_mm=round(stage, 1),
        picture_mm=round(min(stage, ENLARGED * drawn_mm(step.picture)) if step.picture else stage, 1),
        detail_mm=round(detail, 1),
        section_mm=round(section, 1),
        is_apart=is_apart,
        is_joined=is_joined,
        more=more,
        later=later,
        is_checked_apart=is_checked_apart,
        notes_mm=math.floor(notes / NOTES_LINE_MM) * NOTES_LINE_MM if notes >= NOTES_LEAST_MM else 0.0,
    )


def _more_room(room_mm: float, sheet: SheetSize) -> int:
    """How many further close-ups, two beside each other, some room holds."""
    return 2 * max(int((room_mm - MORE_HEAD_MM) / (sheet.section_mm + MORE_GAP_MM)), 0)


def _sizes_with_checks_apart(
    close_ups: Sequence[PictureBox], blocks: _Blocks, page: float, sheet: SheetSize
) -> tuple[float, float]:
    """Heights of the close-ups where the orders and the checks stand on two pages."""
    room = page - blocks.before - blocks.after - PICTURE_MARGIN_MM
    detail = min(sheet.detail_mm, room) if close_ups and room >= max(blocks.narrow, DETAIL_LEAST_MM) else 0.0
    return detail, drawn_mm(close_ups[1]) if len(close_ups) > 1 and detail else 0.0


def _close_up_sizes(
    close_ups: Sequence[PictureBox], blocks: _Blocks, page: float, sheet: SheetSize
) -> tuple[float, float]:
    """Heights of the close-ups beside the orders and beside the checks; 0: not there."""
    if not close_ups:
        return 0.0, 0.0
    words = blocks.before + blocks.after + blocks.signs
    room = page - words
    for detail in (sheet.detail_mm, DETAIL_LEAST_MM):
        side = room - max(blocks.narrow, detail + PICTURE_MARGIN_MM)
        if len(close_ups) > 1 and side >= max(blocks.beside, SECTION_LEAST_MM + PICTURE_MARGIN_MM):
            return detail, min(drawn_mm(close_ups[1]), side - PICTURE_MARGIN_MM)
    most = room - blocks.two - PICTURE_MARGIN_MM
    if most >= max(blocks.narrow, DETAIL_LEAST_MM):
        return min(sheet.detail_mm, most), 0.0
    return 0.0, 0.0


def drawn_mm(box: PictureBox) -> float:
    """Height for which a picture is drawn: its letters and its scale are right at that size, and no larger."""
    return box.height_px / PX_PER_MM


def record_height(blocks: _Blocks, detail_mm: float, section_mm: float) -> float:
    """Height of the right page of a step, mm."""
    orders = max(blocks.narrow, detail_mm + PICTURE_MARGIN_MM) if detail_mm else blocks.wide
    checks = max(blocks.beside, section_mm + PICTURE_MARGIN_MM) if section_mm else blocks.two
    return blocks.before + orders + blocks.after + checks + blocks.signs
