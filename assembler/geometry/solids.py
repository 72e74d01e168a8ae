"""How large and how heavy is a solid, and which box does it fit? Mesh in, numbers out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial import ConvexHull, QhullError
from scipy.spatial.transform import Rotation

from assembler.figure.mesh import Mesh, Points
from assembler.figure.parts import Vector

_MOST_FACES = 150


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MassProperties:
    """Integrals over a solid and its surface.

    Parameters
    ----------
    volume_mm3
        Enclosed volume; of an open mesh an estimate.
    area_mm2
        Surface.
    centre_mm
        Centre of volume; centre of the box where the volume is zero.
    inertia_mm5 : (3, 3) float64
        Inertia tensor for density 1 about the centre: trace(S) E - S with S the integral of r r^T.
    third_mm6 : (3,) float64
        Integral of r |r|^2 about the centre.
    """

    volume_mm3: float
    area_mm2: float
    centre_mm: Vector
    inertia_mm5: NDArray[np.float64]
    third_mm6: NDArray[np.float64]


def bounds(mesh: Mesh) -> tuple[Vector, Vector]:
    """Lowest and highest coordinates, mm."""
    return as_vector(mesh.vertices.min(axis=0)), as_vector(mesh.vertices.max(axis=0))


def as_vector(values: NDArray[np.float64]) -> Vector:
    """Three numbers as a plain tuple."""
    return (float(values[0]), float(values[1]), float(values[2]))


def mass_properties(mesh: Mesh) -> MassProperties:
    """Volume, surface, centre and moments of the solid.

    Every triangle spans a tetrahedron with a common point; polynomials up to the third degree are integrated exactly
    over each.

    Parameters
    ----------
    mesh
        In mm; closed and outward for the numbers to be those of a solid.

    Returns
    -------
    MassProperties

    References
    ----------
    Moments of barycentric coordinates of a simplex (Dirichlet distribution with all parameters 1):
    E[a b c] = 1/120 for three different corners of a tetrahedron, 2/120 and 6/120 where two or three are the same.
    """
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    middle = (low + high) / 2
    points = mesh.vertices - middle
    a, b, c = (points[mesh.faces[:, corner]] for corner in range(3))
    normal = row_cross(b - a, c - a)
    area = float(np.sqrt(np.einsum("ij,ij->i", normal, normal)).sum() / 2)
    # Divergence theorem: six times each signed tetrahedron to the middle of the box.
    six = np.einsum("ij,ij->i", a, normal)
    volume = float(six.sum()) / 6
    total = a + b + c
    shift = six @ total / (24 * volume) if abs(volume) > 1e-12 * float(np.prod(high - low)) else np.zeros(3)
    a, b, c = a - shift, b - shift, c - shift
    six = np.einsum("ij,ij->i", a, normal)
    second, third = _moments(a, b, c, six / 6)
    # The tetrahedra of the shifted apex sum to the same solid.
    inertia = np.trace(second) * np.eye(3) - second
    return MassProperties(
        volume_mm3=volume,
        area_mm2=area,
        centre_mm=as_vector(middle + shift),
        inertia_mm5=inertia,
        third_mm6=third,
    )


def row_cross(one: Points, two: Points) -> Points:
    """Row-wise cross product; several times faster than `numpy.cross` on long arrays."""
    cross = np.empty_like(one)
    cross[:, 0] = one[:, 1] * two[:, 2] - one[:, 2] * two[:, 1]
    cross[:, 1] = one[:, 2] * two[:, 0] - one[:, 0] * two[:, 2]
    cross[:, 2] = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    return cross


def _moments(
    a: Points, b: Points, c: Points, volume: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Integrals of r r^T and of r |r|^2 over tetrahedra with a corner at the origin."""
    total = a + b + c
    weight = volume / 20
    second = np.zeros((3, 3))
    corner_part = np.zeros_like(total)
    squares = np.zeros(len(a))
    for corner in (a, b, c):
        square = np.einsum("ij,ij->i", corner, corner)
        along = np.einsum("ij,ij->i", corner, total)
        second += (corner * weight[:, None]).T @ corner
        corner_part += corner * (along + square)[:, None]
        squares += square
    second += (total * weight[:, None]).T @ total
    squares += np.einsum("ij,ij->i", total, total)
    third = (volume / 120) @ (total * squares[:, None] + 2 * corner_part)
    return second, third


