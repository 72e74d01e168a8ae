"""Whether all text of a document is on its pages, inside its boxes: a typesetter that runs out of room says nothing.

Goes in: the HTML, and every run of text as it was set. Comes out: lines that say what is cut off or missing.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html.parser import HTMLParser

SLACK_MM = 0.4
"""Past an edge by less: the side bearing of a letter, not a letter."""

_BREAKS = re.compile(r"[\s\-–—/\u200b]+")
_SILENT = {"head", "style", "svg"}
_EMPTY = {"br", "col", "hr", "img", "input", "link", "meta", "wbr"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetText:
    """A run of text as it was set.

    Parameters
    ----------
    page
        Number of its page, from 1.
    text
        As printed.
    past_mm
        How far it runs past the edge of its page or table cell; 0 or less when it is inside.
    """

    page: int
    text: str
    past_mm: float


def misfits(html: str, runs: Sequence[SetText]) -> tuple[str, ...]:
    """What is cut off, in the order of the pages, then what is missing; nothing for a document that fits.

    Parameters
    ----------
    html
        The document. Text of pictures and of elements of class 'running' (set in the margins) is not looked for.
    runs
        All text that was set outside the margins.
    """
    cut = [f"page {run.page}: {run.text.strip()}" for run in runs if run.past_mm > SLACK_MM and run.text.strip()]
    lost = _missing_words(html, runs)
    return (*cut, *([f"missing: {' '.join(lost)}"] if lost else []))


def _missing_words(html: str, runs: Iterable[SetText]) -> list[str]:
    """Words of the document that were set less often than they are written, in the order of the document."""
    reader = _Words()
    reader.feed(html)
    short = Counter(reader.words)
    short.subtract(Counter(word for run in runs for word in _words(run.text)))
    lost = []
    for word in reversed(reader.words):
        if short[word] > 0:
            short[word] -= 1
            lost.append(word)
    return lost[::-1]


def _words(text: str) -> list[str]:
    """Pieces that a line break cannot fall into."""
    return [word for word in _BREAKS.split(text) if word]


class _Words(HTMLParser):
    """Words of the body as they are set: markup inside a word does not split it where no space does."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self._skipped: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _EMPTY:
            return
        if self._skipped or tag in _SILENT or ("class", "running") in attrs:
            self._skipped.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if self._skipped and tag in self._skipped:
            while self._skipped.pop() != tag:
                continue

    def handle_data(self, data: str) -> None:
        if not self._skipped:
            self.words.extend(_words(data))
