"""Long lists made short enough to read: ranges of ids, and ways of access that differ in a number only."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from assembler.figure.ids import natural_key

RUN = 3
"""From this many ids in a row a range is printed."""

_NUMBERED = re.compile(r"(.*?)(\d+)$")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_ID = re.compile(r"\b[A-Z]+\d+\b")


def ranges(names: Iterable[str]) -> str:
    """Ids in their order, three or more in a row as a range: 'J01–J05, J07, J09'.

    Parameters
    ----------
    names
        Ids; those that do not end in digits stand alone. None gives an empty text.
    """
    runs: list[list[str]] = []
    for name in sorted(set(names), key=natural_key):
        if runs and _follows(runs[-1][-1], name):
            runs[-1].append(name)
        else:
            runs.append([name])
    pieces = [f"{run[0]}–{run[-1]}" if len(run) >= RUN else ", ".join(run) for run in runs]
    return ", ".join(pieces)


def _follows(first: str, second: str) -> bool:
    one, two = _NUMBERED.match(first), _NUMBERED.match(second)
    return bool(one and two and one[1] == two[1] and int(two[2]) == int(one[2]) + 1)


def pattern(text: str) -> str:
    """A text with its numbers left out: what two ways of access have in common."""
    return _NUMBER.sub("#", text)


def ids_in(text: str) -> tuple[str, ...]:
    """Ids that a text names: ways of access that lead through different parts are no one way."""
    return tuple(_ID.findall(text))


def merged(texts: Sequence[str]) -> str:
    """Texts of one pattern as one text, with the smallest and largest of each number ('337 to 393 mm inside').

    Parameters
    ----------
    texts
        At least one; all of the same `pattern`.
    """
    columns = list(zip(*(_NUMBER.findall(text) for text in texts), strict=True))
    spans = iter(
        min(column, key=float) if len(set(column)) == 1 else f"{min(column, key=float)}–{max(column, key=float)}"
        for column in columns
    )
    return _NUMBER.sub(lambda _: next(spans), texts[0])
