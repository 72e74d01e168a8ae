"""Answers to costly questions about solids, kept from run to run: one file, by what was asked.

A question is plain values that hold everything the answer depends on; the answer is a JSON value. Deleting the file
costs time and nothing else; of two runs at once the last one's answers stay.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from assembler.errors import InputError
from assembler.filegate import read_file
from assembler.projectfiles.writing import left_out_if_read_only, write_whole

MOST = 60_000
"""Answers kept; the longest unused go first."""
_MOST_BYTES = 200_000_000


class Answers:
    """Answers by question.

    Parameters
    ----------
    path
        The file; None: this run only. A damaged file counts as empty.
    common
        What every answer depends on, such as the mark of the code that gives them.
    """

    def __init__(self, path: Path | None = None, *, common: str = "") -> None:
        self._path = path
        self._common = common
        self._known: dict[str, Any] = {} if path is None else _read(path)
        self._used: dict[str, Any] = {}
        self._is_new = False

    def key(self, *question: object) -> str:
        """Key of a question."""
        text = json.dumps([self._common, *question], sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()[:40]

    def has(self, key: str) -> bool:
        """Whether a question was answered before."""
        return key in self._used or key in self._known

    def get(self, key: str) -> Any:
        """The answer to a question that was answered before.

        Raises
        ------
        KeyError
            If it was not.
        """
        if key not in self._used:
            self._used[key] = self._known[key]
        return self._used[key]

    def put(self, key: str, answer: Any) -> None:
        """Keep an answer."""
        self._used[key] = answer
        self._is_new = True

    def save(self) -> None:
        """Write the file, answers of this run last; nothing where nothing was learned.

        Raises
        ------
        OSError
            If it cannot be written, and the project is not one that may only be read.
        """
        if self._path is None or not self._is_new:
            return
        rest = {key: answer for key, answer in self._known.items() if key not in self._used}
        kept = dict([*rest.items(), *self._used.items()][-MOST:])
        with left_out_if_read_only():
            write_whole(self._path, json.dumps(kept, separators=(",", ":")))


def _read(path: Path) -> dict[str, Any]:
    try:
        data = read_file(path, root=path.parent, most_bytes=_MOST_BYTES)
        known = json.loads(data)
    except (OSError, InputError, ValueError, RecursionError):
        return {}
    return known if isinstance(known, dict) else {}
