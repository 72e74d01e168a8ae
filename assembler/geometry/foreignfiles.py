"""Which surfaces does a file hold that a foreign library reads? Content in, vertices and faces out.

The only module that has trimesh read files. A file is read alone: what it refers to (materials, pictures, buffers in
files beside it) is never opened.
"""

from __future__ import annotations

import io
import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
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

Pieces = list[tuple[Points, Triangles]]

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


def read_foreign(path: Path, data: bytes) -> tuple[Pieces, float | None]:
    """Every surface of a file of any kind but STL, placed, and the length of its unit in mm where it is stated.

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
            pieces = [piece for name in names for piece in _placed(path, scene, name)]
            unit = str(scene.units).lower()
    except InputError:
        raise
    except Exception as error:  # noqa: BLE001  foreign readers raise anything on files that are not what they say
        wrong = f"cannot be read as {suffix[1:].upper()} ({type(error).__name__}: {error})"
        raise mesh_fault(path, "", wrong, "export the part again") from error
    if suffix in (*STEP_SUFFIXES, ".glb", ".gltf"):
        return pieces, 1000.0
    # 3MF core specification: millimeter is the default
    return pieces, _UNIT_MM.get(unit, 1.0) if suffix == ".3mf" else None


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
    logger = logging.getLogger("trimesh")
    was = logger.disabled
    logger.disabled = True
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            warnings.filterwarnings("error", message="string or file could not be read", category=DeprecationWarning)
            yield
    finally:
        logger.disabled = was


def _check_placed(path: Path, scene: Any, names: list[str]) -> None:
    meshes = [scene.geometry[scene.graph[name][1]] for name in names[: MOST_PLACED + 1]]
    triangles = sum(len(mesh.faces) for mesh in meshes if isinstance(mesh, trimesh.Trimesh))
    if len(names) > MOST_PLACED or triangles > MOST_TRIANGLES:
        wrong = f"{len(names)} placed objects with {triangles} triangles"
        right = f"at most {MOST_PLACED} and {MOST_TRIANGLES} are read: export coarser, or fewer parts in a file"
        raise mesh_fault(path, "", wrong, right)


def _placed(path: Path, scene: Any, name: str) -> Iterator[tuple[Points, Triangles]]:
    transform, geometry_name = scene.graph[name]
    geometry = scene.geometry[geometry_name]
    if not isinstance(geometry, trimesh.Trimesh) or not len(geometry.faces):
        return
    vertices = np.asarray(geometry.vertices, dtype=np.float64)
    faces = np.asarray(geometry.faces, dtype=np.int64)
    _require_corners(path, str(geometry_name), vertices, faces)
    if not np.array_equal(transform, np.eye(4)):
        vertices = vertices @ transform[:3, :3].T + transform[:3, 3]
        if np.linalg.det(transform[:3, :3]) < 0:
            faces = faces[:, ::-1]
    yield vertices, faces


def _require_corners(path: Path, name: str, vertices: Points, faces: Triangles) -> None:
    bad: NDArray[np.int64] = np.flatnonzero(((faces < 0) | (faces >= len(vertices))).any(axis=1))
    if len(bad):
        first = faces[bad[0]]
        corner = int(first[(first < 0) | (first >= len(vertices))][0])
        wrong = f"names corner {corner}, there are 0 to {len(vertices) - 1}"
        raise mesh_fault(path, f"{name[:12]} triangle {int(bad[0]) + 1}", wrong, "export the part again")
