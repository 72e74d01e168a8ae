"""What a stage says of itself while it works: lines, some of which know how much of the stage is done."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str], None]


class Counted(str):
    """A line about one of many alike things.

    Parameters
    ----------
    text
        The line.
    done, total
        Things done with this one, and things there are.
    stage
        What is done to all of them, in a word or two.
    """

    __slots__ = ("done", "stage", "total")

    done: int
    total: int
    stage: str

    def __new__(cls, text: str, *, stage: str, done: int, total: int) -> Counted:
        """The line with its count."""
        line = super().__new__(cls, text)
        line.done, line.total, line.stage = done, total, stage
        return line
