"""Pieces that are set one by one and bound: what did not change is not set again, and its pages stay what they are."""

from __future__ import annotations

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
from assembler.parallel import workers
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.book import compose
from assembler.publishing.cautions import in_columns
from assembler.publishing.pdf import SetPages, Typesetter, measure_all, set_all
from assembler.publishing.pieces import Piece, Pieces, Side
from assembler.publishing.source import Source
from assembler.publishing.templating import css_string
from tests.publishing import sample
from tests.publishing.conftest import Written, write_sample


def leaves(html: str, folder: Path, label: str) -> Leaves:
    """A piece as it is bound."""
    result = Typesetter(base=folder, is_piece=True).pages(f"<html lang='en'><head><title>t</title></head>{html}</html>")
    return Leaves(content=result.content, bookmarks=result.bookmarks, label=label)


def set_pages(count: int) -> SetPages:
    """So many pages without anything on them."""
    return SetPages(content=b"", pages=count, bookmarks=(), complaints=(), misfits=())


def counting(count: Callable[[Piece, str], int]) -> Callable[[Sequence[tuple[Piece, str]]], list[SetPages]]:
    """Pieces that are only counted."""
    return lambda some: [set_pages(count(piece, html)) for piece, html in some]


ONE = '<h1 id="one">One</h1><p><a href="#two">to two</a></p>'
TWO = '<h2 id="two">Two</h2><p>text</p><h1 style="break-before: page">Three</h1><p><a href="#one">to one</a></p>'


def pieces_of(folder: Path) -> list[Leaves]:
    return [leaves(ONE, folder, "A · "), leaves(TWO, folder, "B · ")]


def test_links_bookmarks_and_labels_go_across_pieces(tmp_path: Path) -> None:
    (tmp_path / "b.pdf").write_bytes(bound(pieces_of(tmp_path), tmp_path))
    reader = pypdf.PdfReader(tmp_path / "b.pdf")
    assert reader.page_labels == ["A · 1", "B · 1", "B · 2"]
    titles = [item if isinstance(item, list) else item.title for item in reader.outline]
    assert titles[0] == "One"
    assert [item.title for item in titles[1]] == ["Two"]
    assert titles[2] == "Three"
    (there,), (back,) = (reader.pages[place]["/Annots"] for place in (0, 2))
    goal = reader.named_destinations
    assert reader.get_destination_page_number(goal[there.get_object()["/Dest"]]) == 1
    assert reader.get_destination_page_number(goal[back.get_object()["/Dest"]]) == 0


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
    alone = leaves(f"<h1>One</h1>{picture}", tmp_path, "A · ")
    size = (tmp_path / "noise.png").stat().st_size
    twice = len(bound([alone, replace(alone, label="B · ")], tmp_path))
    assert size < twice < 1.4 * size


def test_other_pixels_of_the_same_size_are_put_in_without_setting_the_page_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = '<svg viewBox="0 0 40 30"><title>n</title><image href="a.png" width="40" height="30"></image></svg>'
    html = f"<html lang='en'><head><title>t</title></head><h1>One</h1>{picture}</html>"
    kept = Cache()

    def shown(colour: tuple[int, int, int], mode: str) -> tuple[int, ...]:
        Image.new("RGB", (40, 30), colour).convert(mode).save(tmp_path / "a.png")
        (result,) = set_all(Typesetter(base=tmp_path, is_piece=True), [html], kept)
        (tmp_path / "b.pdf").write_bytes(bound([Leaves(content=result.content, bookmarks=(), label="A")], tmp_path))
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
    piece = leaves(f"<h1>One</h1>{picture}", tmp_path, "A")
    Image.new("L", (41, 30)).save(tmp_path / "a.png")
    with pytest.raises(BookFolderError, match="changed while the book was set"):
        bound([piece], tmp_path)


