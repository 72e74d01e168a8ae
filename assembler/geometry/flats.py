"""Which faces of a mesh lie in one plane? Growing of flat regions, clean or noisy.

A clean mesh gives its regions in one pass: neighbours whose normals agree. What that leaves is grown from seeds with
a plane that is fitted again while the region widens, so that noise on every vertex does not tear a flange apart.
Long thin faces have normals that mean nothing; they are judged by the distance of their corners from the plane.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from assembler.figure.mesh import Mesh, Points, Triangles
from assembler.geometry.circles import axis_frame

CLEAN_MM = 0.02
"""Distance from the plane that rounding to single precision and modelling leave."""
NOISY_MM = 0.25
"""Distance from the plane that 0.05 mm noise stays within (five standard deviations)."""
_OUTLIER_MM = 0.32
"""Distance of a single corner of a face that otherwise lies in the plane."""
_LEAST_MM2 = 20.0
_SEEDS = 300
_MANY_FACES = 100
"""Faces of a region that tell a form from noise before it is grown to its end."""
_SAME_FORM = 0.35
"""Correlation of the distances of neighbouring vertices from a plane: more is form, not noise."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Flat:
    """Connected faces in one plane.

    Parameters
    ----------
    normal : (3,) float64
        Unit normal, outward.
    origin : (3,) float64, mm
        A point of the plane, in the middle of the region.
    faces : (k,) int64
        Faces of the mesh, ascending.
    spread_mm
        Standard deviation of the vertices from the plane.
    """

    normal: NDArray[np.float64]
    origin: NDArray[np.float64]
    faces: NDArray[np.int64]
    spread_mm: float

    @property
    def frame(self) -> NDArray[np.float64]:
        """Two unit vectors in the plane, (2, 3), that form a right-handed frame with the normal."""
        return axis_frame(self.normal)[:2]


