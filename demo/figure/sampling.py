"""Triangles around a level set, sampled finely only where the surface is.

In: a signed field and a box. Out: a closed solid (manifold3d).
"""

from collections.abc import Callable

import numpy as np
from manifold3d import Error, Manifold, Mesh64
from numpy.typing import NDArray
from skimage.measure import marching_cubes

Field = Callable[[NDArray[np.float64]], NDArray[np.float64]]

_BLOCK = 8  # fine cells per block edge
_CHUNK = 150_000  # points evaluated at once: keeps temporaries near 100 MB


class NotASolidError(RuntimeError):
    """A level set did not come out as a closed solid."""


def level_set(
    field: Field, low: NDArray[np.float64], high: NDArray[np.float64], cell_mm: float, slack_mm: float = 6.0
) -> Manifold:
    """Return the solid where `field` is negative.

    Parameters
    ----------
    field : callable
        Maps (n, 3) mm to (n,) mm; must change by no more than about 1 mm per mm.
    low, high : (3,) float, mm
        The box; the solid must lie well inside it.
    cell_mm : float
        Edge of a marching-cubes cell.
    slack_mm : float
        How far the field may be off as a distance; blocks nearer than half their diagonal plus this are sampled.

    Raises
    ------
    NotASolidError
        When the triangles are not closed, or nothing is inside.
    """
    block_mm = cell_mm * _BLOCK
    blocks = np.ceil((high - low) / block_mm).astype(int)
    grid = _coarse_signs(field, low, block_mm, blocks)
    near = np.argwhere(np.abs(grid) < block_mm * np.sqrt(3.0) / 2.0 + slack_mm)
    fine = np.repeat(np.repeat(np.repeat(grid, _BLOCK, 0), _BLOCK, 1), _BLOCK, 2).astype(np.float32)
    offsets = np.stack(np.meshgrid(*[np.arange(_BLOCK)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    per_chunk = max(1, _CHUNK // len(offsets))
    for first in range(0, len(near), per_chunk):
        index = (near[first : first + per_chunk, None, :] * _BLOCK + offsets).reshape(-1, 3)
        values = field(low + (index + 0.5) * cell_mm)
        # An exact zero on a lattice point would collapse triangles there.
        values = np.where(np.abs(values) < 1e-3, 1e-3, values)
        fine[index[:, 0], index[:, 1], index[:, 2]] = values
    if not (fine < 0.0).any():
        raise NotASolidError(f"nothing is inside between {low} and {high} mm")
    vertices, faces, _, _ = marching_cubes(fine, 0.0)
    return solid_from(low + (vertices.astype(np.float64) + 0.5) * cell_mm, faces)


def solid_from(vertices: NDArray[np.float64], faces: NDArray[np.integer]) -> Manifold:
    """Return the largest closed body of a triangle mesh; loose crumbs of the sampling are left out.

    Raises
    ------
    NotASolidError
        When the triangles are not closed.
    """
    mesh = Mesh64(np.ascontiguousarray(vertices), np.ascontiguousarray(faces, dtype=np.uint64))
    mesh.merge()
    solid = Manifold(mesh)
    if solid.status() != Error.NoError:
        raise NotASolidError(f"{len(faces)} triangles do not close: {solid.status()}")
    if solid.volume() < 0.0:
        raise NotASolidError("the triangles are inside out")
    return max(solid.decompose(), key=lambda body: body.volume())


def _coarse_signs(
    field: Field, low: NDArray[np.float64], block_mm: float, blocks: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return the field at the block centres."""
    axes = [low[k] + (np.arange(blocks[k]) + 0.5) * block_mm for k in range(3)]
    centres = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    parts = [field(centres[i : i + _CHUNK]) for i in range(0, len(centres), _CHUNK)]
    return np.concatenate(parts).reshape(tuple(blocks))
