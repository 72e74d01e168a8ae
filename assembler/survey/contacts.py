"""Which parts touch, and over which patches? All meshes in, patches for each pair out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.facing import Patch, facing_patches
from assembler.geometry.flats import find_flats
from assembler.geometry.opposed import facing_samples, normals_and_heights
from assembler.geometry.outlines import Outline, outline_of
from assembler.geometry.samples import Grid, NearCells, Samples, grid_over, near_cells, spread_samples, thinned
from assembler.geometry.skin import open_view
from assembler.survey.seams import Outside, seam_length_mm

CELL_MM = 8.0
_THINNED_MM = 3.0
PLAY_MM = 0.2
"""Clearance beyond the bond line from which faces beside a joint are play: a sliding fit of printed parts."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """A pair of parts that face each other somewhere.

    Parameters
    ----------
    parts
        In the order of the survey.
    patches
        Largest first.
    loose
        Patches beside the bond line that stand off by more than it: play, not counted as area.
    seam_mm
        Length of their common edge that is seen from outside.
    """

    parts: tuple[PartId, PartId]
    patches: tuple[Patch, ...]
    loose: tuple[Patch, ...]
    seam_mm: float

    @property
    def area_mm2(self) -> float:
        """Net facing area."""
        return sum(patch.area_mm2 for patch in self.patches)


def find_touches(
    meshes: Mapping[PartId, Mesh],
    order: tuple[PartId, ...],
    tolerances: Tolerances,
    progress: Callable[[str], None] | None = None,
) -> tuple[Touch, ...]:
    """Every pair of parts with a mating patch, in the order given."""
    listed = [meshes[part] for part in order]
    grid = grid_over(listed, CELL_MM)
    samples = [spread_samples(mesh) for mesh in listed]
    surfaces = [
        _Surface(mesh=mesh, samples=sample, keys=grid.keys(sample.points))
        for mesh, sample in zip(listed, samples, strict=True)
    ]
    cells = [np.unique(surface.keys) for surface in surfaces]
    near = near_cells(cells, grid)
    if progress:
        progress(f"{len(near)} pairs of parts come near each other")
    outlines = _outlines(surfaces, near, grid, tolerances)
    pairs = [(pair, facing_patches(outlines[pair[0]], outlines[pair[1]], tolerances)) for pair in sorted(near)]
    pairs = [(pair, patches) for pair, patches in pairs if patches]
    outside = Outside(view=_view(cells, grid), grid=grid, meshes=listed, mating=_mating(listed, pairs))
    touches = []
    for pair, patches in pairs:
        bonded, loose = _without_play(patches)
        touches.append(
            Touch(
                parts=(order[pair[0]], order[pair[1]]),
                patches=bonded,
                loose=loose,
                seam_mm=seam_length_mm(pair, patches, outside),
            )
        )
    return tuple(touches)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Surface:
    """One mesh with its samples."""

    mesh: Mesh
    samples: Samples
    keys: NDArray[np.int64]


def _outlines(
    surfaces: list[_Surface], near: NearCells, grid: Grid, tolerances: Tolerances
) -> list[tuple[Outline, ...]]:
    """Outlines of the flat regions of each mesh that face another mesh."""
    close: list[list[NDArray[np.int64]]] = [[] for _ in surfaces]
    facing: list[list[NDArray[np.int64]]] = [[] for _ in surfaces]
    for pair in sorted(near):
        faces = _facing_faces((surfaces[pair[0]], surfaces[pair[1]]), near[pair], grid, tolerances)
        for body, cells, met in zip(pair, near[pair], faces, strict=True):
            close[body].append(cells)
            facing[body].append(met)
    result: list[tuple[Outline, ...]] = []
    for surface, there, faces_met in zip(surfaces, close, facing, strict=True):
        if not there:
            result.append(())
            continue
        chosen = np.unique(surface.samples.face[np.isin(surface.keys, np.unique(np.concatenate(there)))])
        flats = find_flats(surface.mesh, chosen, np.unique(np.concatenate(faces_met)))
        result.append(tuple(outline_of(surface.mesh, flat) for flat in flats))
    return result


def _facing_faces(
    pair: tuple[_Surface, _Surface],
    cells: tuple[NDArray[np.int64], NDArray[np.int64]],
    grid: Grid,
    tolerances: Tolerances,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    chosen, normals = [], []
    for surface, there in zip(pair, cells, strict=True):
        samples = surface.samples.at(np.isin(surface.keys, there))
        thin = thinned(samples, normals_and_heights(surface.mesh, samples.face)[1], grid, _THINNED_MM)
        chosen.append(thin)
        normals.append(normals_and_heights(surface.mesh, thin.face)[0])
    met = facing_samples(chosen[0], chosen[1], (normals[0], normals[1]), tolerances)
    return np.unique(chosen[0].face[met[0]]), np.unique(chosen[1].face[met[1]])


def _view(cells: list[NDArray[np.int64]], grid: Grid) -> NDArray[np.float32]:
    occupied = np.zeros(grid.shape, dtype=bool)
    occupied.reshape(-1)[np.unique(np.concatenate(cells))] = True
    return open_view(occupied)


def _mating(
    meshes: Sequence[Mesh], pairs: Sequence[tuple[tuple[int, int], tuple[Patch, ...]]]
) -> dict[int, NDArray[np.bool_]]:
    """For each body, which of its faces lie in a region that mates with another body."""
    result = {body: np.zeros(len(mesh.faces), dtype=bool) for body, mesh in enumerate(meshes)}
    for (one, two), patches in pairs:
        for patch in patches:
            result[one][patch.one.flat.faces] = True
            result[two][patch.two.flat.faces] = True
    return result


def _without_play(patches: tuple[Patch, ...]) -> tuple[tuple[Patch, ...], tuple[Patch, ...]]:
    """Patches that are glued, and those that only slide past each other.

    The faces that close the joint are those whose normals add up. Where faces at its side stand off farther than
    these by more than the play of a sliding fit, they are clearance.
    """
    net = sum((patch.one.flat.normal * patch.area_mm2 for patch in patches), start=np.zeros(3))
    length = float(np.linalg.norm(net))
    if length < 0.02 * sum(patch.area_mm2 for patch in patches):
        return patches, ()
    closing = [patch for patch in patches if patch.one.flat.normal @ net > 0.7 * length]
    if not closing:
        return patches, ()
    gap = float(np.average([patch.gap_mm for patch in closing], weights=[patch.area_mm2 for patch in closing]))
    loose = tuple(
        patch for patch in patches if patch.gap_mm > gap + PLAY_MM and patch.one.flat.normal @ net <= 0.7 * length
    )
    return tuple(patch for patch in patches if patch not in loose), loose
