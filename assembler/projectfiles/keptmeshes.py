"""The mesh that a book was made from is kept, so that a mere re-export changes neither plan nor pictures.

Meshes go in by part id, the meshes to work with come out. What is stored can be deleted at any time; the next run then
starts from the files in parts/. It may have come by mail, so nothing that it says of itself is believed: a kept mesh is
measured again before it is taken for the part.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np

from assembler.errors import InputError
from assembler.figure.ids import ID, PartId, natural_key
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Fingerprint
from assembler.filegate import MESH_BYTES, read_file
from assembler.projectfiles.writing import left_out_if_read_only, write_whole

_SUFFIX = ".npz"
_PLAIN = re.compile(ID)
_DAMAGED = (
    OSError,
    InputError,
    ValueError,
    KeyError,
    EOFError,
    zipfile.BadZipFile,
    zlib.error,
    NotImplementedError,
    MemoryError,
)
"""What reading a file raises that is not what it says; the last: where it says that it is larger than the machine."""


def kept_meshes(
    folder: Path,
    meshes: Mapping[PartId, Mesh],
    marks: Mapping[PartId, Fingerprint],
    is_of: Callable[[Mesh, Fingerprint], bool],
) -> dict[PartId, Mesh]:
    """The mesh to work with for each part: the kept one where the solid is the same, else the new one.

    Parameters
    ----------
    folder
        Where meshes are kept; read only, see `keep_meshes`.
    meshes, marks
        As read from parts/, by id.
    is_of
        Whether a mesh is of the solid with this fingerprint, in its place.

    Returns
    -------
    dict
        In the order of the ids. A kept mesh is compared as it is, so small differences do not add up over many
        re-exports. A damaged or missing one counts as not there.
    """
    chosen: dict[PartId, Mesh] = {}
    for part in sorted(meshes, key=natural_key):
        chosen[part] = meshes[part]
        kept = _read(_place(folder, part))
        # The same bits again: the caller's own mesh serves, and need not be measured anew.
        if kept is None or mesh_digest(kept) == mesh_digest(meshes[part]):
            continue
        if is_of(kept, marks[part]):
            chosen[part] = kept
    return chosen


def stored_meshes(folder: Path, digests: Mapping[PartId, str]) -> dict[PartId, Mesh] | None:
    """The kept meshes, for who knows their digests; None where one is not there or not the one that was kept."""
    found: dict[PartId, Mesh] = {}
    for part, digest in digests.items():
        kept = _read(_place(folder, part))
        if kept is None or mesh_digest(kept) != digest:
            return None
        found[part] = kept
    return found


def keep_meshes(folder: Path, meshes: Mapping[PartId, Mesh]) -> None:
    """Keep these meshes from now on; those that are kept already are not written again, other kept ones are dropped.

    In a project that may only be read nothing is kept.

    Parameters
    ----------
    folder
        Where; made if missing.
    meshes
        As `kept_meshes` chose them.

    Raises
    ------
    ValueError
        If an id is no plain file name.
    OSError
        If the folder cannot be written.
    """
    wanted = {_place(folder, part): part for part in sorted(meshes, key=natural_key)}
    with left_out_if_read_only():
        for path, part in wanted.items():
            kept = _read(path)
            if kept is None or mesh_digest(kept) != mesh_digest(meshes[part]):
                write_whole(path, _bytes(meshes[part]))
        for path in sorted(folder.glob(f"*{_SUFFIX}")):
            # What is named otherwise, or holds something else, was not kept by this program.
            if path not in wanted and _PLAIN.fullmatch(path.stem) and _read(path) is not None:
                path.unlink(missing_ok=True)


def _place(folder: Path, part: PartId) -> Path:
    if not _PLAIN.fullmatch(part):
        raise ValueError(f"{part!r} is no plain file name")
    return folder / f"{part}{_SUFFIX}"


def _bytes(mesh: Mesh) -> bytes:
    stream = io.BytesIO()
    np.savez(stream, vertices=mesh.vertices, faces=mesh.faces.astype(np.int32))
    return stream.getvalue()


def _read(path: Path) -> Mesh | None:
    try:
        data = read_file(path, root=path.parent, most_bytes=MESH_BYTES)
        with np.load(io.BytesIO(data), allow_pickle=False) as stored:
            vertices, faces = stored["vertices"], stored["faces"]
        if vertices.dtype.kind != "f" or faces.dtype.kind not in "iu":
            return None
        mesh = Mesh(vertices=vertices, faces=faces)
    except _DAMAGED:
        return None
    is_whole = len(mesh.faces) and mesh.faces.min() >= 0 and mesh.faces.max() < len(mesh.vertices)
    return mesh if is_whole and np.isfinite(mesh.vertices).all() else None
