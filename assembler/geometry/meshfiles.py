"""Which bodies does a mesh file hold? Path in, `Body` records out.

Binary and text STL have their own reader: they are the bulk of what shops send, and a direct reader is several times
faster. All others are read in `foreignfiles`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from assembler.errors import MeshFileError
from assembler.figure.mesh import Mesh, Points, Triangles
from assembler.filegate import MESH_BYTES, read_file
from assembler.geometry.foreignfiles import read_foreign
from assembler.geometry.healing import is_closed
from assembler.geometry.meshfault import mesh_fault
from assembler.geometry.stepfiles import STEP_SUFFIXES
from assembler.geometry.touching import has_crowded_edges, solids_of_faces

SUFFIXES = (".3mf", ".glb", ".gltf", ".obj", ".off", ".ply", *STEP_SUFFIXES, ".stl")
"""File name endings that can be read, lower case; STEP with an optional library."""
MOST_BODIES = 1000
"""Bodies of one file, and of one figure: the largest figure known has 500 parts. More are loose triangles."""
_MOST_PIECES = 20_000
"""Connected surfaces in one file, crumbs and walls of cavities among them."""
_FARTHEST = 1e12
"""In any unit: a number from here on is no coordinate."""
_WELD_SHARE = 1e-5
"""Cell in which corners of unwelded triangles are made one, as a share of the size: 2 micrometres of 200 mm. Single
precision keeps a third of a micrometre there."""

_WELD_CELLS = int(2 / _WELD_SHARE)
"""More than lie along an edge."""

_STL_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_STL_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)", re.IGNORECASE)
_CHUNK_BYTES = 50_000_000


Pieces = list[tuple[Points, Triangles]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Body:
    """One body of a mesh file.

    Parameters
    ----------
    file
        Name of the file, without folders.
    index
        1, 2, ... in the order of the file.
    mesh
        In the file's own unit; equal vertices are one vertex, otherwise untouched.
    unit_mm
        Length of one unit in mm where the file states it (3MF, STEP; glTF is in metres), else None.
    triangles
        Triangles read.
    welded
        Corners that were made one with others within a stated share of the size, where the surface was not closed.
    """

    file: str
    index: int
    mesh: Mesh
    unit_mm: float | None
    triangles: int
    welded: int = 0


def read_bodies(path: Path, *, is_whole_figure: bool = False) -> tuple[Body, ...]:
    """Every body in a mesh file.

    Bodies are the connected pieces of the surface; the wall of an inner cavity (a piece that faces inwards and lies
    inside another) stays with the body around it.

    Parameters
    ----------
    path
        STL (text or binary), OBJ, PLY, 3MF, GLB, glTF, OFF or (with an optional library) STEP.
    is_whole_figure
        Whether the file holds all parts, so that solids which lie flush on each other are parts of their own. In a
        file of one part they are pieces of it that the modeller did not fuse, a flange on its shell, say.

    Returns
    -------
    tuple of Body
        At least one.

    Raises
    ------
    MeshFileError
        If the file is missing, of an unknown kind, unreadable, holds no triangles, or holds coordinates that are not
        finite numbers.
    """
    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        wrong = f"not a kind of mesh file that can be read ({path.suffix or 'no ending'})"
        raise mesh_fault(path, "", wrong, _known())
    try:
        data = read_file(path, root=path.parent, most_bytes=MESH_BYTES, error=MeshFileError)
    except FileNotFoundError as error:
        raise mesh_fault(path, "", "no such file", "check the name") from error
    pieces, unit_mm = (_read_stl(path, data), None) if suffix == ".stl" else _read_other(path, data)
    del data
    if len(pieces) > MOST_BODIES:
        # Each is one body at least.
        raise _torn(path, len(pieces))
    bodies: list[Body] = []
    for vertices, faces in pieces:
        vertices, faces, welded = _welded(vertices, faces)
        for mesh in _split(path, vertices, faces, is_whole_figure):
            index, count = len(bodies) + 1, len(mesh.faces)
            bodies.append(Body(file=path.name, index=index, mesh=mesh, unit_mm=unit_mm, triangles=count, welded=welded))
    if not bodies:
        raise mesh_fault(path, "", "holds no triangles", "export the part again as a triangle mesh")
    if len(bodies) > MOST_BODIES:
        raise _torn(path, len(bodies))
    return tuple(bodies)


def _torn(path: Path, pieces: int) -> MeshFileError:
    wrong = f"{pieces} loose pieces, at most {MOST_BODIES} parts are read"
    return mesh_fault(path, "", wrong, "weld the triangles of each part into one surface and export again")


def merge_equal(corners: Points) -> tuple[Points, Triangles]:
    """Triangle corners with equal points made one, exactly (no tolerance).

    Parameters
    ----------
    corners : (m, 3, 3) float32 or float64

    Returns
    -------
    tuple
        Vertices (n, 3) float64 in order of first appearance by hash, and faces (m, 3) int64.
    """
    flat = np.ascontiguousarray(corners.reshape(-1, 3)) + corners.dtype.type(0)  # -0.0 becomes 0.0
    order, is_first = _group(flat)
    number = np.cumsum(is_first) - 1
    faces = np.empty(len(flat), dtype=np.int64)
    faces[order] = number
    vertices = flat[order[is_first]].astype(np.float64)
    return vertices, faces.reshape(-1, 3)


def _group(flat: NDArray[Any]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Order in which equal rows lie together, and where each run of equal rows starts."""
    bits = flat.view(np.uint32 if flat.dtype == np.float32 else np.uint64).astype(np.uint64, copy=False)
    key = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    key ^= (bits[:, 1] + (key >> np.uint64(29))) * np.uint64(0xC2B2AE3D27D4EB4F)
    key ^= (bits[:, 2] + (key >> np.uint64(31))) * np.uint64(0x165667B19E3779F9)
    # Hash above, row number below: sorting plain numbers is many times faster than sorting an index.
    low_bits = np.uint64(max(len(flat) - 1, 1).bit_length())
    key = (key >> low_bits << low_bits) | np.arange(len(flat), dtype=np.uint64)
    key.sort()
    order = (key & ((np.uint64(1) << low_bits) - np.uint64(1))).astype(np.int64)
    ordered = flat[order]
    is_new_key = np.diff(key >> low_bits) != 0
    is_new_row = _differs(ordered)
    if not np.array_equal(is_new_key, is_new_row):
        # Two different points share a key: sort by the coordinates themselves.
        order = np.lexsort((flat[:, 2], flat[:, 1], flat[:, 0]))
        ordered = flat[order]
        is_new_row = _differs(ordered)
    return order, np.concatenate(([True], is_new_row))


