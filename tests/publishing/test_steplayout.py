"""How a step's pages share their room: nothing runs past the page, close-ups are shown once, words come first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assembler.publishing.book import compose
from assembler.publishing.pages import Book, PictureBox, StepPage
from assembler.publishing.pdf import Typesetter
from assembler.publishing.pieces import Pieces
from assembler.publishing.sheets import SHEETS
from assembler.publishing.source import Source
from assembler.publishing.steplayout import PICTURE_MARGIN_MM, left_over, step_layout
from tests.publishing.conftest import Written

BLOCKS = {
    "top": 40.0,
    "foot": 60.0,
    "before": 15.0,
    "narrow": 60.0,
    "wide": 50.0,
    "after": 80.0,
    "beside": 55.0,
    "two": 40.0,
    "signs": 16.0,
}
HEIGHTS = st.fixed_dictionaries({name: st.floats(0, 130) for name in BLOCKS})


def named(blocks: dict[str, float]) -> dict[str, float]:
    return {f"1/{name}": height for name, height in blocks.items()}


def page_with(book: Book, count: int) -> StepPage:
    box = PictureBox(file="a.png", width_px=969, height_px=661, overlay_svg="", alt="a flange")
    return replace(book.steps[0], close_ups=(box,) * count)


@given(blocks=HEIGHTS, count=st.integers(0, 7), sheet=st.sampled_from(sorted(SHEETS)))
def test_no_page_is_filled_past_its_end(book: Book, blocks: dict[str, float], count: int, sheet: str) -> None:
    size = SHEETS[sheet]
    layout = step_layout(page_with(book, count), named(blocks), size)
    show = blocks["top"] + layout.stage_mm + PICTURE_MARGIN_MM + (0 if layout.is_apart else blocks["foot"])
    assert show <= size.page_height_mm
    assert layout.stage_mm >= 70 or blocks["top"] > 120
    assert 0 < layout.picture_mm <= layout.stage_mm
    assert layout.beside + layout.more + layout.later <= count
    orders = max(blocks["narrow"], layout.detail_mm) if layout.detail_mm else blocks["wide"]
    checks = max(blocks["beside"], layout.section_mm) if layout.section_mm else blocks["two"]
    first = blocks["before"] + orders + blocks["after"]
    if not layout.is_checked_apart:
        foot = blocks["foot"] if layout.is_joined else 0
        assert foot + first + checks + blocks["signs"] + layout.notes_mm <= size.page_height_mm
    elif layout.detail_mm:
        assert first <= size.page_height_mm


def test_a_step_with_room_shows_a_large_picture_and_both_close_ups(book: Book) -> None:
    layout = step_layout(page_with(book, 3), named(BLOCKS), SHEETS["A4"])
    assert not layout.is_apart
    assert layout.stage_mm == pytest.approx(258.5 - 1.5 - 40 - 60 - 2, abs=0.1)
    assert layout.detail_mm == SHEETS["A4"].detail_mm
    assert layout.section_mm == pytest.approx(56.0, abs=0.1)
    assert (layout.more, layout.later) == (0, 0)


def test_many_words_put_the_picture_on_a_page_of_its_own(book: Book) -> None:
    layout = step_layout(page_with(book, 5), named(BLOCKS | {"foot": 160.0}), SHEETS["A4"])
    assert layout.is_apart
    assert layout.stage_mm > 200
    assert layout.more == 2


def test_words_longer_than_a_page_leave_the_picture_the_next_page_to_itself(book: Book) -> None:
    layout = step_layout(page_with(book, 1), named(BLOCKS | {"top": 640.0}), SHEETS["A4"])
    assert layout.is_apart
    assert 200 < layout.stage_mm < SHEETS["A4"].page_height_mm
    assert 0 < layout.picture_mm <= layout.stage_mm


def test_too_many_words_put_the_checks_on_the_last_page_with_the_pictures_that_are_left(book: Book) -> None:
    blocks = BLOCKS | {"foot": 160.0, "after": 140.0}
    layout = step_layout(page_with(book, 6), named(blocks), SHEETS["A4"])
    assert layout.is_checked_apart
    assert layout.section_mm == pytest.approx(56.0, abs=0.1)
    assert layout.beside + layout.more + layout.later == 6


def test_a_main_picture_is_not_enlarged_until_its_pixels_show(book: Book) -> None:
    small = PictureBox(file="a.png", width_px=900, height_px=900, overlay_svg="", alt="a part")
    layout = step_layout(replace(page_with(book, 0), picture=small), named(BLOCKS), SHEETS["A4"])
    assert 900 / (layout.picture_mm / 25.4) >= 250
    assert layout.stage_mm > layout.picture_mm


def test_close_ups_without_room_go_to_the_appendix(book: Book) -> None:
    page = page_with(book, 4)
    page = replace(page, layout=step_layout(page, named(BLOCKS), SHEETS["A4"]))
    first, second = left_over((page,))
    assert (first.step, first.is_first, second.is_first) == (page.number, True, False)


def test_every_block_of_every_step_is_measured(source: Source, tmp_path_factory: pytest.TempPathFactory) -> None:
    book = compose(source)
    book = replace(book, steps=tuple(replace(step, close_ups=()) for step in book.steps[:2]))
    pieces = Pieces(book, source.words)
    typesetter = Typesetter(base=tmp_path_factory.mktemp("measured"), style=pieces.style())
    heights = {
        name: height for step in book.steps for name, height in typesetter.heights(pieces.measured(step)).items()
    }
    assert set(heights) == {f"{step.number}/{name}" for step in book.steps for name in BLOCKS}
    for step in book.steps:
        assert heights[f"{step.number}/wide"] <= heights[f"{step.number}/narrow"]
        assert heights[f"{step.number}/two"] < heights[f"{step.number}/beside"]
        assert 30 < heights[f"{step.number}/top"] < 110
        assert 10 < heights[f"{step.number}/signs"] < 25


def test_a_block_is_as_high_alone_as_among_others(tmp_path: Path) -> None:
    def document(words: Mapping[str, str]) -> str:
        style = "@page { size: 60mm 1200mm; margin: 0 } .measured { display: flow-root }"
        blocks = [f'<div class="measured" data-block="{name}"><p>{text}</p></div>' for name, text in words.items()]
        head = f'<html lang="en"><head><title>t</title><style>{style}</style></head>'
        return f"{head}<body>{''.join(blocks)}</body></html>"

    words = {"1/top": "one", "1/foot": "a word " * 40, "1/signs": "two<br>lines"}
    setter = Typesetter(base=tmp_path)
    together = setter.heights(document(words))
    assert together["1/top"] < together["1/signs"] < together["1/foot"]
    assert together == {name: setter.heights(document({name: text}))[name] for name, text in words.items()}


def test_a_step_of_the_book_is_a_spread(written: Written) -> None:
    chapters = list(written.reader.outline)
    place = next(i for i, item in enumerate(chapters) if not isinstance(item, list) and item.title == "Steps")
    numbers = [written.reader.get_destination_page_number(item) for item in chapters[place + 1]]
    numbers.append(written.reader.get_destination_page_number(chapters[place + 2]))
    assert {later - earlier for earlier, later in zip(numbers, numbers[1:], strict=False)} == {2}
