"""A sequence whose items are made when they are first asked for: a run that remembers much asks for few."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar, overload

Made = TypeVar("Made")


class Lazily(Sequence[Made]):
    """Items by number, each made once.

    Parameters
    ----------
    count
        How many there are.
    make
        Makes the item of a number.
    """

    def __init__(self, count: int, make: Callable[[int], Made]) -> None:
        self._count = count
        self._make = make
        self._made: dict[int, Made] = {}

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, place: int) -> Made: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Made]: ...
    def __getitem__(self, place: int | slice) -> Made | Sequence[Made]:
        if isinstance(place, slice):
            return [self[number] for number in range(self._count)[place]]
        number = range(self._count)[place]
        if number not in self._made:
            self._made[number] = self._make(number)
        return self._made[number]
