"""Where does the surface of one body pass through itself? Mesh in, pairs of faces and places out.

Faces are gathered in small connected patches. A patch whose normals stay within a right angle of each other cannot
cross itself, nor can two neighbouring ones that do so together (Volino & Magnenat-Thalmann, Efficient self-collision
detection on smoothly discretised surface animations, Computer Graphics Forum 13 (1994); their test of the outline is
left out: a patch is a few faces wide). What is left is compared by boxes along seven directions, then face by face.

Two faces cross where the shortest move that takes them apart is longer than noise. That move is square to one of the
faces, or to an edge of each: the faces of the Minkowski difference of two triangles. A corner that only touches a face
on which it stands, a needle turned by noise and flush faces are parted by next to nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector
from assembler.geometry.flats import neighbour_pairs
from assembler.geometry.solids import as_vector, row_cross

DEEP_MM = 0.3
"""What passes through by less is noise or touches: `Tolerances.overlap_mm`, six deviations of 0.05 mm scan noise."""
_DEEP_SHARE = 0.1
"""The same as a share of the usual edge, for meshes so fine that nothing sticks out far from one face."""
_NO_DIRECTION_MM2 = 1e-9
"""Edges this nearly parallel, and faces this small, have no direction square to both."""
_FACES_ACROSS = 5.0
_RIGHT_ANGLE = np.pi / 2
_CHUNK = 1_000_000
_DIRECTIONS = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 1], [1, 1, -1], [1, -1, 1], [-1, 1, 1]], dtype=float)

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossings:
    """Where a body passes through itself.

    Parameters
    ----------
    pairs : (k, 2) int64
        Faces that pass through each other, the lower number first, ascending.
    places_mm
        Middle of each place, that with most pairs first.
    """

    pairs: Ints
    places_mm: tuple[Vector, ...]


def find_crossings(mesh: Mesh) -> Crossings | None:
    """Faces of a mesh that pass through each other; None where there are none.

    Faces that share a corner are not compared, and faces that only touch or lie on each other do not cross: those
    cross that no move of `DEEP_MM`, or of a tenth of the usual edge in finer meshes, takes apart.

    Parameters
    ----------
    mesh
        In mm; equal points are one vertex.
    """
    if len(mesh.faces) < 4:
        return None
    patches = _Patches(mesh)
    deep = min(DEEP_MM, _DEEP_SHARE * patches.edge_mm)
    found = [_crossing(mesh, pairs, deep) for pairs in _face_pairs(patches)]
    pairs = np.concatenate(found) if found else np.zeros((0, 2), dtype=np.int64)
    if not len(pairs):
        return None
    pairs = np.unique(np.sort(pairs, axis=1), axis=0)
    return Crossings(pairs=pairs, places_mm=_places(mesh, pairs, 8 * patches.edge_mm))


class _Patches:
    """Connected faces of one cell of a grid each, with their boxes and cones of normals.

    `faces[start[k]:start[k + 1]]` are the faces of patch k; `low` and `high` hold its extent along each direction.
    """

    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh
        a, b, c = (mesh.vertices[mesh.faces[:, corner]] for corner in range(3))
        cross = row_cross(b - a, c - a)
        length = np.sqrt(np.einsum("ij,ij->i", cross, cross))
        normals = cross / np.maximum(length, 1e-30)[:, None]
        # By coordinate, each in a row of its own: they are looked up one by one.
        self.low = np.ascontiguousarray(np.minimum(np.minimum(a, b), c).T)
        self.high = np.ascontiguousarray(np.maximum(np.maximum(a, b), c).T)
        links = neighbour_pairs(mesh.faces, len(mesh.vertices))
        self.edge_mm = float(np.sqrt(np.median(length)))
        label = _labels((a + b + c) / 3, normals, links, _FACES_ACROSS * self.edge_mm)
        self.faces = np.argsort(label, kind="stable")
        self.start = np.flatnonzero(np.diff(label[self.faces], prepend=-1))
        self.size = np.diff(np.append(self.start, len(label)))
        self._bound(normals, label)
        one, two = label[links[:, 0]], label[links[:, 1]]
        apart = one != two
        one, two = one[apart], two[apart]
        self.joined = np.unique(np.minimum(one, two) * np.int64(len(self.size)) + np.maximum(one, two))

    def _bound(self, normals: Points, label: Ints) -> None:
        # Written out: so thin a product costs a threaded matrix library more in waiting than in work.
        x, y, z = np.ascontiguousarray(self.mesh.vertices.T)
        corners = np.ascontiguousarray(self.mesh.faces[self.faces].T)
        self.box_low = np.empty((len(_DIRECTIONS), len(self.size)))
        self.box_high = np.empty_like(self.box_low)
        for number, direction in enumerate(_DIRECTIONS):
            along = direction[0] * x + direction[1] * y + direction[2] * z
            one, two, three = (along[corners[corner]] for corner in range(3))
            self.box_low[number] = np.minimum.reduceat(np.minimum(np.minimum(one, two), three), self.start)
            self.box_high[number] = np.maximum.reduceat(np.maximum(np.maximum(one, two), three), self.start)
        ordered = normals[self.faces]
        mean = np.add.reduceat(ordered, self.start, axis=0)
        mean /= np.maximum(np.linalg.norm(mean, axis=1), 1e-12)[:, None]
        self.mean = mean
        dot = np.einsum("ij,ij->i", ordered, np.repeat(mean, self.size, axis=0))
        self.spread = np.arccos(np.clip(np.minimum.reduceat(dot, self.start), -1.0, 1.0))


def _labels(centres: Points, normals: Points, links: Ints, cell_mm: float) -> Ints:
    """Number of the patch of each face: linked over edges that do not turn sharply, within one cell."""
    cell = np.floor((centres - centres.min(axis=0)) / max(cell_mm, 1e-9)).astype(np.int64)
    shape = cell.max(axis=0) + 1
    key = (cell[:, 0] * shape[1] + cell[:, 1]) * shape[2] + cell[:, 2]
    one, two = links[:, 0], links[:, 1]
    keep = key[one] == key[two]
    one, two = one[keep], two[keep]
    keep = np.einsum("ij,ij->i", normals[one], normals[two]) > 0.7
    graph = coo_matrix((np.ones(int(keep.sum()), dtype=np.int8), (one[keep], two[keep])), shape=(len(key),) * 2)
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def _patch_pairs(patches: _Patches) -> Iterator[Ints]:
    """Pairs of patches that may cross, in chunks; a patch that may cross itself is paired with itself."""
    alone = np.flatnonzero(patches.spread >= _RIGHT_ANGLE / 2)
    yield np.column_stack((alone, alone))
    axis = int(np.argmax(patches.box_high[:3].max(axis=1) - patches.box_low[:3].min(axis=1)))
    order = np.argsort(patches.box_low[axis], kind="stable")
    ends = np.searchsorted(patches.box_low[axis][order], patches.box_high[axis][order], side="right")
    counts = np.maximum(ends - np.arange(len(order)) - 1, 0)
    lows, highs = patches.box_low[:, order], patches.box_high[:, order]
    for begin, end in _chunks(counts):
        here = np.repeat(np.arange(begin, end), counts[begin:end])
        there = here + 1 + _counted(counts[begin:end])
        for low, high in zip(lows, highs, strict=True):
            near = np.flatnonzero((low[here] <= high[there]) & (low[there] <= high[here]))
            here, there = here[near], there[near]
        pairs = np.column_stack((order[here], order[there]))
        yield pairs[~_is_smooth(patches, pairs)]


def _is_smooth(patches: _Patches, pairs: Ints) -> NDArray[np.bool_]:
    """Whether two patches hang together and all their normals lie within a right angle of each other."""
    one, two = pairs.min(axis=1), pairs.max(axis=1)
    between = np.arccos(np.clip(np.einsum("ij,ij->i", patches.mean[one], patches.mean[two]), -1.0, 1.0))
    is_narrow = between + patches.spread[one] + patches.spread[two] < _RIGHT_ANGLE
    return np.asarray(is_narrow & np.isin(one * np.int64(len(patches.size)) + two, patches.joined))


def _face_pairs(patches: _Patches) -> Iterator[Ints]:
    """Pairs of faces with overlapping boxes and no common corner, in chunks."""
    for chosen in _patch_pairs(patches):
        sides = [_faces_at_other(patches, chosen[:, [side, 1 - side]]) for side in (0, 1)]
        counts = sides[0][1] * sides[1][1]
        starts = [np.cumsum(count) - count for _, count in sides]
        for begin, end in _chunks(counts):
            part = slice(begin, end)
            pair = np.repeat(np.arange(begin, end), counts[part])
            row, column = np.divmod(_counted(counts[part]), np.maximum(sides[1][1], 1)[pair])
            one = sides[0][0][starts[0][pair] + row]
            two = sides[1][0][starts[1][pair] + column]
            keep = np.flatnonzero((one < two) | (chosen[pair, 0] != chosen[pair, 1]))
            one, two = one[keep], two[keep]
            for low, high in zip(patches.low, patches.high, strict=True):
                keep = np.flatnonzero((low[one] <= high[two]) & (low[two] <= high[one]))
                one, two = one[keep], two[keep]
            faces = patches.mesh.faces
            shares = (faces[one][:, :, None] == faces[two][:, None, :]).any(axis=(1, 2))
            yield np.column_stack((one, two))[~shares]


def _faces_at_other(patches: _Patches, pairs: Ints) -> tuple[Ints, Ints]:
    """Faces of the first patch of each pair that reach into the box of the second, and how many there are."""
    size = patches.size[pairs[:, 0]]
    pair = np.repeat(np.arange(len(pairs)), size)
    face = patches.faces[np.repeat(patches.start[pairs[:, 0]], size) + _counted(size)]
    for axis in range(3):
        other = pairs[pair, 1]
        reach = patches.low[axis][face] <= patches.box_high[axis][other]
        reach &= patches.high[axis][face] >= patches.box_low[axis][other]
        keep = np.flatnonzero(reach)
        pair, face = pair[keep], face[keep]
    return face, np.bincount(pair, minlength=len(pairs))


def _chunks(counts: Ints) -> Iterator[tuple[int, int]]:
    """Runs of entries whose counts add up to about a chunk."""
    if not len(counts):
        return
    total = np.cumsum(counts)
    cuts = np.searchsorted(total, np.arange(_CHUNK, int(total[-1]) + _CHUNK, _CHUNK), side="right")
    edges = np.unique(np.concatenate(([0], np.minimum(cuts + 1, len(counts)), [len(counts)])))
    yield from zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)


def _counted(counts: Ints) -> Ints:
    """0, 1, ... within each run of the given lengths."""
    return np.arange(int(counts.sum()), dtype=np.int64) - np.repeat(np.cumsum(counts) - counts, counts)


def _crossing(mesh: Mesh, pairs: Ints, deep: float) -> Ints:
    """Those of the pairs that no move of the given length takes apart."""
    for side in (0, 1):
        one, two = _triangles(mesh, pairs, side), _triangles(mesh, pairs, 1 - side)
        pairs = pairs[_overlap(one, two, _normals(one)) > deep]
    one, two = _triangles(mesh, pairs, 0), _triangles(mesh, pairs, 1)
    is_deep = np.ones(len(pairs), dtype=bool)
    for first, second in product(range(3), repeat=2):
        along = [corners[:, number - 2] - corners[:, number] for corners, number in ((one, first), (two, second))]
        is_deep &= _overlap(one, two, row_cross(*along)) > deep
    return pairs[is_deep]


def _triangles(mesh: Mesh, pairs: Ints, side: int) -> Points:
    corners: Points = mesh.vertices[mesh.faces[pairs[:, side]]]
    return corners


def _normals(triangles: Points) -> Points:
    return row_cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])


def _overlap(one: Points, two: Points, along: Points) -> NDArray[np.float64]:
    """Length of the shortest move along a direction that takes two triangles apart; infinite without a direction."""
    length = np.sqrt(np.einsum("ij,ij->i", along, along))
    # From the first corner of the one: far from the origin the difference would drown in rounding.
    start = one[:, :1]
    here, there = (np.einsum("ikj,ij->ik", corners - start, along) for corners in (one, two))
    shortest = np.minimum(here.max(axis=1) - there.min(axis=1), there.max(axis=1) - here.min(axis=1))
    return np.where(length > _NO_DIRECTION_MM2, shortest / np.maximum(length, _NO_DIRECTION_MM2), np.inf)


def _places(mesh: Mesh, pairs: Ints, reach_mm: float) -> tuple[Vector, ...]:
    """Middle of each set of crossing faces that lie within reach of each other, the largest first."""
    middle = mesh.vertices[mesh.faces[np.unique(pairs)]].mean(axis=1)
    near = cKDTree(middle).query_pairs(reach_mm, output_type="ndarray")
    graph = coo_matrix((np.ones(len(near), dtype=np.int8), (near[:, 0], near[:, 1])), shape=(len(middle),) * 2)
    count, label = connected_components(graph, directed=False)
    places = []
    for number in range(count):
        chosen = middle[label == number]
        places.append((-len(chosen), as_vector(np.round(chosen.mean(axis=0), 3))))
    return tuple(place for _, place in sorted(places))
