"""A shelf for what was made before: rooms ask it by key, and it may lose anything at any time."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, Protocol


class Shelf(Protocol):
    """Keeps what was made, by key; may lose anything at any time."""

    def files(self, key: str, into: Path) -> Any | None:
        """Copy the files of an entry into a folder and give its value; None if it is not there."""

    def keep_files(self, key: str, value: Any, files: Iterable[Path]) -> None:
        """Keep a value with copies of files."""

    def value(self, key: str) -> Any | None:
        """A value that was kept without files; None if it is not there."""

    def keep_value(self, key: str, value: Any) -> None:
        """Keep a value of JSON."""

    def renew_value(self, key: str, value: Any) -> None:
        """Keep a value of JSON in place of the one that is there."""


class NoShelf:
    """Keeps nothing."""

    def files(self, key: str, into: Path) -> Any | None:
        """Nothing."""

    def keep_files(self, key: str, value: Any, files: Iterable[Path]) -> None:
        """Forget it."""

    def value(self, key: str) -> Any | None:
        """Nothing."""

    def keep_value(self, key: str, value: Any) -> None:
        """Forget it."""

    def renew_value(self, key: str, value: Any) -> None:
        """Forget it."""