def test_a_book_that_was_set_before_is_bound_without_setting(
    written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assembler.publishing.pdf.weasyprint", None)
    again = write_sample(tmp_path, kept=written.kept)
    assert again.pdf.read_bytes() == written.files.pdf.read_bytes()
    assert again == replace(written.files, pdf=again.pdf)


def texts_by_label(pdf: Path) -> dict[str, str]:
    reader = pypdf.PdfReader(pdf)
    return {label: page.extract_text() for label, page in zip(reader.page_labels, reader.pages, strict=True)}


def with_a_step_more(plan: Plan) -> Plan:
    """Another step 3a, a copy of the third without what others refer to."""
    third = next(step for step in plan.steps if step.number == "3")
    more = replace(third, number=StepNumber("3a"), hold=None, gates=(), adhesive=())
    place = plan.steps.index(third) + 1
    return replace(plan, steps=(*plan.steps[:place], more, *plan.steps[place:]))


def test_a_step_more_leaves_the_pages_of_the_others_as_they_are(
    written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fresh: list[str] = []
    pages = Typesetter.pages
    monkeypatch.setattr(Typesetter, "pages", lambda setter, html: fresh.append(html) or pages(setter, html))
    files = write_sample(tmp_path, kept=written.kept, plan=with_a_step_more(sample.SHORT))
    before, after = texts_by_label(written.files.pdf), texts_by_label(files.pdf)
    assert {"Step 3a, page 1", "Step 3a, page 2"} <= set(after)
    steps = [label for label in before if label.startswith("Step ")]
    assert len(steps) >= 2 * len(sample.SHORT.steps)
    assert {label for label in steps if before[label] != after[label]} == set()
    # Set anew: the step itself, and the sections that list all steps.
    assert 1 < len(fresh) <= 9


def test_pages_of_a_step_say_nothing_of_the_book_around_them(source: Source) -> None:
    """Neither the date nor the revision of the book stands on pages that stay in a binder when the next issue comes."""
    issue = replace(source, is_draft=False)
    later = replace(issue, plan=replace(issue.plan, revision="Z"), settings=replace(issue.settings, date="2031-11-11"))
    later = replace(later, revisions={step.number: issue.plan.revision for step in issue.plan.steps})
    both = []
    for one in (issue, later):
        pieces = Pieces(compose(one), one.words)
        html = [pieces.html(piece, Side.LEFT) for piece in pieces.listed() if piece.step is not None]
        both.append((pieces.style(), html))
    assert both[0] == both[1]


@pytest.mark.parametrize(
    ("text", "css"),
    [("Otter", '"Otter"'), ('a "b" \\', '"a \\22 b\\22  \\5c "'), ("</style>\n", '"\\3c /style\\3e \\a "')],
)
def test_any_text_can_stand_in_a_running_head(text: str, css: str) -> None:
    assert css_string(text) == css


def test_a_page_more_in_front_turns_nothing_over_that_begins_on_a_right_page(source: Source) -> None:
    """Lists, bags and calculations read the same, page side included, when the change sheet takes a page more."""
    book = compose(source)

    def placed(front: int) -> dict[str, Side]:
        sides: dict[str, Side] = {}

        def count(piece: Piece, html: str) -> int:
            sides[piece.name] = Side.RIGHT if "break-before: right" in html else Side.LEFT
            return front if piece.name == "contents" else 1

        Pieces(book, source.words).each(counting(count))
        return {name: side for name, side in sides.items() if "notes" not in name}

    one, two = placed(1), placed(2)
    assert {name for name in one if one[name] != two[name]} <= {"cover", "contents"}
    assert {"parts-0", "bags-0", "sheet-J01"} <= one.keys()


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
    assert files.pdf.read_bytes() == written.files.pdf.read_bytes()


def test_caution_columns_keep_all_messages_in_order_and_are_about_equally_high(source: Source) -> None:
    rows = compose(source).before.cautions
    left, right = in_columns(rows)
    assert (*left, *right) == rows
    words = [sum(len(f"{row.consequence} {' '.join(row.avoid)}") for row in column) for column in (left, right)]
    assert min(words) > 0.6 * max(words)
    assert in_columns(()) == ((), ())


def test_pieces_that_tell_pages_come_last_and_few_are_set_twice(source: Source) -> None:
    """Only what a number of pages that nobody could know before turned over, and what tells it."""
    book = compose(source)
    calls: list[str] = []

    def count(piece: Piece, html: str) -> int:
        calls.append(piece.name)
        return {"before": 3, "contents": 2}.get(piece.name, 1)

    order = Pieces(book, source.words).each(counting(count))
    # Sheets for notes read alike: one of them is set for all.
    assert {name for name in calls if "notes" not in name} == {p.name for p, _ in order if "notes" not in p.name}
    assert set(calls[-2:]) == {"contents", "force"}
    assert len(calls) <= 1.3 * len(order)


def test_each_piece_begins_on_the_side_that_those_before_it_leave(source: Source) -> None:
    last: dict[str, str] = {}

    def count(piece: Piece, html: str) -> int:
        last[html] = piece.name
        return 3 if piece.name == "findings" else 1

    side = Side.RIGHT
    pieces = Pieces(compose(source), source.words)
    told = pieces.each(counting(count))
    for piece, result in told:
        if piece.name not in ("contents", "force") and "notes" not in piece.name:
            assert last[pieces.html(piece, side)] == piece.name
        side = side.other if result.pages % 2 else side
