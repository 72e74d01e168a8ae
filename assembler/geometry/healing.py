"""What is wrong with a mesh, and what of it can be mended without guessing? Mesh in, `Healed` out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points, Triangles
from assembler.figure.parts import Vector
from assembler.figure.tolerances import Tolerances
from assembler.geometry.solids import as_vector

TINY_HOLE_MM = 20.0
"""Longest rim of a hole that is closed without asking: below the rim of the smallest bolt hole that is used."""
_MOST_SHEETS = 100
"""With more sheets that could go a mesh is torn, not walled."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Healed:
    """A mesh after mending.

    Parameters
    ----------
    mesh
        Consistent winding, outward.
    notes
        What was mended, one line each.
    open_edges
        Edges whose faces do not cancel: run one way more often than the other.
    open_place_mm
        Middle of the longest open rim, or of the first open edge; None when closed.
    is_watertight
        No open edges, so that the volume is exact. Solids of one part that lie flush share edges of four faces.
    is_simple
        Two faces met at every edge as the mesh was read: nothing had to be looked for.
    """

    mesh: Mesh
    notes: tuple[str, ...]
    open_edges: int
    open_place_mm: Vector | None
    is_watertight: bool
    is_simple: bool


def heal(mesh: Mesh, tolerances: Tolerances) -> Healed:
    """The mesh mended as far as that needs no guess.

    Nothing is left of faces that are without extent or cancel each other: the mesh has no faces then.
    Merged near vertices along open rims, faces without extent, double faces and walls inside dropped, winding made
    consistent and outward, holes with a rim of at most `TINY_HOLE_MM` closed.

    Parameters
    ----------
    mesh
        In mm.
    tolerances
        `merge_mm` is used.
    """
    vertices, faces = mesh.vertices, mesh.faces
    notes: list[str] = []
    is_whole = is_closed(faces, len(vertices))
    if not is_whole:
        vertices, faces, notes = _mend(vertices, faces, tolerances)
    if len(faces) and _signed_volume(vertices, faces) < 0:
        faces = faces[:, ::-1]
        notes.append("turned inside out: all faces pointed inwards")
    is_even = is_whole or not len(faces)
    edges = np.zeros((0, 2), dtype=np.int64) if is_even else _odd_edges(faces, len(vertices))
    place = _place(vertices, edges) if len(edges) else None
    result = mesh if faces is mesh.faces else Mesh(vertices=vertices, faces=faces)
    return Healed(
        mesh=result,
        notes=tuple(notes),
        open_edges=len(edges),
        open_place_mm=place,
        is_watertight=not len(edges),
        is_simple=is_whole,
    )


def directed_edges(faces: Triangles) -> NDArray[np.int64]:
    """Edges of all faces as wound, (3 m, 2): first edges of all faces, then second, then third."""
    edges: NDArray[np.int64] = np.concatenate((faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]))
    return edges


def is_closed(faces: Triangles, count: int) -> bool:
    """Whether every edge has exactly one face on each side, wound alike.

    Parameters
    ----------
    faces : (m, 3) int64
    count
        Vertices there are.
    """
    if np.any((faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])):
        return False
    if len(faces) % 2:
        return False
    keys = np.empty((3, len(faces)), dtype=np.int64)
    for row, (tail, head) in zip(keys, ((0, 1), (1, 2), (2, 0)), strict=True):
        low, high = np.minimum(faces[:, tail], faces[:, head]), np.maximum(faces[:, tail], faces[:, head])
        np.add(low * (2 * np.int64(count)) + 2 * high, faces[:, tail] == low, out=row)
    flat = keys.reshape(-1)
    flat.sort()
    # Closed: every edge there twice, once each way, and no edge four times.
    if not np.array_equal(flat[::2] + 1, flat[1::2]) or np.any(flat[::2] & 1):
        return False
    return not np.any(flat[2::2] == flat[:-2:2])


def _odd_edges(faces: Triangles, count: int) -> NDArray[np.int64]:
    """Directed edges whose reverse is not there exactly as often as they."""
    edges = directed_edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    key = low * np.int64(count) + high
    order = np.argsort(key)
    ordered = key[order]
    forward = (edges[:, 0] == low)[order]
    start = np.flatnonzero(np.concatenate(([True], ordered[1:] != ordered[:-1])))
    uses = np.diff(np.append(start, len(ordered)))
    ahead = np.add.reduceat(forward.astype(np.int64), start) if len(start) else np.zeros(0, dtype=np.int64)
    odd = 2 * ahead != uses
    return np.asarray(edges[order[start[odd]]])


