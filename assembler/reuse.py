"""What an earlier run of the same project has made already: pictures, plans, answers about pairs of solids.

Everything lies in the cache of the project folder, by a key over all it was made from: content and the program's own
code. Deleting it costs time and nothing else.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from assembler.codemark import code_mark
from assembler.projectfiles.answers import Answers
from assembler.projectfiles.cachefolder import CacheFolder
from assembler.projectfiles.folder import ProjectFolder
from assembler.projectfiles.keptarrays import KeptArrays
from assembler.projectfiles.memory import Memory

LIMIT_BYTES = 1_000_000_000
_VALUE = "value.json"
_ROOMS = ("planning", "geometry", "engineering", "catalogue", "figure")
_SURVEY_ROOMS = ("survey", "geometry", "figure")
_SURVEY_LIBRARIES = ("numpy", "scipy", "manifold3d", "trimesh", "shapely", "networkx", "lxml")
_LIBRARIES = ("numpy", "scipy", "manifold3d", "networkx")


class CachedShelf:
    """A shelf (see `figure.shelf`) in the cache of a project.

    Parameters
    ----------
    folder
        The project.
    """

    def __init__(self, folder: ProjectFolder) -> None:
        self._cache = CacheFolder(root=folder.cache, limit_bytes=LIMIT_BYTES)

    def files(self, key: str, into: Path) -> Any | None:
        """Copy the files of an entry into a folder and give its value; None if it is not there."""
        data = self._cache.read(key, _VALUE)
        if data is None:
            return None
        entry = _entry(data)
        return entry["value"] if entry and self._cache.lookup(key, entry["files"], into) else None

    def keep_files(self, key: str, value: Any, files: Iterable[Path]) -> None:
        """Keep a value with copies of files."""
        by_name = {path.name: path for path in files}
        self._cache.store(key, {**by_name, _VALUE: _bytes({"value": value, "files": sorted(by_name)})})

    def value(self, key: str) -> Any | None:
        """A value that was kept without files; None if it is not there."""
        data = self._cache.read(key, _VALUE)
        entry = None if data is None else _entry(data)
        return entry["value"] if entry else None

    def keep_value(self, key: str, value: Any) -> None:
        """Keep a value of JSON."""
        self._cache.store(key, {_VALUE: _bytes({"value": value, "files": []})})

    def renew_value(self, key: str, value: Any) -> None:
        """Keep a value of JSON in place of the one that is there."""
        self._cache.store(key, {_VALUE: _bytes({"value": value, "files": []})}, is_newest=True)


def survey_memory(folder: ProjectFolder) -> Memory:
    """What earlier runs with the same code read from part files and found in their meshes."""
    return _memory(folder, "survey-answers.json", code_mark(_SURVEY_ROOMS, _SURVEY_LIBRARIES))


def planning_memory(folder: ProjectFolder) -> Memory:
    """What earlier runs with the same code found out while planning and while checking plans."""
    return _memory(folder, "answers.json", code_mark(_ROOMS, _LIBRARIES))


def _memory(folder: ProjectFolder, name: str, common: str) -> Memory:
    cache = CacheFolder(root=folder.cache, limit_bytes=LIMIT_BYTES)
    return Memory(answers=Answers(folder.cache / name, common=common), arrays=KeptArrays(cache, common=common))


def _entry(data: bytes) -> dict[str, Any] | None:
    """A value with the names of its files; None for what this program did not write."""
    try:
        entry: dict[str, Any] = json.loads(data)
        is_known = isinstance(entry["files"], list) and all(isinstance(name, str) for name in entry["files"])
    except (ValueError, RecursionError, KeyError, TypeError):
        return None
    return entry if is_known and "value" in entry else None


def _bytes(value: Any) -> bytes:
    return json.dumps(value, separators=(",", ":")).encode()