def _differs(rows: NDArray[Any]) -> NDArray[np.bool_]:
    """Whether each row differs from the one before."""
    x, y, z = (rows[1:, axis] != rows[:-1, axis] for axis in range(3))
    return np.asarray(x | y | z)


def _welded(vertices: Points, faces: Triangles) -> tuple[Points, Triangles, int]:
    """A surface that is not closed, with those corners made one that lie in a common small cell.

    Before anything is looked for: a triangle that shares no corners with its neighbours is no body of its own. A closed
    surface of one piece has at most half as many corners as triangles, and two.

    Points nearer than half a cell share a cell of at least one of eight grids that are shifted by half a cell.
    """
    if 2 * len(vertices) <= len(faces) + 4 or len(faces) < 4 or is_closed(faces, len(vertices)):
        return vertices, faces, 0
    low = vertices.min(axis=0)
    cell = _WELD_SHARE * float((vertices.max(axis=0) - low).max())
    if cell <= 0.0:
        return vertices, faces, 0
    links = []
    for shift in product((0.0, 0.5), repeat=3):
        place = np.floor((vertices - low) / cell + np.array(shift)).astype(np.int64)
        key = (place[:, 0] * _WELD_CELLS + place[:, 1]) * _WELD_CELLS + place[:, 2]
        order = np.argsort(key, kind="stable")
        alike = np.flatnonzero(np.diff(key[order]) == 0)
        links.append(np.column_stack((order[alike], order[alike + 1])))
    pairs = np.concatenate(links)
    graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(vertices),) * 2)
    count, label = connected_components(graph, directed=False)
    first = np.full(count, len(vertices))
    np.minimum.at(first, label, np.arange(len(vertices)))
    order = np.argsort(first)
    number = np.empty(count, dtype=np.int64)
    number[order] = np.arange(count)
    return vertices[first[order]], number[label][faces], len(vertices) - count


