"""How a step shares its room: nothing runs past a page, no close-up is shown twice, short steps come in pairs."""

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
from assembler.publishing.steplayout import GAP_MM, Kept, laid_out
from tests.publishing import sample
from tests.publishing.conftest import Written

BLOCKS = {"top": 27.0, "narrow": 70.0, "wide": 50.0, "work": 65.0, "why": 6.0, "signs": 12.0}
MOST = {"top": 85.0, "narrow": 120.0, "wide": 80.0, "work": 90.0, "why": 15.0, "signs": 15.0}
HEIGHTS = st.fixed_dictionaries({name: st.floats(0, most) for name, most in MOST.items()})
FACE = PictureBox(file="face.png", width_px=756, height_px=756, overlay_svg="", alt="a face")
CUT = PictureBox(file="cut.png", width_px=969, height_px=661, overlay_svg="", alt="a cut")
MAIN = PictureBox(file="a.png", width_px=1800, height_px=1000, overlay_svg="", alt="a part")


def set_out(
    book: Book,
    steps: list[StepPage],
    blocks: Mapping[str, float],
    sheet: str = "A4",
    kept: Kept | None = None,
) -> tuple[StepPage, ...]:
    heights = {f"{step.number}/{name}": height for step in steps for name, height in blocks.items()}
    return laid_out(replace(book, steps=tuple(steps)), heights, SHEETS[sheet], kept).steps


def step(book: Book, number: str, *close_ups: PictureBox) -> StepPage:
    return replace(book.steps[0], number=number, picture=MAIN, close_ups=close_ups)


@given(blocks=HEIGHTS, faces=st.integers(0, 4), cuts=st.integers(0, 3), sheet=st.sampled_from(sorted(SHEETS)))
def test_no_page_is_filled_past_its_end(
    book: Book, blocks: dict[str, float], faces: int, cuts: int, sheet: str
) -> None:
    size = SHEETS[sheet]
    boxes = (*(FACE,) * faces, *(CUT,) * cuts)
    for one in set_out(book, [step(book, "1", *boxes), step(book, "2", *boxes)], blocks, sheet):
        layout = one.layout
        assert layout.picture_mm * MAIN.width_px / MAIN.height_px <= size.text_width_mm + 0.2
        if layout.is_short:
            beside = max(blocks["narrow"], layout.close_up_mm) if layout.close_ups else blocks["wide"]
            filled = sum(blocks[name] for name in ("top", "work", "signs")) + beside + layout.picture_mm
            assert filled <= size.page_height_mm
            assert layout.close_ups == faces <= 1
            continue
        rows = 0 if not layout.close_ups else 1 if layout.close_ups <= 2 else 2
        seen = blocks["top"] + layout.picture_mm + rows * (layout.close_up_mm + GAP_MM)
        assert seen <= size.page_height_mm
        done = sum(blocks[name] for name in ("wide", "work", "signs"))
        if layout.has_why:
            done += blocks["why"]
        left = len(boxes) - layout.close_ups - layout.dropped
        assert left >= 0
        assert done + (left + 1) // 2 * (layout.later_mm + GAP_MM if left else 0.0) <= size.page_height_mm


def test_two_short_steps_in_a_row_have_a_page_each_and_one_between_long_ones_has_two(book: Book) -> None:
    short = [step(book, number, FACE) for number in ("1", "2", "3")]
    assert [one.layout.is_short for one in set_out(book, short, BLOCKS)] == [True, True, False]


def test_a_step_more_does_not_turn_printed_pairs_over(book: Book) -> None:
    short = [step(book, number, FACE) for number in ("1", "1a", "2")]
    anew = set_out(book, short, BLOCKS)
    assert [one.layout.is_short for one in anew] == [True, True, False]
    # Steps 7 and 8 were printed as a pair; 6a comes before them.
    later = [step(book, number, FACE) for number in ("6a", "7", "8")]
    kept = set_out(book, later, BLOCKS, kept=Kept(pairs=(("7", "8"),)))
    assert [one.layout.is_short for one in kept] == [False, True, True]


