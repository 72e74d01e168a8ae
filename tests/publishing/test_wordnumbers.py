"""A number in words has a kind, and the kind says how sure it is."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest

from assembler.engineering.finishing import FINISH_WASTE
from assembler.engineering.provenance import NUMBER_KINDS
from assembler.publishing.wordnumbers import BY_KEY, FIGURES, KINDS, OWN_SOURCE, kind_of_gap
from assembler.words import CATALOGUE, template_text


def _walked(table: dict[str, Any], before: str = "") -> Iterator[tuple[str, str]]:
    for name, value in table.items():
        if isinstance(value, dict):
            yield from _walked(value, f"{before}{name}.")
        elif isinstance(value, str):
            yield before + name, value


CATALOGUED = dict(_walked(tomllib.loads(template_text(CATALOGUE))))
WORDS = {key: text for key, text in CATALOGUED.items() if not key.startswith(OWN_SOURCE)}
GAPS = [(key, gap) for key, text in WORDS.items() for gap in re.findall(r"\{(\w+)(?:[:}])", text)]


def test_every_gap_is_a_name_or_has_a_kind() -> None:
    titles = {kind.title for kind in NUMBER_KINDS}
    for key, gap in GAPS:
        kind = kind_of_gap(key, gap)
        assert kind == "" or kind in titles, (key, gap)


def test_figures_in_words_have_a_kind() -> None:
    assert {key for key, text in WORDS.items() if re.search(r"\d", re.sub(r"\{[^}]*\}", "", text))} == set(FIGURES)
    titles = {kind.title for kind in NUMBER_KINDS}
    assert set(FIGURES.values()) <= titles
    # The figure in the words is that of the calculation.
    assert f"plus {100 * FINISH_WASTE:.0f} %" in WORDS["hardware.estimate"]


def test_nothing_is_listed_that_is_gone() -> None:
    assert set(BY_KEY) <= set(GAPS)
    assert set(KINDS) <= {gap for _, gap in GAPS}


def test_what_is_written_as_a_number_is_not_taken_for_a_name() -> None:
    written = {(key, gap) for key, text in WORDS.items() for gap in re.findall(r"\{(\w+):[^}]+\}", text)}
    assert {(key, gap) for key, gap in written if not kind_of_gap(key, gap)} == set()


def test_a_gap_that_nobody_explained_fails() -> None:
    with pytest.raises(KeyError):
        kind_of_gap("orders.new", "torque_of_something")