def _read_stl(path: Path, data: bytes) -> Pieces:
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    if count >= 0 and len(data) == 84 + 50 * count:
        corners: NDArray[Any] = np.frombuffer(data, dtype=_STL_RECORD, offset=84)["corners"]
    elif data[:512].lstrip()[:5].lower() == b"solid" and b"facet" in data[:4096]:
        corners = _text_corners(path, data)
    elif count > 0 and len(data) < 84 + 50 * count:
        there = max(0, len(data) - 84) // 50
        wrong = f"cut short: {count} triangles announced, {there} there"
        raise mesh_fault(path, "", wrong, "export or copy the file again")
    elif count > 0:
        corners = np.frombuffer(data, dtype=_STL_RECORD, offset=84, count=count)["corners"]
    else:
        raise mesh_fault(path, "", "not an STL file", "export the part again as STL")
    if not len(corners):
        return []
    _require_places(path, corners)
    return [merge_equal(corners)]


def _text_corners(path: Path, data: bytes) -> Points:
    """Corners of a text STL, read in pieces that end with a facet: each number is an object of its own for a while."""
    found, start = [], 0
    while start < len(data):
        end = data.find(b"endfacet", start + _CHUNK_BYTES)
        end = len(data) if end < 0 else end
        numbers = _STL_VERTEX.findall(data, start, end)
        if len(numbers) % 3:
            wrong = f"{len(numbers)} vertex lines, not three for each facet"
            raise mesh_fault(path, "", wrong, "export the part again")
        try:
            found.append(np.array(numbers, dtype=np.float64).reshape(-1, 3, 3))
        except ValueError as error:
            raise mesh_fault(path, "a vertex line", f"is no number ({error})", "export the part again") from error
        start = end
    return np.concatenate(found)


def _read_other(path: Path, data: bytes) -> tuple[Pieces, float | None]:
    """Every placement of every surface; a surface is looked through once, however often it is placed."""
    read = read_foreign(path, data)
    merged = {}
    for name, (vertices, faces) in read.surfaces.items():
        _require_places(path, vertices)
        merged[name] = merge_equal(vertices[faces])
    pieces = []
    for name, place in read.placed:
        vertices, faces = merged[name]
        if not np.array_equal(place, np.eye(4)):
            with np.errstate(all="ignore"):
                vertices = vertices @ place[:3, :3].T + place[:3, 3]
            _require_places(path, vertices)
            faces = faces[:, ::-1] if np.linalg.det(place[:3, :3]) < 0 else faces
        pieces.append((vertices, faces))
    return pieces, read.unit_mm


def _split(path: Path, vertices: Points, faces: Triangles, is_whole_figure: bool) -> Iterator[Mesh]:
    """Connected pieces, cavity walls kept with the piece around them, in order of first appearance in the file."""
    label = _component_of_face(vertices, faces)
    if is_whole_figure:
        label = _touching_parted(vertices, faces, label)
    count = int(label.max()) + 1
    if count == 1:
        yield Mesh(vertices=vertices, faces=faces)
        return
    if count > _MOST_PIECES:
        raise _torn(path, count)
    owner = _owners(vertices, faces, label, count)
    first_face = np.full(count, len(faces))
    np.minimum.at(first_face, owner[label], np.arange(len(faces)))
    owners = sorted(set(owner.tolist()), key=lambda number: int(first_face[number]))
    if len(owners) > MOST_BODIES:
        raise _torn(path, len(owners))
    for body in owners:
        chosen = faces[owner[label] == body]
        used, renumbered = np.unique(chosen, return_inverse=True)
        yield Mesh(vertices=vertices[used], faces=renumbered.reshape(-1, 3))


