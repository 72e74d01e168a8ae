"""The mesh that a book was made from is kept, so that a mere re-export changes neither plan nor pictures.

Meshes and fingerprints go in by part id, the meshes to work with come out. What is stored can be deleted at any time;
the next run then starts from the files in parts/.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np

from assembler.errors import InputError
from assembler.figure.ids import ID, PartId, natural_key
from assembler.figure.mesh import Mesh, mesh_digest
from assembler.figure.parts import Fingerprint, Vector
from assembler.filegate import MESH_BYTES, read_file
from assembler.projectfiles.writing import left_out_if_read_only, write_whole

_SUFFIX = ".npz"
_PLAIN = re.compile(ID)


def kept_meshes(
    folder: Path,
    meshes: Mapping[PartId, Mesh],
    marks: Mapping[PartId, Fingerprint],
    is_unchanged: Callable[[Fingerprint, Fingerprint], bool],
) -> dict[PartId, Mesh]:
    """The mesh to work with for each part: the kept one where the solid is the same, else the new one.

    Parameters
    ----------
    folder
        Where meshes are kept; read only, see `keep_meshes`.
    meshes, marks
        As read from parts/, by id.
    is_unchanged
        Whether two fingerprints are of one solid in one place.

    Returns
    -------
    dict
        In the order of the ids. A kept mesh is compared by its own fingerprint, so small differences do not add up
        over many re-exports. A damaged or missing one counts as not there.
    """
    chosen: dict[PartId, Mesh] = {}
    for part in sorted(meshes, key=natural_key):
        chosen[part] = meshes[part]
        kept = _read(_place(folder, part))
        if kept is None or not is_unchanged(kept[1], marks[part]):
            continue
        # The same bits again: the caller's own mesh serves, and need not be measured anew.
        if mesh_digest(kept[0]) != mesh_digest(meshes[part]):
            chosen[part] = kept[0]
    return chosen


def stored_meshes(folder: Path, parts: Sequence[PartId]) -> dict[PartId, Mesh] | None:
    """The kept mesh of each part, for who knows that nothing has changed; None where one is not there."""
    stored = {part: _read(_place(folder, part)) for part in parts}
    found = {part: kept[0] for part, kept in stored.items() if kept is not None}
    return found if len(found) == len(stored) else None


def keep_meshes(folder: Path, meshes: Mapping[PartId, Mesh], marks: Mapping[PartId, Fingerprint]) -> None:
    """Keep these meshes from now on; those that are kept already are not written again, other kept ones are dropped.

    In a project that may only be read nothing is kept.

    Parameters
    ----------
    folder
        Where; made if missing.
    meshes
        As `kept_meshes` chose them.
    marks
        Their fingerprints.

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
            if kept is None or mesh_digest(kept[0]) != mesh_digest(meshes[part]):
                write_whole(path, _bytes(meshes[part], marks[part]))
        for path in sorted(folder.glob(f"*{_SUFFIX}")):
            # What is named otherwise, or holds something else, was not kept by this program.
            if path not in wanted and _PLAIN.fullmatch(path.stem) and _read(path) is not None:
                path.unlink(missing_ok=True)


def _place(folder: Path, part: PartId) -> Path:
    if not _PLAIN.fullmatch(part):
        raise ValueError(f"{part!r} is no plain file name")
    return folder / f"{part}{_SUFFIX}"


def _bytes(mesh: Mesh, mark: Fingerprint) -> bytes:
    numbers = [mark.volume_mm3, mark.area_mm2, *mark.centre_mm, *mark.inertia_mm5, mark.skew_mm6]
    numbers += [*mark.low_mm, *mark.high_mm]
    stream = io.BytesIO()
    np.savez(stream, vertices=mesh.vertices, faces=mesh.faces.astype(np.int32), mark=np.array(numbers))
    return stream.getvalue()


def _read(path: Path) -> tuple[Mesh, Fingerprint] | None:
    try:
        data = read_file(path, root=path.parent, most_bytes=MESH_BYTES)
        with np.load(io.BytesIO(data), allow_pickle=False) as stored:
            mesh = Mesh(vertices=stored["vertices"], faces=stored["faces"])
            numbers = [float(value) for value in stored["mark"]]
    except (OSError, InputError, ValueError, KeyError, EOFError, zipfile.BadZipFile, zlib.error, NotImplementedError):
        return None
    if len(numbers) != 15:
        return None
    return mesh, Fingerprint(
        volume_mm3=numbers[0],
        area_mm2=numbers[1],
        centre_mm=_vector(numbers, 2),
        inertia_mm5=_vector(numbers, 5),
        skew_mm6=numbers[8],
        low_mm=_vector(numbers, 9),
        high_mm=_vector(numbers, 12),
    )


def _vector(numbers: list[float], start: int) -> Vector:
    return (numbers[start], numbers[start + 1], numbers[start + 2])
