"""Pieces that are set one by one and bound: what did not change is not set again, and its pages stay what they are."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from PIL import Image

from assembler.cache import Cache
from assembler.errors import BookFolderError
from assembler.figure.ids import StepNumber
from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.parallel import workers
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.book import compose
from assembler.publishing.cautions import in_columns
from assembler.publishing.pdf import SetPages, Typesetter, measure_all, set_all
from assembler.publishing.pieces import Piece, Pieces, kept_layout, page_numbers
from assembler.publishing.source import Earlier, Source
from assembler.publishing.templating import css_string
from tests.publishing import sample
from tests.publishing.conftest import Written, write_sample


def leaves(html: str, folder: Path, *labels: str) -> Leaves:
    """A piece as it is bound."""
    result = Typesetter(base=folder, is_piece=True).pages(f"<html lang='en'><head><title>t</title></head>{html}</html>")
    return Leaves(content=result.content, bookmarks=result.bookmarks, labels=labels)


def set_pages(count: int) -> SetPages:
    """So many pages without anything on them."""
    return SetPages(content=b"", pages=count, bookmarks=(), complaints=(), misfits=())


def counting(count: Callable[[Piece, str], int]) -> Callable[[Sequence[tuple[Piece, str]]], list[SetPages]]:
    """Pieces that are only counted."""
    return lambda some: [set_pages(count(piece, html)) for piece, html in some]


ONE = '<h1 id="one">One</h1><p><a href="#two">to two</a></p>'
TWO = '<h2 id="two">Two</h2><p>text</p><h1 style="break-before: page">Three</h1><p><a href="#one">to one</a></p>'


def pieces_of(folder: Path) -> list[Leaves]:
    return [leaves(ONE, folder, "1"), leaves(TWO, folder, "2", "2a")]


def test_links_bookmarks_and_labels_go_across_pieces(tmp_path: Path) -> None:
    (tmp_path / "b.pdf").write_bytes(bound(pieces_of(tmp_path), tmp_path, is_spread=True))
    reader = pypdf.PdfReader(tmp_path / "b.pdf")
    assert reader.page_labels == ["1", "2", "2a"]
    assert reader.page_mode == "/UseOutlines"
    assert reader.page_layout == "/TwoPageLeft"
    titles = [item if isinstance(item, list) else item.title for item in reader.outline]
    assert titles[0] == "One"
    assert [item.title for item in titles[1]] == ["Two"]
    assert titles[2] == "Three"
    (there,), (back,) = (reader.pages[place]["/Annots"] for place in (0, 2))
    goal = reader.named_destinations
    assert reader.get_destination_page_number(goal[there.get_object()["/Dest"]]) == 1
    assert reader.get_destination_page_number(goal[back.get_object()["/Dest"]]) == 0


def test_fonts_are_kept_once_however_many_pieces_there_are(written: Written) -> None:
    files = set()
    for page in written.reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            files.add(descriptor.raw_get("/FontFile2").idnum)
    assert 2 <= len(files) <= 4


def test_the_same_pieces_give_the_same_bytes(tmp_path: Path) -> None:
    assert bound(pieces_of(tmp_path), tmp_path) == bound(pieces_of(tmp_path), tmp_path)


def test_a_link_to_nowhere_and_a_target_twice_are_refused(tmp_path: Path) -> None:
    one, two = pieces_of(tmp_path)
    with pytest.raises(BookFolderError, match="#two: is on no page"):
        bound([one], tmp_path)
    with pytest.raises(BookFolderError, match="#one: stands on the pages of two pieces"):
        bound([one, two, one], tmp_path)


def test_what_two_pieces_share_is_kept_once(tmp_path: Path) -> None:
    """A picture of random pixels cannot be packed: the book grows by one of it, not by two."""
    Image.effect_noise((300, 300), 80).save(tmp_path / "noise.png")
    picture = (
        '<svg viewBox="0 0 300 300"><title>n</title><image href="noise.png" width="300" height="300"></image></svg>'
    )
    alone = leaves(f"<h1>One</h1>{picture}", tmp_path, "1")
    size = (tmp_path / "noise.png").stat().st_size
    once = len(bound([alone], tmp_path))
    twice = len(bound([alone, replace(alone, labels=("2",))], tmp_path))
    assert size < once < twice < once + 0.3 * size


def test_other_pixels_of_the_same_size_are_put_in_without_setting_the_page_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = '<svg viewBox="0 0 40 30"><title>n</title><image href="a.png" width="40" height="30"></image></svg>'
    html = f"<html lang='en'><head><title>t</title></head><h1>One</h1>{picture}</html>"
    kept = Cache()

    def shown(colour: tuple[int, int, int], mode: str) -> tuple[int, ...]:
        Image.new("RGB", (40, 30), colour).convert(mode).save(tmp_path / "a.png")
        (result,) = set_all(Typesetter(base=tmp_path, is_piece=True), [html], kept)
        (tmp_path / "b.pdf").write_bytes(bound([Leaves(content=result.content, bookmarks=(), labels=("1",))], tmp_path))
        (found,) = pypdf.PdfReader(tmp_path / "b.pdf").pages[0].images
        assert found.image is not None
        pixel = found.image.convert("RGB").getpixel((20, 15))
        assert isinstance(pixel, tuple)
        return pixel

    assert shown((200, 10, 10), "P") == pytest.approx((200, 10, 10), abs=30)
    with monkeypatch.context() as patch:
        patch.setattr("assembler.publishing.pdf.weasyprint", None)
        assert shown((10, 10, 200), "P") == pytest.approx((10, 10, 200), abs=30)
        # Other colours need another kind of image, so this page would have to be set.
        with pytest.raises(BookFolderError):
            shown((10, 200, 10), "RGB")


def test_a_picture_that_changed_its_size_meanwhile_is_refused(tmp_path: Path) -> None:
    Image.new("L", (40, 30)).save(tmp_path / "a.png")
    picture = '<svg viewBox="0 0 40 30"><title>n</title><image href="a.png" width="40" height="30"></image></svg>'
    piece = leaves(f"<h1>One</h1>{picture}", tmp_path, "1")
    Image.new("L", (41, 30)).save(tmp_path / "a.png")
    with pytest.raises(BookFolderError, match="changed while the book was set"):
        bound([piece], tmp_path)


def test_a_book_that_was_set_before_is_bound_without_setting(
    written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assembler.publishing.pdf.weasyprint", None)
    again = write_sample(tmp_path, kept=written.kept)
    document, before = again.documents["crew"], written.files.documents["crew"]
    assert document.pdf.read_bytes() == before.pdf.read_bytes()
    assert replace(again, documents={}) == replace(written.files, documents={})


def texts_by_label(pdf: Path) -> dict[str, str]:
    reader = pypdf.PdfReader(pdf)
    return {label: page.extract_text() for label, page in zip(reader.page_labels, reader.pages, strict=True)}


def with_a_step_more(plan: Plan) -> Plan:
    """Another step 3a, a copy of the third without what others refer to."""
    third = next(step for step in plan.steps if step.number == "3")
    more = replace(third, number=StepNumber("3a"), hold=None, gates=(), adhesive=())
    place = plan.steps.index(third) + 1
    return replace(plan, steps=(*plan.steps[:place], more, *plan.steps[place:]))


def test_a_step_more_moves_no_number_and_no_word_of_the_others(
    written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the next issue a page that comes between two gets a letter; the others keep number, words and place."""
    fresh: list[str] = []
    pages = Typesetter.pages
    monkeypatch.setattr(Typesetter, "pages", lambda setter, html: fresh.append(html) or pages(setter, html))
    earlier = Earlier(printed=written.files.printed)
    files = write_sample(tmp_path, kept=written.kept, plan=with_a_step_more(sample.SHORT), earlier=earlier)
    before = texts_by_label(written.files.documents["crew"].pdf)
    after = texts_by_label(files.documents["crew"].pdf)
    lettered = {label for label in after if not label.isdigit()}
    assert lettered == after.keys() - before.keys()
    assert any("Step 3a, page 1" in after[label] for label in lettered)
    steps = [label for label, text in before.items() if re.search(r"Step \w+, page \d / \d", text)]
    assert len(steps) >= len(sample.SHORT.steps)
    assert {label for label in steps if before[label] != after[label]} == set()
    # Set anew: the step itself, and the sections that list all steps.
    assert 1 < len(fresh) <= 12
    listed = files.printed["contents"].pages
    assert "3a" in after[listed[0]]


