"""Which triangles stand for the solids of a STEP file? Content in, a binary glTF scene in metres out.

The only module that uses cascadio, an optional library ('pip install assembler[step]'): curved faces are
approximated as finely as a printer needs. STEP files state their own unit.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from assembler.errors import MeshFileError
from assembler.geometry.meshfault import mesh_fault

_triangulated: Callable[..., bytes] | None
try:
    from cascadio import load as _triangulated
except ImportError:
    _triangulated = None

STEP_SUFFIXES = (".step", ".stp")
_DEVIATION_MM = 0.02
_DEVIATION_RAD = 0.2
"""At least 32 sides for a round hole: the true circle goes through their corners."""
_START, _END = b"ISO-10303-21", b"END-ISO-10303-21"


def has_step_reader() -> bool:
    """Whether the optional library is installed."""
    return _triangulated is not None


def triangulated_step(path: Path, data: bytes) -> bytes:
    """The solids of a STEP file as a binary glTF scene in metres.

    Parameters
    ----------
    path
        The file, for the words.
    data
        Its content.

    Raises
    ------
    MeshFileError
        If the optional library is missing, or the file is no whole STEP file or holds no solid.
    """
    if _triangulated is None:
        raise _fault(path, "STEP needs an optional library that is not installed", "run: pip install 'assembler[step]'")
    if _START not in data[:1000]:
        raise _fault(path, "not a STEP file (it does not begin with ISO-10303-21)", "export the part again")
    if _END not in data[-1000:]:
        raise _fault(path, "the STEP file is cut short (END-ISO-10303-21 is missing)", "copy or export it again")
    with _quiet_terminal():
        scene = _triangulated(data, "step", tol_linear=_DEVIATION_MM, tol_angular=_DEVIATION_RAD)
    if not scene:
        raise _fault(path, "cannot be read as STEP", "export the part again as STEP AP214 or AP242, or as STL")
    return scene


@contextmanager
def _quiet_terminal() -> Iterator[None]:
    """Without what the library writes to the terminal beside Python's own streams."""
    sys.stdout.flush()
    sys.stderr.flush()
    kept = [os.dup(stream) for stream in (1, 2)]
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        for stream in (1, 2):
            os.dup2(nowhere, stream)
        yield
    finally:
        for stream, own in zip((1, 2), kept, strict=True):
            os.dup2(own, stream)
            os.close(own)
        os.close(nowhere)


def _fault(path: Path, wrong: str, right: str) -> MeshFileError:
    return mesh_fault(path, "", wrong, right)
