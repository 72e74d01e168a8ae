"""Has anything a book is made from changed? One digest over the content of a project, blind to comments and layout."""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from assembler.errors import InputError, ProjectFileError
from assembler.figure.ids import PartId
from assembler.filegate import MESH_BYTES, PICTURE_BYTES, is_there, read_file
from assembler.projectfiles.folder import ProjectFolder, part_files
from assembler.projectfiles.toml import read_plain


def input_digest(
    project: ProjectFolder, more: Mapping[str, bytes] | None = None, *, solids: Mapping[PartId, str] | None = None
) -> str:
    """SHA-256 over what a book of this project is made from.

    Parameters
    ----------
    project
        The project folder. Of figure.toml, joints.toml and built.toml the values count, not comments, order of keys
        or spacing; of part files, of the shop's own templates and of its logo every byte.
    more
        Further input by name.
    solids
        Digest of the mesh of each part (see `keptmeshes.mesh_digest`): counted in place of the part files, so that a
        re-export of the same solid, or another name of its file, is no change. None: every byte of every part file.

    Returns
    -------
    str
        64 hexadecimal digits.

    Raises
    ------
    ProjectFileError
        If a project file is no TOML.
    """
    pieces: dict[str, str] = {}
    for path in (project.figure, project.joints, project.built):
        if is_there(path):
            pieces[path.name] = _digest(canonical_bytes(read_plain(path)))
    pieces.update({f"logo/{name}": _digest(data) for name, data in _logo(project)})
    if solids is not None:
        pieces.update({f"solid/{part}": digest for part, digest in solids.items()})
    elif project.parts.is_dir():
        pieces.update({f"parts/{path.name}": _digest(_part(path)) for path in part_files(project.parts)})
    pieces.update({f"templates/{name}": _digest(data) for name, data in _tree(project.templates).items()})
    pieces.update({f"more/{name}": _digest(data) for name, data in (more or {}).items()})
    return _digest(canonical_bytes(pieces))


def _logo(project: ProjectFolder) -> list[tuple[str, bytes]]:
    """The file that figure.toml names as the logo; one that is not there is the file reader's to refuse."""
    shop = read_plain(project.figure).get("shop", {}) if project.figure.exists() else {}
    name = shop.get("logo", "") if isinstance(shop, dict) else ""
    try:
        path = project.root / str(name)
        return [(str(name), read_file(path, root=project.root, most_bytes=PICTURE_BYTES))] if name else []
    except (FileNotFoundError, InputError):
        return []


def _part(path: Path) -> bytes:
    return read_file(path, root=path.parent, most_bytes=MESH_BYTES, error=ProjectFileError)


def canonical_bytes(content: Mapping[str, Any]) -> bytes:
    """Plain values as bytes that do not depend on the order of keys."""
    return json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"), default=_plain).encode()


def _plain(value: object) -> str:
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    raise TypeError(f"no plain value: {value!r}")


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _tree(folder: Path) -> dict[str, bytes]:
    if not folder.is_dir():
        return {}
    return {
        path.relative_to(folder).as_posix(): read_file(
            path, root=folder, most_bytes=PICTURE_BYTES, error=ProjectFileError
        )
        for path in sorted(folder.rglob("*"))
        if not path.is_dir()
    }