def test_numbers_of_pages_stay_and_what_comes_between_gets_letters() -> None:
    def kept(*pages: str) -> PrintedPiece:
        return PrintedPiece(digest="", revision="A", pages=pages)

    first = page_numbers([("cover", 1), ("one", 2), ("two", 1)], {})
    assert first == {"cover": ("1",), "one": ("2", "3"), "two": ("4",)}
    before = {name: kept(*pages) for name, pages in first.items()}
    second = page_numbers([("cover", 1), ("one", 3), ("new", 2), ("two", 1)], before)
    assert second == {"cover": ("1",), "one": ("2", "3", "3a"), "new": ("3b", "3c"), "two": ("4",)}
    # Nothing that was printed is used for something else, though it is gone.
    before |= {name: kept(*pages) for name, pages in second.items()}
    third = page_numbers([("cover", 1), ("other", 1), ("one", 2), ("two", 1)], before)
    assert third["other"] == ("1a",)
    fourth = page_numbers([("cover", 1), ("one", 2), ("newer", 1), ("two", 1)], before)
    assert fourth["newer"] == ("3d",)


def test_pairs_that_were_printed_are_known_again() -> None:
    def kept(*pages: str) -> PrintedPiece:
        return PrintedPiece(digest="", revision="A", pages=pages)

    before = {"step-1": kept("5"), "step-2": kept("6"), "step-3": kept("7", "8"), "step-4": kept("9")}
    found = kept_layout(before, ["1", "2", "3", "4"])
    assert (found.pairs, found.long) == ((("1", "2"),), {"3"})


