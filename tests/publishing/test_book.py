"""The PDF read back: complete, tagged, linked, nothing cut off, the same bytes twice."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf.generic import ArrayObject, DictionaryObject

from assembler.errors import BookFolderError, TemplateError
from assembler.publishing import quantities
from assembler.publishing.book import compose
from assembler.publishing.pdf import write_pdf
from assembler.publishing.source import Source
from tests.publishing import sample
from tests.publishing.conftest import Written, book_html, source_of, write_sample
from tests.publishing.test_pages import LAID


def step_pages(written: Written) -> dict[str, str]:
    """Text of all pages of each step: from the page its bookmark leads to, to that of the next."""
    reader = written.reader
    starts: list[tuple[str, int]] = []
    chapters = list(reader.outline)
    place = next(i for i, item in enumerate(chapters) if not isinstance(item, list) and item.title == "Steps")
    for item in chapters[place + 1]:
        starts.append((item.title.split()[0], reader.get_destination_page_number(item)))
    end = reader.get_destination_page_number(chapters[place + 2])
    bounds = [*(page for _, page in starts), end]
    return {number: "\n".join(written.texts[bounds[i] : bounds[i + 1]]) for i, (number, _) in enumerate(starts)}


def elements(node: object) -> Iterator[DictionaryObject]:
    """All elements of the structure tree."""
    found = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(found, ArrayObject):
        for kid in found:
            yield from elements(kid)
    elif isinstance(found, DictionaryObject) and "/S" in found:
        yield found
        yield from elements(found.get("/K"))


def test_nothing_is_cut_off_and_nothing_complained_of(all_written: dict[str, Written]) -> None:
    for document in all_written.values():
        assert document.files.complaints == ()
        assert document.files.misfits == ()


def test_every_page_of_a_draft_says_so_and_has_something_to_say(all_written: dict[str, Written]) -> None:
    for name, document in all_written.items():
        assert len(document.reader.pages) == document.files.documents[name].pages
        for text in document.texts:
            # Labels are cut out and stick on parts: a draft is told by its revision there.
            assert name == "shop" or "DRAFT" in text.replace(" ", ""), text
            assert len(text.split()) > 8


def test_every_page_but_the_cover_names_figure_revision_and_number(written: Written) -> None:
    for label, text in zip(written.reader.page_labels[1:], written.texts[1:], strict=True):
        assert "Sample hare" in text
        assert "Revision B" in text
        assert re.search(r"page \d+ / \d+", text)
        assert re.search(rf"\b{label}\b", text)


def test_parts_joints_and_bolts_stand_in_exactly_their_steps(written: Written) -> None:
    pages = step_pages(written)
    assert list(pages) == [step.number for step in sample.SHORT.steps]
    for step in sample.SHORT.steps:
        text = pages[step.number]
        bolts = Counter(re.findall(r"J\d+\.\d+", text.split("tick when tight")[-1].split("Done by")[0]))
        assert set(bolts) >= {stack.bolt for stack in step.stacks}
        assert {name.partition(".")[0] for name in bolts} <= {*step.joints}
        flat = " ".join(text.split())
        for name in (*step.moves, *LAID.get(step.number, ())):
            assert f"{name} {sample.NAMES[name].removesuffix('.stl')}, " in flat
        for line in step.hardware:
            assert f"{line.joint} bag" in flat


def test_a_gate_is_the_first_thing_on_its_page(written: Written) -> None:
    pages = step_pages(written)
    for step in sample.SHORT.steps:
        text = " ".join(pages[step.number].split())
        for gate in step.gates:
            bar = text[: text.index("Bench")]
            assert re.search(rf"Not before [^–]*{gate.joint}[^–]* free – step {gate.step}", bar)
        assert ("WAIT" in text.split("Bench")[0]) == bool(step.gates)


def test_each_hold_has_its_clock_on_the_pages_of_its_step(written: Written) -> None:
    pages = step_pages(written)
    for step in sample.SHORT.steps:
        text = " ".join(pages[step.number].split())
        assert ("Free at" in text) == bool(step.adhesive)
        for row in step.adhesive:
            clock = text[text.index("Free at") :]
            assert f"{quantities.volume(row.volume_ml)} ".replace("\u00a0", " ") in clock
        if step.hold:
            for joint in step.hold.joints:
                assert re.search(rf"{joint}[^.]* free [\d.]+", text)


def test_the_contents_give_the_pages_of_every_piece_in_force(written: Written) -> None:
    (text,) = (text for text in written.texts if "All pages in force" in text)
    listed = " ".join(text.split())
    printed = {name: piece.pages for name, piece in written.files.printed.items() if piece.pages}
    assert sorted(int(page) for pages in printed.values() for page in pages) == [
        *range(1, len(written.reader.pages) + 1)
    ]
    for step in sample.SHORT.steps:
        pages = printed[f"step-{step.number}"]
        told = pages[0] if len(pages) == 1 else f"{pages[0]}–{pages[1]}"
        assert f"{step.number} {step.title} B {told}" in listed


def test_one_document_alone_can_be_written(tmp_path: Path) -> None:
    files = write_sample(tmp_path, only=("cards",))
    assert [one.pdf.name for one in files.documents.values()] == ["pocket-cards.pdf"]
    assert not (tmp_path / "crew-book.pdf").exists()


def test_every_link_lands_on_a_page(written: Written) -> None:
    names = set(written.reader.named_destinations)
    targets = []
    for page in written.reader.pages:
        for annotation in page.get("/Annots", []):
            found = annotation.get_object()
            assert found["/Subtype"] == "/Link"
            targets.append(found["/A"]["/D"] if "/A" in found else found["/Dest"])
    assert targets
    assert {str(target) for target in targets} <= names


def test_the_pdf_is_tagged_titled_and_says_its_language(written: Written) -> None:
    catalog = written.reader.root_object
    assert catalog["/Lang"] == "en"
    assert catalog["/MarkInfo"]["/Marked"]
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    assert written.reader.metadata is not None
    assert written.reader.metadata.title == "Sample hare – crew book, revision B"
    kinds = Counter(str(element["/S"]) for element in elements(catalog["/StructTreeRoot"]["/K"]))
    assert kinds["/H1"] >= 9
    assert kinds["/Table"] > len(sample.SHORT.steps)
    figures = [element for element in elements(catalog["/StructTreeRoot"]["/K"]) if element["/S"] == "/Figure"]
    assert len(figures) > 2 * len(sample.SHORT.steps)
    assert all(element.get("/Alt") for element in figures)


def test_fonts_are_embedded(written: Written) -> None:
    fonts = {}
    for page in written.reader.pages:
        for font in page["/Resources"].get("/Font", {}).values():
            found = font.get_object()
            fonts[str(found["/BaseFont"])] = found["/DescendantFonts"][0].get_object()["/FontDescriptor"]
    # One family, whose 1, I, l and 0, O are told apart; another only for signs that it lacks.
    assert {name.lstrip("/").partition("+")[2] or name.lstrip("/") for name in fonts} <= {
        "Clear-Sans",
        "Clear-Sans-Bold",
        "DejaVu-Sans",
        "DejaVu-Sans-Bold",
    }
    assert any("Clear-Sans-Bold" in name for name in fonts)
    for descriptor in fonts.values():
        assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(descriptor.get_object())


PAGE = """<html lang="en"><head><title>t</title></head><body><h1>One</h1>
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 240"><title>a part</title>
<image href="part-P01.png" width="300" height="240"></image></svg></body></html>"""


def test_the_same_input_gives_the_same_bytes_in_any_folder(tmp_path: Path) -> None:
    files = []
    for name in ("a", "b"):
        folder = tmp_path / name
        folder.mkdir()
        sample.drawn(folder, "part-P01.png", 300, 240, "")
        write_pdf(PAGE, folder / "t.pdf", base=folder)
        files.append((folder / "t.pdf").read_bytes())
    assert files[0] == files[1]
    assert str(tmp_path).encode() not in files[0]


def test_the_pages_are_the_same_in_any_folder(tmp_path: Path, source: Source) -> None:
    again = source_of(tmp_path)
    assert book_html(compose(again), again.words) == book_html(compose(source), source.words)


def test_an_issue_is_no_draft(source: Source) -> None:
    assert "DRAFT" not in book_html(compose(replace(source, is_draft=False)), source.words)


def test_a_missing_picture_is_refused_and_leaves_no_book(tmp_path: Path) -> None:
    with pytest.raises(BookFolderError, match="part-P01.png"):
        write_pdf(PAGE, tmp_path / "t.pdf", base=tmp_path)
    assert not (tmp_path / "t.pdf").exists()


def test_nothing_is_fetched_from_elsewhere(tmp_path: Path) -> None:
    (tmp_path / "secret.png").write_bytes(b"")
    for address in ("http://example.invalid/a.png", (tmp_path / "secret.png").as_uri()):
        with pytest.raises(BookFolderError, match="is no picture of the book"):
            write_pdf(
                f"<html lang='en'><title>t</title><img src='{address}' alt='x'></html>",
                tmp_path / "t.pdf",
                base=tmp_path,
            )


def test_a_broken_override_leaves_no_book(tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "gate.html").write_text("{{ step.gaits }}")
    with pytest.raises(TemplateError, match=r"gate.html: line 1"):
        write_sample(tmp_path, overrides=tmp_path / "own")
    assert not (tmp_path / "crew-book.pdf").exists()


LOST = "<div style='height: 40mm; break-inside: avoid'><p style='font-size: 80mm; line-height: 1'>A<br>B<br>C</p></div>"
NARROW = "<table style='table-layout: fixed; width: 40mm'><tr><td style='width: 10mm'>unbreakable_word<td>b</table>"


@pytest.mark.parametrize(
    ("body", "found"),
    [
        ("<p>short, <b>bold</b>er</p><ol><li>one</li></ol>", ()),
        (LOST, ("missing: C",)),
        (f"<p style='white-space: nowrap; width: 10mm'>{'word ' * 60}</p>", ("page 1: word",)),
        (NARROW, ("page 1: unbreakable_word",)),
    ],
)
def test_text_that_runs_out_or_is_lost_is_reported(tmp_path: Path, body: str, found: tuple[str, ...]) -> None:
    style = "@page { size: A5; margin: 10mm } * { margin: 0 }"
    html = f"<html lang='en'><head><title>t</title><style>{style}</style></head><body>{body}</body></html>"
    result = write_pdf(html, tmp_path / "t.pdf", base=tmp_path, is_tagged=False)
    assert len(result.misfits) == len(found)
    for line, start in zip(result.misfits, found, strict=True):
        assert line.startswith(start)