def test_a_step_that_was_printed_on_two_pages_keeps_them(book: Book) -> None:
    short = [step(book, number, FACE) for number in ("3", "3a", "4")]
    kept = set_out(book, short, BLOCKS, kept=Kept(long=frozenset(("3", "4"))))
    assert not any(one.layout.is_short for one in kept)


def test_a_picture_too_small_to_read_makes_a_step_long(book: Book) -> None:
    crowded = BLOCKS | {"work": 120.0}
    assert not any(one.layout.is_short for one in set_out(book, [step(book, "1"), step(book, "2")], crowded))


def test_all_faces_of_a_step_stand_on_its_first_page(book: Book) -> None:
    (one,) = set_out(book, [step(book, "1", FACE, FACE, FACE, FACE, CUT, CUT)], BLOCKS)
    assert (one.layout.close_ups, one.layout.dropped) == (4, 0)
    assert one.layout.later_mm > 50


def test_why_a_step_comes_now_gives_way_to_the_work(book: Book) -> None:
    page = SHEETS["A4"].page_height_mm
    full = BLOCKS | {"work": page - 50.0 - 12.0 - 4.0}
    (one,) = set_out(book, [step(book, "1")], full)
    assert not one.layout.has_why


def test_a_picture_is_not_enlarged_until_its_pixels_show(book: Book) -> None:
    small = replace(step(book, "1"), picture=replace(MAIN, width_px=900, height_px=900))
    (one,) = set_out(book, [small], BLOCKS)
    assert 900 / (one.layout.picture_mm / 25.4) >= 239


def test_every_block_of_every_step_is_measured(source: Source, tmp_path_factory: pytest.TempPathFactory) -> None:
    book = compose(source)
    pieces = Pieces(book, source.words)
    typesetter = Typesetter(base=tmp_path_factory.mktemp("measured"), style=pieces.style())
    heights = {
        name: height for one in book.steps[:2] for name, height in typesetter.heights(pieces.measured(one)).items()
    }
    assert set(heights) == {f"{one.number}/{name}" for one in book.steps[:2] for name in BLOCKS}
    for one in book.steps[:2]:
        assert heights[f"{one.number}/wide"] < heights[f"{one.number}/narrow"]
        assert 10 < heights[f"{one.number}/top"] < 60
        assert 5 < heights[f"{one.number}/signs"] < 20


def test_a_block_is_as_high_alone_as_among_others(tmp_path: Path) -> None:
    def document(words: Mapping[str, str]) -> str:
        style = "@page { size: 60mm 1200mm; margin: 0 } .measured { display: flow-root }"
        blocks = [f'<div class="measured" data-block="{name}"><p>{text}</p></div>' for name, text in words.items()]
        head = f'<html lang="en"><head><title>t</title><style>{style}</style></head>'
        return f"{head}<body>{''.join(blocks)}</body></html>"

    words = {"1/top": "one", "1/work": "a word " * 40, "1/signs": "two<br>lines"}
    setter = Typesetter(base=tmp_path)
    together = setter.heights(document(words))
    assert together["1/top"] < together["1/signs"] < together["1/work"]
    assert together == {name: setter.heights(document({name: text}))[name] for name, text in words.items()}


def test_a_step_of_the_book_is_one_page_or_two_that_begin_on_an_odd_one(written: Written) -> None:
    chapters = list(written.reader.outline)
    place = next(i for i, item in enumerate(chapters) if not isinstance(item, list) and item.title == "Steps")
    numbers = [written.reader.get_destination_page_number(item) for item in chapters[place + 1]]
    assert len(numbers) == len(sample.SHORT.steps)
    numbers.append(written.reader.get_destination_page_number(chapters[place + 2]))
    counts = [later - earlier for earlier, later in zip(numbers, numbers[1:], strict=False)]
    assert set(counts) <= {1, 2}
    assert all(count == 1 or number % 2 == 0 for number, count in zip(numbers, counts, strict=False))