def hull_points(points: Points) -> Points:
    """Corners of the convex hull; the points themselves where they are flat or fewer than four.

    Parameters
    ----------
    points : (n, 3) float64, mm
    """
    if len(points) < 5:
        return points
    try:
        return np.asarray(points[ConvexHull(points).vertices])
    except QhullError:
        return points


def fits_envelope(mesh: Mesh, envelope_mm: Vector) -> bool:
    """Whether the solid fits a box in some orientation.

    The axis-aligned box first; then every box that is flush with a face of the convex hull, turned about that face's
    normal; then a local search from the best of these. A fit that only a box flush with no face has may be missed by
    the second stage, and is what the search is for.

    Parameters
    ----------
    mesh
        Any mesh with at least one vertex.
    envelope_mm
        Edges of the box, any order.
    """
    envelope = np.sort(np.asarray(envelope_mm, dtype=np.float64)) + 1e-6
    points = mesh.vertices
    size = np.sort(points.max(axis=0) - points.min(axis=0))
    if np.all(size <= envelope):
        return True
    hull = hull_points(points)
    ball = np.linalg.norm(hull - hull.mean(axis=0), axis=1).max()
    if ball > np.linalg.norm(envelope):
        return False
    rotations = _flush_rotations(hull)
    ratio = np.array([_excess(rotation, hull, envelope) for rotation in rotations])
    if ratio.min() <= 1.0:
        return True
    starts = np.argsort(ratio, kind="stable")[:6]
    return any(_improved(rotations[start], hull, envelope) <= 1.0 for start in starts)


def _excess(rotation: NDArray[np.float64], hull: Points, envelope: NDArray[np.float64]) -> float:
    turned = hull @ rotation.T
    size = np.sort(turned.max(axis=0) - turned.min(axis=0))
    return float((size / envelope).max())


def _improved(start: NDArray[np.float64], hull: Points, envelope: NDArray[np.float64]) -> float:
    def excess(turn: NDArray[np.float64]) -> float:
        return _excess(Rotation.from_rotvec(turn).as_matrix() @ start, hull, envelope)

    simplex = np.vstack([np.zeros(3), 0.2 * np.eye(3)])
    found = minimize(excess, np.zeros(3), method="Nelder-Mead", options={"initial_simplex": simplex, "maxiter": 200})
    return float(found.fun)


def _flush_rotations(hull: Points) -> NDArray[np.float64]:
    """Rotations that lay a face of the hull on the ground and an edge of its outline along x, (k, 3, 3)."""
    normals = face_normals(hull, _MOST_FACES)
    if not len(normals):
        return np.eye(3)[None]
    found = []
    for normal in normals:
        across = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
        across /= np.linalg.norm(across)
        base = np.array([across, np.cross(normal, across), normal])
        for angle in edge_angles(hull @ base[:2].T):
            turn = np.array([[np.cos(angle), np.sin(angle), 0], [-np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]])
            found.append(turn @ base)
    return np.array(found)


def face_normals(hull: Points, most: int) -> NDArray[np.float64]:
    """Unit normals of the faces of a convex hull, outward, evenly chosen where there are more than `most`, (k, 3).

    None where the points are flat.
    """
    try:
        equations = ConvexHull(hull).equations[:, :3]
    except QhullError:
        return np.empty((0, 3))
    _, first = np.unique(np.round(equations, 2), axis=0, return_index=True)
    if len(first) > most:
        first = first[np.linspace(0, len(first) - 1, most).astype(int)]
    return np.asarray(equations[first])


def edge_angles(flat: Points) -> NDArray[np.float64]:
    """Directions of the edges of an outline, within a quarter turn; the smallest rectangle lies along one of them."""
    try:
        outline = flat[ConvexHull(flat).vertices]
    except QhullError:
        return np.zeros(1)
    edges = np.roll(outline, -1, axis=0) - outline
    angles = np.arctan2(edges[:, 1], edges[:, 0]) % (np.pi / 2)
    _, first = np.unique(np.round(angles, 2), return_index=True)
    return np.asarray(angles[first])