def _mend(vertices: Points, faces: Triangles, tolerances: Tolerances) -> tuple[Points, Triangles, list[str]]:
    notes: list[str] = []
    vertices, faces = _merge_rims(vertices, faces, tolerances.merge_mm, notes)
    faces = _drop_degenerate(faces, notes)
    faces = _drop_double(faces, notes)
    if not len(faces):
        return vertices[:0], faces, notes
    faces = _drop_inner_walls(vertices, faces, notes)
    faces = _wind(vertices, faces, notes)
    faces = _close_tiny(vertices, faces, notes)
    used, renumbered = np.unique(faces, return_inverse=True)
    return vertices[used], renumbered.reshape(-1, 3), notes


def _merge_rims(vertices: Points, faces: Triangles, merge_mm: float, notes: list[str]) -> tuple[Points, Triangles]:
    rim = np.unique(_odd_edges(faces, len(vertices)))
    if not len(rim):
        return vertices, faces
    pairs = cKDTree(vertices[rim]).query_pairs(merge_mm, output_type="ndarray")
    if not len(pairs):
        return vertices, faces
    graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(rim),) * 2)
    _, label = connected_components(graph, directed=False)
    lowest = np.full(label.max() + 1, len(vertices))
    np.minimum.at(lowest, label, rim)
    target = np.arange(len(vertices))
    target[rim] = lowest[label]
    notes.append(f"{int(np.count_nonzero(target != np.arange(len(vertices))))} vertices merged along open rims")
    return vertices, target[faces]


def _drop_degenerate(faces: Triangles, notes: list[str]) -> Triangles:
    flat = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    if np.any(flat):
        notes.append(f"{int(np.count_nonzero(flat))} faces without extent dropped")
    return np.asarray(faces[~flat])


def _drop_double(faces: Triangles, notes: list[str]) -> Triangles:
    """One face of each set over the same three corners; none where two of them face each other."""
    corners = np.sort(faces, axis=1)
    _, first, inverse, uses = np.unique(corners, axis=0, return_index=True, return_inverse=True, return_counts=True)
    if np.all(uses == 1):
        return faces
    is_even = _is_even_order(faces)
    turned = np.bincount(inverse.reshape(-1), np.where(is_even, 1, -1), len(uses))
    kept = np.sort(first[(uses == 1) | (turned != 0)])
    notes.append(f"{len(faces) - len(kept)} double faces dropped")
    return np.asarray(faces[kept])


def _drop_inner_walls(vertices: Points, faces: Triangles, notes: list[str]) -> Triangles:
    """Without the sheets whose rim stands on a surface that is closed there without them, a wall inside a solid."""
    dropped = 0
    while (inner := _inner_wall(vertices, faces)) is not None:
        faces = faces[~inner]
        dropped += int(np.count_nonzero(inner))
    if dropped:
        notes.append(f"{dropped} faces of walls inside dropped")
    return faces