def test_pages_of_a_step_say_nothing_of_the_book_around_them(source: Source) -> None:
    """Neither the date nor the revision of the book stands on pages that stay in a binder when the next issue comes."""
    issue = replace(source, is_draft=False)
    later = replace(issue, plan=replace(issue.plan, revision="Z"), settings=replace(issue.settings, date="2031-11-11"))
    later = replace(later, revisions={step.number: issue.plan.revision for step in issue.plan.steps})
    both = []
    for one in (issue, later):
        pieces = Pieces(compose(one), one.words)
        html = [pieces.html(piece, ("7",), {}) for piece in pieces.listed() if piece.step is not None]
        both.append((pieces.style(), html))
    assert both[0] == both[1]


def test_the_contents_come_last_and_few_pieces_are_set_twice(source: Source) -> None:
    """Only what stands behind a section that has a page more than anybody could know before."""
    calls: list[str] = []

    def count(piece: Piece, html: str) -> int:
        calls.append(piece.name)
        return 2 if piece.name == "safety" or (piece.step is not None and not piece.step.layout.is_short) else 1

    order = Pieces(compose(source), source.words).each(counting(count))
    assert {*calls} - {"empty-step-1"} == {piece.name for piece, _, _ in order} - {"empty-step-1"}
    assert calls[-1] == "contents"
    assert len(calls) <= 1.7 * len(order)
    numbers = [number for _, _, pages in order for number in pages]
    assert numbers == [str(number) for number in range(1, len(numbers) + 1)]


@pytest.mark.parametrize(
    ("text", "css"),
    [("Otter", '"Otter"'), ('a "b" \\', '"a \\22 b\\22  \\5c "'), ("</style>\n", '"\\3c /style\\3e \\a "')],
)
def test_any_text_can_stand_in_a_running_head(text: str, css: str) -> None:
    assert css_string(text) == css


def test_what_was_set_and_measured_before_is_not_set_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    htmls = [
        f'<html lang="en"><title>t</title><body><div class="measured" data-block="{name}">{name}</div></body></html>'
        for name in "abc"
    ]
    kept, setter = Cache(tmp_path / "kept.sqlite"), Typesetter(base=tmp_path)
    expected = set_all(setter, htmls[1:], kept), measure_all(setter, htmls[1:], kept)
    kept.save()
    monkeypatch.setattr("assembler.publishing.pdf.weasyprint", None)
    again = Cache(tmp_path / "kept.sqlite")
    assert (set_all(setter, htmls[1:], again), measure_all(setter, htmls[1:], again)) == expected
    for of_first in (set_all, measure_all):
        with pytest.raises(BookFolderError):
            of_first(setter, htmls[:1], again)


def test_a_book_set_by_two_workers_is_the_same_to_the_byte(written: Written, tmp_path: Path) -> None:
    with workers(2) as executor:
        files = write_sample(tmp_path, executor=executor)
    assert files.documents["crew"].pdf.read_bytes() == written.files.documents["crew"].pdf.read_bytes()


def test_caution_columns_keep_all_messages_in_order_and_are_about_equally_high(source: Source) -> None:
    rows = compose(source).before.cautions
    left, right = in_columns(rows)
    assert (*left, *right) == rows
    words = [sum(len(f"{row.consequence} {' '.join(row.avoid)}") for row in column) for column in (left, right)]
    assert min(words) > 0.6 * max(words)
    assert in_columns(()) == ((), ())
