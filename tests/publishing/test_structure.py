"""PDF/UA-1 (ISO 14289-1) as far as a machine can check it; clause numbers from memory beside each test."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import ArrayObject, ContentStream, DictionaryObject

from tests.publishing.conftest import Written

STANDARD = re.compile(
    "Document|Part|Art|Sect|Div|BlockQuote|Caption|TOC|TOCI|Index|NonStruct|Private|P|H[1-6]?|L|LI|Lbl|LBody|Table|TR|TH|TD"
    "|THead|TBody|TFoot|Span|Quote|Note|Reference|BibEntry|Code|Link|Annot|Ruby|Warichu|Figure|Formula|Form"
)
"""ISO 32000-1, 14.8.4: the standard structure types."""


def kids(element: DictionaryObject) -> list[Any]:
    found = element.get("/K", ArrayObject())
    return [kid.get_object() for kid in (found if isinstance(found, ArrayObject) else [found])]


def walk(element: DictionaryObject, above: tuple[str, ...] = ()) -> Iterator[tuple[DictionaryObject, tuple[str, ...]]]:
    """Elements in reading order, each with the types above it."""
    yield element, above
    for kid in kids(element):
        if isinstance(kid, DictionaryObject) and "/S" in kid:
            yield from walk(kid, (*above, str(element["/S"])[1:]))


@pytest.fixture(scope="module", params=["crew", "engineer", "shop", "cards"], name="document")
def one_of_four(request: pytest.FixtureRequest, all_written: dict[str, Written]) -> Written:
    """Each of the four documents, one after the other."""
    return all_written[request.param]


@pytest.fixture(scope="module")
def elements(document: Written) -> list[tuple[DictionaryObject, tuple[str, ...]]]:
    (root,) = document.reader.root_object["/StructTreeRoot"]["/K"]
    return list(walk(root.get_object()))


def kind(element: DictionaryObject) -> str:
    return str(element["/S"])[1:]


def content(reader: PdfReader) -> Iterator[tuple[int, list[tuple[str, Any]], bytes]]:
    """Each operator that shows something, with the marks it stands in: page, marks from the outside in, operator."""
    for number, page in enumerate(reader.pages):
        stream = page.get_contents()
        assert isinstance(stream, ContentStream)
        marks: list[tuple[str, Any]] = []
        for operands, operator in stream.operations:
            if operator in {b"BDC", b"BMC"}:
                marks.append((str(operands[0]), operands[1] if len(operands) > 1 else {}))
            elif operator == b"EMC":
                marks.pop()
            elif operator in {b"Tj", b"TJ", b"Do", b"f", b"f*", b"S", b"B", b"B*", b"s", b"b", b"sh"}:
                yield number, list(marks), operator
        assert marks == [], f"page {number + 1}: marks are not closed"


def test_the_file_says_that_it_is_pdf_ua(document: Written) -> None:
    """5: the identification schema in the metadata; 7.1: marked, the title shown; 7.2: the language."""
    catalog = document.reader.root_object
    metadata = catalog["/Metadata"].get_object().get_data().decode()
    assert re.search(r"pdfuaid:part[=>\"]+1", metadata)
    assert "<dc:title" in metadata
    assert catalog["/MarkInfo"]["/Marked"]
    assert not catalog["/MarkInfo"].get("/Suspects", False)
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    assert catalog["/Lang"] == "en"


def test_all_that_is_shown_is_content_or_artifact(document: Written) -> None:
    """7.1: nothing is unmarked, no artifact lies in content, no content in an artifact."""
    for number, marks, operator in content(document.reader):
        names = [name for name, _ in marks]
        assert names, f"page {number + 1}: {operator!r} is neither content nor artifact"
        if names[0] == "/Artifact":
            assert set(names) == {"/Artifact"}, f"page {number + 1}: {names}"


def test_marked_content_and_the_tree_name_each_other(document: Written, elements: list[Any]) -> None:
    """7.1: each marked piece has one element, and the parent tree leads to it."""
    reader = document.reader
    pages = {page.indirect_reference.idnum: number for number, page in enumerate(reader.pages)}  # type: ignore[union-attr]
    in_tree = [
        (pages[element.raw_get("/Pg").idnum], kid)
        for element, _ in elements
        for kid in kids(element)
        if isinstance(kid, int)
    ]
    assert len(in_tree) == len(set(in_tree))
    shown = {
        (number, mark["/MCID"]) for number, marks, _ in content(reader) for _, mark in marks if mark and "/MCID" in mark
    }
    assert shown <= set(in_tree)
    numbers = reader.root_object["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    parents = {int(numbers[place]): numbers[place + 1].get_object() for place in range(0, len(numbers), 2)}
    for number, mark in in_tree:
        parent = parents[reader.pages[number]["/StructParents"]][mark].get_object()
        assert mark in kids(parent)


def test_heads_and_feet_are_artifacts(document: Written) -> None:
    """7.8: running heads and feet are pagination artifacts."""
    for number in range(1, len(document.reader.pages)):
        stream = document.reader.pages[number].get_contents()
        assert stream is not None
        assert re.search(rb"/Artifact\s*<<\s*/Type\s*/Pagination", stream.get_data()), number + 1


def test_structure_types_are_standard_and_stand_where_they_may(elements: list[Any]) -> None:
    """7.1 and 7.5, 7.6: standard types; rows in tables, items in lists."""
    home = {
        "TR": {"Table", "THead", "TBody", "TFoot"},
        "TH": {"TR"},
        "TD": {"TR"},
        "THead": {"Table"},
        "TBody": {"Table"},
        "LI": {"L"},
        "LBody": {"LI"},
        "Lbl": {"LI"},
    }
    for element, above in elements:
        assert STANDARD.fullmatch(kind(element))
        if kind(element) in home:
            assert above[-1] in home[kind(element)], (above, kind(element))
        if kind(element) in {"Table", "L"}:
            wanted = (
                {"TR", "THead", "TBody", "TFoot", "Caption"} if kind(element) == "Table" else {"LI", "L", "Caption"}
            )
            assert {kind(kid) for kid in kids(element)} <= wanted


def test_headings_start_at_one_and_skip_no_level(elements: list[Any]) -> None:
    """7.4.2."""
    levels = [int(kind(element)[1]) for element, _ in elements if re.fullmatch(r"H[1-6]", kind(element))]
    assert levels[0] == 1
    assert all(later <= earlier + 1 for earlier, later in zip(levels, levels[1:], strict=False))


def test_each_table_has_header_cells_that_say_which_way_they_head(elements: list[Any]) -> None:
    """7.5."""
    tables = [element for element, _ in elements if kind(element) == "Table"]
    for table in tables:
        heads = [element for element, _ in walk(table) if kind(element) == "TH"]
        assert heads
        assert {str(head["/A"]["/Scope"]) for head in heads} <= {"/Column", "/Row"}


def test_each_figure_has_words_and_a_box(elements: list[Any]) -> None:
    """7.3."""
    figures = [element for element, _ in elements if kind(element) == "Figure"]
    for figure in figures:
        assert len(str(figure["/Alt"]).split()) > 1
        assert len(figure["/A"]["/BBox"]) == 4


def test_each_link_has_one_annotation_and_words(document: Written, elements: list[Any]) -> None:
    """7.18.1 and 7.18.5: annotations lie in Link elements, and have contents; 7.18.3: the order of tabs."""
    owners: dict[int, str] = {}
    for element, above in elements:
        for kid in kids(element):
            if isinstance(kid, DictionaryObject) and kid.get("/Type") == "/OBJR":
                owners[kid.raw_get("/Obj").idnum] = kind(element)
                assert "Link" not in above
    annotations = [item for page in document.reader.pages for item in page.get("/Annots", ())]
    assert {item.idnum for item in annotations} == set(owners)
    assert set(owners.values()) <= {"Link"}
    for item in annotations:
        words = str(item.get_object()["/Contents"])
        assert words[0].isupper(), words
        assert not words.startswith(("part-", "step-", "end-", "close-")), words
        assert int(item.get_object()["/F"]) & 4
    assert all(page["/Tabs"] == "/S" for page in document.reader.pages if "/Annots" in page)


def test_page_labels_are_what_is_printed(all_written: dict[str, Written]) -> None:
    crew = all_written["crew"]
    labels = crew.reader.page_labels
    assert labels == [str(number) for number in range(1, len(labels) + 1)]
    for label, text in zip(labels[1:], crew.texts[1:], strict=True):
        assert label in text.split()


def test_bookmarks_are_shown_and_none_stands_twice(document: Written) -> None:
    assert document.reader.page_mode == "/UseOutlines"

    def titles(items: list[Any]) -> Iterator[str]:
        for item in items:
            if isinstance(item, list):
                yield from titles(item)
            else:
                yield str(item.title)

    told = list(titles(document.reader.outline))
    assert told
    assert len(told) == len(set(told))


def test_no_element_is_empty(elements: list[Any]) -> None:
    bare = [kind(element) for element, _ in elements if not kids(element)]
    assert set(bare) <= {"TD", "TH"}
