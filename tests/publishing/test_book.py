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


def test_nothing_is_cut_off_and_nothing_complained_of(written: Written) -> None:
    assert written.files.complaints == ()
    assert written.files.misfits == ()


def test_no_page_is_empty_and_every_page_of_a_draft_says_so(written: Written) -> None:
    assert len(written.reader.pages) == written.files.pages
    for text in written.texts:
        assert "DRAFT" in text.replace(" ", ""), text
        assert len(text.split()) > 8


def test_every_page_but_the_cover_names_figure_revision_and_number(written: Written) -> None:
    labels = written.reader.page_labels
    for label, text in zip(labels[1:], written.texts[1:], strict=True):
        assert "Sample hare" in text
        assert "Revision B" in text
        if label != "Notes":
            start, number = label.rsplit(", page ", 1)
            count = sum(other.rsplit(", page ", 1)[0] == start for other in labels)
            assert f"{start}, page {number} / {count}" in text


def test_parts_joints_and_bolts_stand_in_exactly_their_steps(written: Written) -> None:
    pages = step_pages(written)
    assert list(pages) == [step.number for step in sample.SHORT.steps]
    for step in sample.SHORT.steps:
        text = pages[step.number]
        bolts = Counter(re.findall(r"J\d+\.\d+", text.split("Tighten")[-1].split("Checks")[0]))
        assert bolts == Counter(stack.bolt for stack in step.stacks), step.number
        for name in step.moves:
            assert f"{name} {sample.NAMES[name]}" in text
        elsewhere = {name for name, file in sample.NAMES.items() if file in text}
        assert elsewhere == {*step.moves, *LAID.get(step.number, ())}
        for line in step.hardware:
            assert f"Bag {line.joint}" in text


def test_a_gate_is_the_first_thing_on_its_page(written: Written) -> None:
    pages = step_pages(written)
    for step in sample.SHORT.steps:
        for gate in step.gates:
            bar = pages[step.number].replace("\n", " ").split("Too early")[0]
            assert re.search(rf"Not before [^–]*{gate.joint}[^–]* free – step {gate.step} at", bar)
        assert ("WAIT" in pages[step.number]) == bool(step.gates)


def test_steps_begin_on_left_pages(written: Written) -> None:
    chapters = list(written.reader.outline)
    place = next(i for i, item in enumerate(chapters) if not isinstance(item, list) and item.title == "Steps")
    numbers = [written.reader.get_destination_page_number(item) + 1 for item in chapters[place + 1]]
    assert all(number % 2 == 0 for number in numbers)


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
    assert written.reader.metadata.title == "Sample hare – build book, revision B"
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
    assert any("Lato" in name for name in fonts)
    assert any("Routed-Gothic" in name for name in fonts)
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
    assert not (tmp_path / "build-book.pdf").exists()


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


def test_totals_of_the_hardware_page_are_the_sums_over_steps_and_bags(written: Written) -> None:
    flat = [" ".join(text.split()) for text in written.texts]
    (page,) = (text for text in flat if "To buy" in text)
    in_steps = Counter({str(row.item): 0 for row in sample.BUY})
    for line in sample.HARDWARE:
        in_steps[str(line.item)] += line.count
    for row in sample.BUY:
        count = in_steps[str(row.item)]
        assert f"{row.item!s} {count} {row.spares} {count + row.spares} {row.packs} of {row.pack}" in page
    bags = " ".join(text for text in flat if "Hardware, adhesive, finish" in text and "Bag J" in text)
    counted: Counter[str] = Counter()
    for item in in_steps:
        for count in re.findall(rf"(\d+) {re.escape(item)}", bags):
            counted[item] += int(count)
    assert counted == in_steps


def test_each_hold_has_its_clock_on_the_pages_of_its_step(written: Written) -> None:
    pages = step_pages(written)
    for step in sample.SHORT.steps:
        text = " ".join(pages[step.number].split())
        assert ("Free to load at" in text) == bool(step.adhesive)
        for row in step.adhesive:
            clock = text[text.index("Free to load at") :]
            assert re.search(rf"{row.joint} \d+\sml", clock)
        if step.hold:
            for joint in step.hold.joints:
                assert re.search(rf"{joint}[^:]*: free to load", text)


def test_no_page_is_nearly_empty(written: Written) -> None:
    for number, text in enumerate(written.texts, start=1):
        # Heads and feet have about twelve words; a page filled by pictures has few more.
        contents = written.reader.pages[number - 1].get_contents()
        assert contents is not None
        pictures = sum(operator == b"Do" for _, operator in contents.operations)
        # The last page of close-ups holds what is left over: one picture at least.
        is_rest = pictures and re.search(r"Close-ups .*, page (\d+) / \1\b", text)
        assert len(text.split()) + 20 * pictures > 40 or is_rest or "Room for notes" in text, number


def test_the_contents_say_how_many_pages_each_piece_has(written: Written) -> None:
    runs = Counter(label.rsplit(", page ", 1)[0] for label in written.reader.page_labels)
    (text,) = (
        text for label, text in zip(written.reader.page_labels, written.texts, strict=True) if "Contents" in label
    )
    for step in sample.SHORT.steps:
        assert re.search(
            rf"{re.escape(str(step.title))}[ .]+{runs[f'Step {step.number}']} pages", " ".join(text.split())
        )


def test_every_page_is_in_the_list_of_pages_in_force_or_is_for_notes(written: Written) -> None:
    (text,) = (
        text for label, text in zip(written.reader.page_labels, written.texts, strict=True) if "In force" in label
    )
    listed = " ".join(text[text.index("Pages in force") :].split())
    runs = Counter(label.rsplit(", page ", 1)[0] for label in written.reader.page_labels)
    order = list(runs)
    told = {}
    for kind, first, last, pages in re.findall(r"(Step|Joint)s (\w+)–(\w+) (1(?:–\d+)?) B", listed):
        among = [name for name in order if name.startswith(f"{kind} ")]
        together = among[among.index(f"{kind} {first}") : among.index(f"{kind} {last}") + 1]
        assert len(together) > 1
        told |= dict.fromkeys(together, pages)
    for start, count in runs.items():
        span = f"1–{count}" if count > 1 or start == "In force" else "1"
        if start in told:
            assert told[start] == span
        else:
            assert (f"{start} {span} B" in listed) == (start != "Notes"), (start, count)