class _Patchwork:
    """Faces under examination: geometry and neighbours, numbered from 0."""

    def __init__(self, mesh: Mesh, chosen: NDArray[np.int64]) -> None:
        used, local = np.unique(mesh.faces[chosen], return_inverse=True)
        self.points: Points = mesh.vertices[used]
        self.faces: Triangles = local.reshape(-1, 3)
        corners = self.points[self.faces]
        cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        double = np.linalg.norm(cross, axis=1)
        self.normals = cross / np.maximum(double, 1e-30)[:, None]
        self.areas = double / 2
        longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
        self.heights = double / np.maximum(longest, 1e-30)
        self.centres = corners.mean(axis=1)
        self.neighbours = neighbour_pairs(self.faces, len(self.points))
        self.is_free = np.ones(len(chosen), dtype=bool)
        self.is_seen = np.zeros(len(chosen), dtype=bool)

    def components(self, chosen: NDArray[np.bool_], link: NDArray[np.bool_] | None = None) -> NDArray[np.int64]:
        """Label of the connected piece for each chosen face, -1 for the others."""
        pairs = self.neighbours
        keep = chosen[pairs[:, 0]] & chosen[pairs[:, 1]]
        if link is not None:
            keep &= link
        pairs = pairs[keep]
        size = len(self.faces)
        graph = coo_matrix((np.ones(len(pairs), dtype=np.int8), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
        _, label = connected_components(graph, directed=False)
        return np.where(chosen, label, -1)

    def in_plane(
        self, faces: NDArray[np.int64], normal: NDArray[np.float64], origin: NDArray[np.float64], slack_mm: float
    ) -> NDArray[np.bool_]:
        """Which of the faces are free, lie in the plane and look its way."""
        corners = self.points[self.faces[faces]]
        inside = (np.abs((corners - origin) @ normal) <= slack_mm).all(axis=1) & self.is_free[faces]
        is_thin = self.heights[faces] < 2 * slack_mm
        return np.asarray(inside & (is_thin | (self.normals[faces] @ normal > 0.7)))

    def fit(
        self, chosen: NDArray[np.bool_] | NDArray[np.int64], like: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """Plane through the corners of the chosen faces: normal, origin, and each corner's distance."""
        points = self.points[np.unique(self.faces[chosen])]
        origin = points.mean(axis=0)
        _, axes = np.linalg.eigh((points - origin).T @ (points - origin))
        normal = axes[:, 0] if axes[:, 0] @ like >= 0 else -axes[:, 0]
        return normal, origin, (points - origin) @ normal


def neighbour_pairs(faces: Triangles, count: int) -> NDArray[np.int64]:
    """Pairs of faces that share an edge (edges with more than two faces give consecutive pairs), (k, 2)."""
    ends = np.ascontiguousarray(faces.T)
    one, two = ends.reshape(-1), ends[[1, 2, 0]].reshape(-1)
    key = np.minimum(one, two) * np.int64(count) + np.maximum(one, two)
    order = np.argsort(key, kind="stable")
    same = np.flatnonzero(np.diff(key[order]) == 0)
    return np.column_stack((order[same], order[same + 1])) % len(faces)


def find_flats(mesh: Mesh, chosen: NDArray[np.int64], facing: NDArray[np.int64]) -> tuple[Flat, ...]:
    """Flat regions among the chosen faces, largest first.

    Parameters
    ----------
    mesh
        In mm.
    chosen : (k,) int64
        Faces to look at, ascending.
    facing : (j,) int64
        Those of them that face another body: only regions with such a face are of interest.

    Returns
    -------
    tuple of Flat
        Regions of at least 20 mm2. Empty where nothing is flat.
    """
    if not len(facing):
        return ()
    work = _Patchwork(mesh, chosen)
    is_facing = np.isin(chosen, facing)
    is_noisy = _is_noisy(work, is_facing)
    about = _Surroundings(work)
    found = [] if is_noisy else _clean_flats(work, about, is_facing)
    found += _noisy_flats(work, about, is_facing)
    found = _merged(work, found, is_noisy)
    if is_noisy:
        found = [_with_outliers(work, region) for region in found]
    flats = [
        Flat(normal=normal, origin=origin, faces=chosen[np.sort(region)], spread_mm=spread)
        for region, normal, origin, spread in found
    ]
    areas = [float(work.areas[region].sum()) for region, *_ in found]
    order = sorted(range(len(flats)), key=lambda index: (-areas[index], int(flats[index].faces[0])))
    return tuple(flats[index] for index in order)


_Found = tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], float]


def _is_noisy(work: _Patchwork, is_facing: NDArray[np.bool_]) -> bool:
    """Whether neighbours that face another body are hardly ever exactly in one plane though nearly so."""
    pairs = work.neighbours
    sound = is_facing & (work.heights > 10 * CLEAN_MM)
    pairs = pairs[sound[pairs[:, 0]] & sound[pairs[:, 1]]]
    agree = np.einsum("ij,ij->i", work.normals[pairs[:, 0]], work.normals[pairs[:, 1]])
    nearly = agree > np.cos(np.radians(15.0))
    exactly = agree > np.cos(np.radians(0.2))
    return bool(np.count_nonzero(exactly) < 0.3 * np.count_nonzero(nearly))


def _merged(work: _Patchwork, found: list[_Found], is_noisy: bool) -> list[_Found]:
    """Regions that touch and lie in one plane made one; the smaller joins the larger."""
    label = np.full(len(work.faces), -1)
    for number, (region, *_) in enumerate(found):
        label[region] = number
    pairs = label[work.neighbours]
    pairs = np.unique(np.sort(pairs[(pairs[:, 0] != pairs[:, 1]) & (pairs >= 0).all(axis=1)], axis=1), axis=0)
    areas = [float(work.areas[region].sum()) for region, *_ in found]
    regions: dict[int, _Found] = dict(enumerate(found))
    target = list(range(len(found)))
    for one, two in sorted(pairs.tolist(), key=lambda pair: (-max(areas[pair[0]], areas[pair[1]]), pair)):
        one, two = _root(target, one), _root(target, two)
        if one == two:
            continue
        large, small = (one, two) if areas[one] >= areas[two] else (two, one)
        joined = _joined(work, regions[large], regions[small], is_noisy)
        if joined is not None:
            regions[large] = joined
            areas[large] += areas[small]
            target[small] = large
            del regions[small]
    return [regions[number] for number in sorted(regions)]


def _root(target: list[int], number: int) -> int:
    while target[number] != number:
        number = target[number]
    return number


def _joined(work: _Patchwork, large: _Found, small: _Found, is_noisy: bool) -> _Found | None:
    region, normal, origin, _ = large
    off = np.abs((work.points[np.unique(work.faces[small[0]])] - origin) @ normal)
    agree = float(small[1] @ normal)
    is_near = off.max() <= (NOISY_MM if is_noisy else CLEAN_MM) and agree > 0.9
    # Noise has tails: one corner far off must not keep a whole piece of flange apart.
    is_near |= is_noisy and agree > 0.9986 and off.max() <= _OUTLIER_MM and np.sqrt(np.mean(off**2)) <= 0.6 * NOISY_MM
    if not is_near:
        return None
    both = np.concatenate((region, small[0]))
    normal, origin, distance = work.fit(both, normal)
    return both, normal, origin, float(np.sqrt(np.mean(distance**2)))


def _with_outliers(work: _Patchwork, found: _Found) -> _Found:
    """The region with the free faces at its edge of which one corner is too far off for noise of the usual size."""
    region, normal, origin, spread = found
    is_inside = np.zeros(len(work.points), dtype=bool)
    is_inside[work.faces[region]] = True
    off = np.abs((work.points - origin) @ normal)
    candidates = np.flatnonzero(work.is_free & (work.normals @ normal > 0.7))
    corners = work.faces[candidates]
    fits = (off[corners] <= NOISY_MM).sum(axis=1) >= 2
    fits &= (is_inside[corners].sum(axis=1) >= 2) & (off[corners] <= _OUTLIER_MM).all(axis=1)
    if not np.any(fits):
        return found
    work.is_free[candidates[fits]] = False
    return np.concatenate((region, candidates[fits])), normal, origin, spread


def _clean_flats(work: _Patchwork, about: _Surroundings, is_facing: NDArray[np.bool_]) -> list[_Found]:
    agree = np.einsum("ij,ij->i", work.normals[work.neighbours[:, 0]], work.normals[work.neighbours[:, 1]])
    is_sound = work.heights > CLEAN_MM
    label = work.components(is_sound, agree > np.cos(np.radians(0.6)))
    area = np.bincount(label[is_sound], work.areas[is_sound], len(label))
    is_met = np.zeros(len(label), dtype=bool)
    is_met[label[is_facing & is_sound]] = True
    order = np.argsort(label, kind="stable")
    starts = np.searchsorted(label[order], np.arange(len(label) + 1))
    found = []
    for number in sorted(
        np.flatnonzero((area >= _LEAST_MM2) & is_met[: len(area)]), key=lambda number: (-area[number], number)
    ):
        core = order[starts[number] : starts[number + 1]]
        core = core[work.is_free[core]]
        if work.areas[core].sum() < _LEAST_MM2:
            continue
        like = (work.normals[core] * work.areas[core, None]).sum(axis=0)
        normal, origin, distance = work.fit(core, like)
        if np.abs(distance).max() > CLEAN_MM:
            continue
        found.append(_taken(work, _spread(work, about, core, normal, origin), like))
    return found


def _spread(
    work: _Patchwork,
    about: _Surroundings,
    core: NDArray[np.int64],
    normal: NDArray[np.float64],
    origin: NDArray[np.float64],
) -> NDArray[np.int64]:
    """The core with all faces in its plane that hang together with it."""
    pieces, edge = [core], core
    seen = [core]
    work.is_seen[core] = True
    while len(edge):
        beside = about.beside(edge)
        beside = beside[~work.is_seen[beside]]
        work.is_seen[beside] = True
        seen.append(beside)
        edge = beside[work.in_plane(beside, normal, origin, CLEAN_MM)]
        pieces.append(edge)
    work.is_seen[np.concatenate(seen)] = False
    return np.concatenate(pieces)


def _taken(work: _Patchwork, region: NDArray[np.int64], like: NDArray[np.float64]) -> _Found:
    normal, origin, distance = work.fit(region, like)
    work.is_free[region] = False
    return region, normal, origin, float(np.sqrt(np.mean(distance**2)))


def _noisy_flats(work: _Patchwork, about: _Surroundings, is_facing: NDArray[np.bool_]) -> list[_Found]:
    score = np.where(work.is_free & is_facing, work.areas * work.heights, 0.0)
    found = []
    for _ in range(_SEEDS):
        seed = int(np.argmax(np.where(work.is_free, score, 0.0)))
        if score[seed] <= 0 or not work.is_free[seed]:
            break
        region = _widened(work, about, seed)
        score[seed] = 0.0
        if work.areas[region].sum() < 5 * _LEAST_MM2:
            continue
        score[region] = 0.0
        if not _is_curved(work, region, work.normals[seed]):
            found.append(_taken(work, region, work.normals[seed]))
    return found


class _Surroundings:
    """Which faces lie about a place and hang together: made once for all seeds."""

    def __init__(self, work: _Patchwork) -> None:
        one, two = np.concatenate((work.neighbours, work.neighbours[:, ::-1])).T
        size = len(work.faces)
        self._centres = work.centres
        self._link = coo_matrix((np.ones(len(one), dtype=np.int8), (one, two)), shape=(size, size)).tocsr()

    @cached_property
    def _tree(self) -> cKDTree:
        return cKDTree(self._centres)

    def beside(self, faces: NDArray[np.int64]) -> NDArray[np.int64]:
        """Neighbours of the faces, ascending."""
        return np.unique(self._link[faces].indices).astype(np.int64)

    def near(self, point: NDArray[np.float64], radius_mm: float) -> NDArray[np.int64]:
        """Faces whose centre is not farther away, ascending."""
        return np.sort(np.asarray(self._tree.query_ball_point(point, radius_mm), dtype=np.int64))

    def piece(self, faces: NDArray[np.int64], seed: int) -> NDArray[np.int64]:
        """Those of the faces that hang together with the seed, which is one of them."""
        _, label = connected_components(self._link[faces][:, faces], directed=False)
        return np.asarray(faces[label == label[np.searchsorted(faces, seed)]])


def _is_curved(work: _Patchwork, region: NDArray[np.int64], like: NDArray[np.float64]) -> bool:
    """Whether the distances from the fitted plane follow a form rather than noise.

    Noise differs from vertex to vertex; a bowl, a saddle or a wave gives neighbours nearly the same distance.
    """
    normal, origin, distance = work.fit(region, like)
    if float(distance @ distance) < len(distance) * CLEAN_MM**2:
        return False
    off = (work.points - origin) @ normal
    faces = work.faces[region]
    edges = np.unique(np.sort(np.concatenate((faces[:, :2], faces[:, 1:], faces[:, ::2])), axis=1), axis=0)
    together = float(np.mean(off[edges[:, 0]] * off[edges[:, 1]]))
    return together > _SAME_FORM * float(np.mean(off[edges] ** 2))


def _widened(work: _Patchwork, about: _Surroundings, seed: int) -> NDArray[np.int64]:
    """Faces about the seed, wider and wider, the plane fitted again each time, unless they are plainly curved."""
    normal, origin = work.normals[seed], work.centres[seed]
    radius = max(3 * float(work.heights[seed]), 6.0)
    farthest = float(np.linalg.norm(work.centres - origin, axis=1).max())
    while True:
        near = about.near(work.centres[seed], radius)
        is_inside = work.in_plane(near, normal, origin, NOISY_MM) | (near == seed)
        region = about.piece(near[is_inside], seed)
        if len(region) >= 3:
            normal, origin, _ = work.fit(region, work.normals[seed])
        # A region that ends long before has nothing more to gain.
        reach = float(np.linalg.norm(work.points[work.faces[region]] - work.centres[seed], axis=2).max())
        if radius >= farthest or reach < radius / 4:
            return region
        if len(region) >= _MANY_FACES and _is_curved(work, region, work.normals[seed]):
            return region
        radius *= 2
