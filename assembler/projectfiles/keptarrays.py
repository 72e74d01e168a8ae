"""Arrays that took long to make, kept from run to run: an entry of the cache folder for each question.

A question is plain values that hold everything the arrays depend on. Deleting the cache costs time and nothing else;
a damaged entry counts as not there.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from assembler.projectfiles.cachefolder import CacheFolder

_FILE = "arrays.bin"
_ALIGNED = 16
"""Bytes of which each array starts at a multiple."""


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
            return _kept(data)
        except (ValueError, KeyError, TypeError):
            # Whole by its digest and yet no such file: written by another version, so not there for this one.
            return None

    def put(self, key: str, arrays: Mapping[str, NDArray[Any]], value: Any = None) -> None:
        """Keep arrays, and a JSON value with them; written by `save`, so that a run that is refused writes nothing.

        Raises
        ------
        ValueError
            If an array holds objects, not numbers.
        """
        for name, array in arrays.items():
            if array.dtype.hasobject:
                raise ValueError(f"{name} holds objects, numbers were expected")
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
    """A line of JSON that lists the arrays, then their bytes one after another.

    Not an archive: opening one takes longer than reading what is in it, and a survey reads some thousand arrays.
    """
    arrays = {name: np.asarray(array) for name, array in kept.arrays.items()}
    listed = [[name, array.dtype.str, list(array.shape)] for name, array in arrays.items()]
    head = json.dumps({"arrays": listed, "value": kept.value}, separators=(",", ":")).encode() + b"\n"
    blocks = [head, *(array.tobytes() for array in arrays.values())]
    return b"".join(piece for block in blocks for piece in (block, bytes(-len(block) % _ALIGNED)))


def _kept(data: bytes) -> Kept:
    end = data.index(b"\n") + 1
    head = json.loads(data[:end])
    arrays, at = {}, end + -end % _ALIGNED
    for name, kind, shape in head["arrays"]:
        dtype = np.dtype(kind)
        size = math.prod(shape)
        arrays[name] = np.frombuffer(data, dtype=dtype, count=size, offset=at).reshape(shape)
        at += size * dtype.itemsize + -(size * dtype.itemsize) % _ALIGNED
    return Kept(arrays=arrays, value=head["value"])
