"""Long lists made short enough to read: ranges of ids, and ways of access that differ in a number only."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from assembler.figure.ids import natural_key

RUN = 3
"""From this many ids in a row a range is printed."""

Thing = TypeVar("Thing")

_NUMBERED = re.compile(r"(.*?)(\d+)$")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")


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


def by_tens(things: Iterable[Thing], id_of: Callable[[Thing], str]) -> dict[int, tuple[Thing, ...]]:
    """Things in runs of numbers: 1 to 10, 11 to 20, ..., so that one more or less leaves the other runs as they are.

    Parameters
    ----------
    things
        In their order.
    id_of
        Id of a thing: the first number in it counts, so '12a' goes with 12; without one it goes with the first.

    Returns
    -------
    dict
        Runs by their number, in the order in which they come up.
    """
    runs: dict[int, list[Thing]] = {}
    for thing in things:
        number = re.search(r"\d+", id_of(thing))
        runs.setdefault((max(int(number[0]), 1) - 1) // 10 if number else 0, []).append(thing)
    return {number: tuple(run) for number, run in runs.items()}