def _component_of_face(vertices: Points, faces: Triangles) -> NDArray[np.int64]:
    rows = np.concatenate((faces[:, 0], faces[:, 1]))
    columns = np.concatenate((faces[:, 1], faces[:, 2]))
    graph = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(len(vertices),) * 2)
    count, label = connected_components(graph, directed=False)
    is_used = np.zeros(count, dtype=bool)
    is_used[label] = True
    return np.asarray((np.cumsum(is_used) - 1)[label[faces[:, 0]]], dtype=np.int64)


def _touching_parted(vertices: Points, faces: Triangles, piece: NDArray[np.int64]) -> NDArray[np.int64]:
    """The pieces, with solids that only touch each other told apart wherever the edges tell."""
    if not has_crowded_edges(faces, len(vertices)):
        return piece
    next_number = int(piece.max()) + 1
    parted = piece.copy()
    for number in range(next_number):
        chosen = np.flatnonzero(piece == number)
        solid = solids_of_faces(vertices, faces[chosen])
        if solid is not None and solid.max() > 0 and _are_all_solids(vertices, faces[chosen], solid):
            parted[chosen[solid > 0]] = next_number + solid[solid > 0] - 1
            next_number += int(solid.max())
    return parted


def _are_all_solids(vertices: Points, faces: Triangles, solid: NDArray[np.int64]) -> bool:
    """Whether every piece encloses material worth a part; crumbs of a rounded export do not."""
    corners = vertices[faces]
    signed = np.bincount(solid, np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])))
    return bool(np.all(signed > 1e-4 * signed.max()))


def _owners(vertices: Points, faces: Triangles, label: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """For each piece the piece that it belongs to: itself, or the smallest outward piece around it."""
    corners = vertices[faces]
    signed = np.bincount(label, np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])), count)
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    area = np.bincount(label, area, count)
    low = np.full((count, 3), np.inf)
    high = np.full((count, 3), -np.inf)
    np.minimum.at(low, label, corners.min(axis=1))
    np.maximum.at(high, label, corners.max(axis=1))
    size = np.prod(high - low, axis=1)
    largest = int(np.argmax(size))
    outward = np.sign(signed[largest]) or 1.0
    owner = np.arange(count)
    for piece in range(count):
        is_crumb = area[piece] < 1e-5 * area[largest]
        if piece == largest or (signed[piece] * outward >= 0 and not is_crumb):
            continue
        around = np.all(low <= low[piece], axis=1) & np.all(high >= high[piece], axis=1)
        around &= (signed * outward > 0) & (np.arange(count) != piece) & (area >= 1e-5 * area[largest])
        if np.any(around):
            owner[piece] = min(np.flatnonzero(around), key=lambda number: (size[number], number))
        elif is_crumb:
            owner[piece] = largest
    return owner


def _require_places(path: Path, points: NDArray[Any]) -> None:
    """Coordinates are finite, and such that their cubes are."""
    for wrong, bad in (
        ("coordinates are not finite numbers", ~np.isfinite(points)),
        (f"coordinates are beyond {_FARTHEST:g}", np.abs(points) > _FARTHEST),
    ):
        if np.any(bad):
            place = f"point {int(np.flatnonzero(bad.ravel())[0]) // 3 + 1}"
            raise mesh_fault(path, place, f"{int(np.count_nonzero(bad))} {wrong}", "export the part again")


def _known() -> str:
    return "use one of " + ", ".join(suffix[1:].upper() for suffix in SUFFIXES)