def _inner_wall(vertices: Points, faces: Triangles) -> NDArray[np.bool_] | None:
    """Faces of one sheet that can go; of several that could, the one without which most is enclosed."""
    count, edges = np.int64(len(vertices)), directed_edges(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    _, edge, uses = np.unique(low * count + high, return_inverse=True, return_counts=True)
    if not np.any(uses == 3):
        return None
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.argsort(edge, kind="stable")
    plain = order[uses[edge[order]] == 2].reshape(-1, 2)
    links = coo_matrix((np.ones(len(plain), dtype=np.int8), owner[plain].T), shape=(len(faces),) * 2)
    sheet = connected_components(links, directed=False)[1]
    # One way less the other: 0 where the faces at an edge cancel, and 0 after a sheet goes that alone is too much.
    way = np.where(edges[:, 0] == low, 1, -1)
    excess = np.bincount(edge, way, len(uses))
    is_rim = uses[edge] != 2
    is_extra = (uses[edge] == 3) & (excess[edge] == way)
    rim, extra = (np.bincount(sheet[owner[chosen]], minlength=sheet.max() + 1) for chosen in (is_rim, is_extra))
    able = np.flatnonzero((rim > 0) & (rim == extra))
    if not 0 < len(able) <= _MOST_SHEETS:
        return None
    left = [abs(_signed_volume(vertices, faces[sheet != number])) for number in able]
    return np.asarray(sheet == able[int(np.argmax(left))])


def _is_even_order(faces: Triangles) -> NDArray[np.bool_]:
    """Whether sorting the corners of a face keeps its winding."""
    a, b, c = faces.T
    return np.asarray(((a < b).astype(int) + (b < c) + (c < a)) == 2)


def _wind(vertices: Points, faces: Triangles, notes: list[str]) -> Triangles:
    """Neighbours wound alike: each face enters a graph twice, as it is and turned over."""
    edges = directed_edges(faces)
    count, total = len(vertices), len(faces)
    low, high = edges.min(axis=1), edges.max(axis=1)
    key = low * np.int64(count) + high
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    start = np.flatnonzero(np.concatenate(([True], ordered[1:] != ordered[:-1])))
    uses = np.diff(np.append(start, len(ordered)))
    first, second = order[start[uses == 2]], order[start[uses == 2] + 1]
    is_same_way = edges[first, 0] == edges[second, 0]
    one, two = first % total, second % total
    cross = is_same_way * total
    rows = np.concatenate((one, one + total))
    columns = np.concatenate((two + cross, two + (total - cross)))
    graph = coo_matrix((np.ones(len(rows), dtype=np.int8), (rows, columns)), shape=(2 * total,) * 2)
    _, label = connected_components(graph, directed=False)
    piece = np.minimum(label[:total], label[total:])
    turned = label[:total] > label[total:]
    turned ^= _is_mostly(turned, piece)[piece]
    wound = np.where(turned[:, None], faces[:, ::-1], faces)
    flips = int(np.count_nonzero(turned))
    if flips:
        notes.append(f"{flips} faces turned over")
    return wound


def _is_mostly(turned: NDArray[np.bool_], piece: NDArray[np.int32]) -> NDArray[np.bool_]:
    """For each piece, whether more of its faces would be turned than left: then turn the others."""
    size = int(piece.max()) + 1
    return np.asarray(np.bincount(piece, turned, size) * 2 > np.bincount(piece, minlength=size))


def _close_tiny(vertices: Points, faces: Triangles, notes: list[str]) -> Triangles:
    added = []
    for loop in rim_loops(_odd_edges(faces, len(vertices))):
        points = vertices[loop]
        rim_mm = float(np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1).sum())
        if rim_mm <= TINY_HOLE_MM:
            back = loop[::-1]
            added += [(back[0], back[i], back[i + 1]) for i in range(1, len(back) - 1)]
            place = ", ".join(f"{value:.0f}" for value in points.mean(axis=0))
            notes.append(f"hole with a rim of {rim_mm:.1f} mm closed at ({place}) mm")
    return np.vstack((faces, np.array(added, dtype=np.int64))) if added else faces


def rim_loops(edges: NDArray[np.int64]) -> list[list[int]]:
    """Directed edges chained to closed loops; edges that do not close are left out.

    Parameters
    ----------
    edges : (k, 2) int64
        Directed edges.

    Returns
    -------
    list of list of int
        Vertex numbers of each loop, in the direction of the edges, starting from the lowest start.
    """
    follow: dict[int, list[int]] = {}
    for tail, head in edges.tolist():
        follow.setdefault(tail, []).append(head)
    loops = []
    for first in sorted(follow):
        while follow.get(first):
            loop, here = [first], follow[first].pop()
            while here != first and follow.get(here):
                loop.append(here)
                here = follow[here].pop()
            if here == first and len(loop) > 2:
                loops.append(loop)
    return loops


def _signed_volume(vertices: Points, faces: Triangles) -> float:
    x, y, z = (vertices - vertices.mean(axis=0)).T
    a, b, c = faces.T
    six = x[a] * (y[b] * z[c] - z[b] * y[c]) + y[a] * (z[b] * x[c] - x[b] * z[c]) + z[a] * (x[b] * y[c] - y[b] * x[c])
    return float(six.sum()) / 6


def _place(vertices: Points, edges: NDArray[np.int64]) -> Vector:
    loops = rim_loops(edges)
    if not loops:
        return as_vector(vertices[edges[0]].mean(axis=0))
    longest = max(loops, key=lambda loop: (len(loop), -loop[0]))
    return as_vector(vertices[longest].mean(axis=0))
