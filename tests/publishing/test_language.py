"""The language of the crew's pages: orders are imperative and short, notes do not instruct, the tool is not named."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator
from typing import Any

import pytest

from assembler.publishing.pages import Book
from assembler.words import built_in

MOST_WORDS = 20
"""Of a sentence that instructs (ASD-STE100, at second hand)."""
VERBS = frozenset(
    [
        *("bed", "bolt", "bond", "check", "enter", "fix", "hold", "keep", "lay", "lift", "lower", "mix", "pad"),
        *("press", "raise", "reach", "secure", "see", "set", "slide", "take", "tighten", "turn"),
    ]
)
"""First words of orders."""
SUBJECTS = ("one person", "then tighten")
"""How an order begins that names who does it, or after what."""
NO_ORDERS = ("prevailing", "legs", "dry_only")
"""They say what is so, and then what to do about it."""
PARTS_OF_ORDERS = frozenset(
    f"orders.{name}" for name in ("dose", "the_parts", "the_piece", "the_unit", "its_place", "prop_reason")
)
"""Strings that stand inside an order, or are looked at with what fills them."""
TOOL = re.compile(r"\w+\.(toml|json|stl|obj|ply|3mf|glb)\b", re.IGNORECASE)


def _sentences(text: str) -> Iterator[str]:
    for line in text.splitlines():
        yield from (part.strip() for part in re.split(r"(?<=[.;:])\s", line) if part.strip())


ORDERS = [(key, text) for key, text in built_in().under("orders").items() if f"orders.{key}" not in PARTS_OF_ORDERS]


@pytest.mark.parametrize(("key", "text"), ORDERS)
def test_an_order_begins_with_its_verb(key: str, text: str) -> None:
    for sentence in re.split(r"(?<=\.)\s", text):
        begins = sentence.lower()
        if key in NO_ORDERS or begins.startswith(SUBJECTS):
            continue
        first = re.sub(r"\W", "", begins.split()[0])
        assert first in VERBS, sentence


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            if field.name not in ("file", "overlay_svg", "body_svg", "logo", "anchor", "piece"):
                yield from _strings(getattr(value, field.name))
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _strings(item)


def test_orders_with_their_values_have_at_most_twenty_words(book: Book) -> None:
    said = [(step.number, part) for step in book.steps for line in step.orders for part in _sentences(line)]
    assert said
    assert [(number, part) for number, part in said if len(part.split()) > MOST_WORDS] == []


def test_no_file_and_no_word_of_the_tool_stands_on_a_crew_page(book: Book) -> None:
    assert [text for text in _strings(book) if TOOL.search(text)] == []


@pytest.mark.parametrize(
    "table", ["why", "note", "prop", "title", "orders", "step", "caution", "closure", "check", "ground", "hold", "way"]
)
def test_no_reason_or_note_names_a_file(table: str) -> None:
    assert {key: text for key, text in built_in().under(table).items() if TOOL.search(text)} == {}
