"""Arrays that took long to make, kept from run to run: an entry of the cache folder for each question.

A question is plain values that hold everything the arrays depend on. Deleting the cache costs time and nothing else;
a damaged entry counts as not there.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from assembler.projectfiles.cachefolder import CacheFolder

_FILE = "arrays.npz"
_VALUE = "value"


class Kept(NamedTuple):
    """Arrays by name, and a JSON value that goes with them."""

    arrays: Mapping[str, NDArray[Any]]
    value: Any


class KeptArrays:
    """Arrays by question.

    Parameters
    ----------
    cache
        Where they lie; None: nothing is kept.
    common
        What all arrays depend on, such as the mark of the code that makes them.
    """

    def __init__(self, cache: CacheFolder | None = None, *, common: str = "") -> None:
        self._cache = cache
        self._common = common
        self._new: dict[str, Kept] = {}

    def key(self, *question: object) -> str:
        """Key of a question."""
        text = json.dumps([self._common, *question], sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()

    def get(self, key: str) -> Kept | None:
        """What was kept; None if it is not there."""
        if key in self._new:
            return self._new[key]
        data = None if self._cache is None else self._cache.read(key, _FILE)
        if data is None:
            return None
        try:
            with np.load(io.BytesIO(data), allow_pickle=False) as stored:
                arrays = {name: stored[name] for name in stored.files if name != _VALUE}
                return Kept(arrays=arrays, value=json.loads(stored[_VALUE].tobytes()))
        except (ValueError, KeyError, EOFError, zipfile.BadZipFile):
            # Whole by its digest and yet no such file: written by another version, so not there for this one.
            return None

    def put(self, key: str, arrays: Mapping[str, NDArray[Any]], value: Any = None) -> None:
        """Keep arrays, and a JSON value with them; written by `save`, so that a run that is refused writes nothing.

        Raises
        ------
        ValueError
            If an array has the name that the value is kept under.
        """
        if _VALUE in arrays:
            raise ValueError(f"no array may be called {_VALUE!r}")
        if self._cache is not None:
            self._new[key] = Kept(arrays=arrays, value=value)

    def save(self) -> None:
        """Write what is new.

        Raises
        ------
        OSError
            If the cache cannot be written.
        """
        for key, kept in self._new.items():
            if self._cache is not None:
                self._cache.store(key, {_FILE: _bytes(kept)})
        self._new.clear()


def _bytes(kept: Kept) -> bytes:
    words = np.frombuffer(json.dumps(kept.value, separators=(",", ":")).encode(), dtype=np.uint8)
    stream = io.BytesIO()
    # Not compressed: that would cost more time than it saves.
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, array in {**kept.arrays, _VALUE: words}.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as member:
                np.lib.format.write_array(member, np.asarray(array), allow_pickle=False)
    return stream.getvalue()
