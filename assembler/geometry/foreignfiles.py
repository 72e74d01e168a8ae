"""Which surfaces does a file hold that a foreign library reads? Content in, vertices and faces out.

The only module that has trimesh read files. A file is read alone: what it refers to (materials, pictures, buffers in
files beside it) is never opened.
"""

from __future__ import annotations

import io
import logging
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

from assembler.errors import InputError
from assembler.figure.mesh import Points, Triangles
from assembler.geometry.announced import MOST_PLACED, check_announced
from assembler.geometry.meshfault import mesh_fault
from assembler.geometry.stepfiles import STEP_SUFFIXES, triangulated_step

MOST_TRIANGLES = 20_000_000
"""That one file may place: a million takes some seconds and a third of a gigabyte."""
MOST_COPIED_TRIANGLES = 2_000_000
"""That may come of placing an object more than once: a small file must not ask for a large one's time and memory."""

_WITHOUT_PICTURES = (".glb", ".gltf", ".obj", ".ply")
_UNIT_MM = {
    "micron": 0.001,
    "millimeter": 1.0,
    "millimeters": 1.0,
    "mm": 1.0,
    "centimeter": 10.0,
    "centimeters": 10.0,
    "inch": 25.4,
    "inches": 25.4,
    "foot": 304.8,
    "feet": 304.8,
    "meter": 1000.0,
    "meters": 1000.0,
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForeignFile:
    """What lies in a file.

    Parameters
    ----------
    surfaces
        Vertices and faces by name; each at least one triangle.
    placed
        Names of surfaces and where they are placed, (4, 4) float64, in the order of the file's own names.
    unit_mm
        Length of its unit where it is stated, else None.
    """

    surfaces: Mapping[str, tuple[Points, Triangles]]
    placed: tuple[tuple[str, NDArray[np.float64]], ...]
    unit_mm: float | None


def read_foreign(path: Path, data: bytes) -> ForeignFile:
    """Every surface of a file of any kind but STL.

    Parameters
    ----------
    path
        Its ending says what kind of file it is.
    data
        Its content.

    Raises
    ------
    MeshFileError
        If it cannot be read, announces what it does not hold, or refers to corners that it does not have.
    InputError
        If it would take more memory than is allowed.
    """
    suffix = path.suffix.lower()
    try:
        with _silence():
            scene = _scene(path, data)
            names = sorted(scene.graph.nodes_geometry, key=str)
            _check_placed(path, scene, names)
            surfaces = {
                str(name): _surface(path, str(name), mesh) for name, mesh in scene.geometry.items() if _holds(mesh)
            }
            placed = [(str(scene.graph[name][1]), np.asarray(scene.graph[name][0], dtype=np.float64)) for name in names]
            unit = str(scene.units).lower()
    except InputError:
        raise
    except Exception as error:  # noqa: BLE001  foreign readers raise anything on files that are not what they say
        wrong = f"cannot be read as {suffix[1:].upper()} ({type(error).__name__}: {error})"
        raise mesh_fault(path, "", wrong, "export the part again") from error
    unit_mm = None
    if suffix in (*STEP_SUFFIXES, ".glb", ".gltf"):
        unit_mm = 1000.0
    elif suffix == ".3mf":
        # 3MF core specification: millimeter is the default
        unit_mm = _UNIT_MM.get(unit, 1.0)
    there = tuple((name, place) for name, place in placed if name in surfaces)
    return ForeignFile(surfaces=surfaces, placed=there, unit_mm=unit_mm)


def _scene(path: Path, data: bytes) -> Any:
    suffix = path.suffix.lower()
    if suffix in STEP_SUFFIXES:
        suffix, data = ".glb", triangulated_step(path, data)
    check_announced(path.with_suffix(suffix), data)
    more: dict[str, Any] = {"skip_materials": True} if suffix in _WITHOUT_PICTURES else {}
    # From memory, and without a resolver: nothing beside the file can be opened.
    return trimesh.load_scene(io.BytesIO(data), file_type=suffix[1:], process=False, **more)


@contextmanager
def _silence() -> Iterator[None]:
    """Without what the readers log and warn; that a number cannot be read is no warning but an end."""
    was = logging.root.manager.disable
    # Of all libraries at once: each logs under names of its own.
    logging.disable()
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            warnings.filterwarnings("error", message="string or file could not be read", category=DeprecationWarning)
            yield
    finally:
        logging.disable(was)


def _check_placed(path: Path, scene: Any, names: list[str]) -> None:
    sizes = {name: len(mesh.faces) if _holds(mesh) else 0 for name, mesh in scene.geometry.items()}
    triangles = sum(sizes[scene.graph[name][1]] for name in names[: MOST_PLACED + 1])
    if len(names) > MOST_PLACED or triangles > MOST_TRIANGLES:
        wrong = f"{len(names)} placed objects with {triangles} triangles"
        right = f"at most {MOST_PLACED} and {MOST_TRIANGLES} are read: export coarser, or fewer parts in a file"
        raise mesh_fault(path, "", wrong, right)
    copied = triangles - sum(sizes.values())
    if copied > MOST_COPIED_TRIANGLES:
        wrong = f"objects that are placed again come to {copied} triangles more"
        right = f"at most {MOST_COPIED_TRIANGLES} are read: export coarser, or each part once in a file of its own"
        raise mesh_fault(path, "", wrong, right)


def _holds(mesh: Any) -> bool:
    """Whether it is a surface: files hold curves and clouds of points as well."""
    return isinstance(mesh, trimesh.Trimesh) and len(mesh.faces) > 0


def _surface(path: Path, name: str, mesh: Any) -> tuple[Points, Triangles]:
    vertices = np.asarray(mesh.vertices, dtype=np.float64)
    faces = np.asarray(mesh.faces, dtype=np.int64)
    _require_rows(path, name, vertices, faces)
    _require_corners(path, name, vertices, faces)
    return vertices, faces


def _require_rows(path: Path, name: str, vertices: Points, faces: Triangles) -> None:
    """Corners of three coordinates and triangles of three corners: of lines that are broken readers make others."""
    for what, rows in (("corners", vertices), ("triangles", faces)):
        if rows.ndim != 2 or rows.shape[1] != 3:
            raise mesh_fault(path, name[:12], f"holds {what} that are not of three numbers", "export the part again")


def _require_corners(path: Path, name: str, vertices: Points, faces: Triangles) -> None:
    bad: NDArray[np.int64] = np.flatnonzero(((faces < 0) | (faces >= len(vertices))).any(axis=1))
    if len(bad):
        first = faces[bad[0]]
        corner = int(first[(first < 0) | (first >= len(vertices))][0])
        wrong = f"names corner {corner}, there are 0 to {len(vertices) - 1}"
        raise mesh_fault(path, f"{name[:12]} triangle {int(bad[0]) + 1}", wrong, "export the part again")
