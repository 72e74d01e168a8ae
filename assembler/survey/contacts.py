"""Which parts touch, and over which areas? All meshes in, flat patches and curved areas for each pair out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import PartId
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.tolerances import Tolerances
from assembler.geometry.curved import CurvedFacing, curved_facing
from assembler.geometry.facing import (
    HolePair,
    LoneHole,
    Patch,
    facing_patches,
    without_facets,
)
from assembler.geometry.flats import find_flats
from assembler.geometry.holepairs import match_openings, openings_in
from assembler.geometry.openings import Opening, Shape
from assembler.geometry.opposed import normals_and_heights
from assembler.geometry.outlines import Outline, outlines_of
from assembler.survey.nearness import FacePair, Nearness, Pair, Surface, find_nearness
from assembler.survey.seams import Outside, seam_length_mm

PLAY_MM = 0.2
"""Clearance beyond the bond line from which faces beside a joint are play: a sliding fit of printed parts."""
_LEAST_FACETS = 6
"""Fewest flat patches of one joint that may be facets of a cone or a coarse curve."""
_LEVEL, _DEEP_MM = 0.7, 1.0
"""How squarely a face lies across the axis of an opening, and how near its mouth, to be part of the mating surface."""
_LEAST_CURVED = 4
"""Fewest facing samples outside all flat patches that are worth measuring."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Touch:
    """A pair of parts that face each other somewhere.

    Parameters
    ----------
    parts
        In the order of the survey.
    patches
        Flat mating patches, largest first.
    loose
        Patches beside the bond line that stand off by more than it: play, not counted as area.
    curved
        What mates without being flat, or None.
    seam_mm
        Length of their common edge that is seen from outside.
    holes
        Pairs of holes and lone holes in mating faces that are not flat.
    """

    parts: tuple[PartId, PartId]
    patches: tuple[Patch, ...]
    loose: tuple[Patch, ...]
    curved: CurvedFacing | None
    seam_mm: float
    holes: tuple[tuple[HolePair, ...], tuple[LoneHole, ...]] = ((), ())

    @property
    def area_mm2(self) -> float:
        """Net facing area."""
        return sum(self.areas_mm2)

    @property
    def areas_mm2(self) -> tuple[float, ...]:
        """Area of each piece, the curved one last."""
        flat = tuple(patch.area_mm2 for patch in self.patches)
        return flat if self.curved is None else (*flat, self.curved.area_mm2)

    @property
    def gap_mm(self) -> float:
        """Mean distance of the faces."""
        gaps = [patch.gap_mm for patch in self.patches]
        return float(np.average(gaps if self.curved is None else [*gaps, self.curved.gap_mm], weights=self.areas_mm2))

    @property
    def centre_mm(self) -> NDArray[np.float64]:
        """Area-weighted centre of the faces."""
        centres = [patch.centre_mm for patch in self.patches]
        centres = centres if self.curved is None else [*centres, self.curved.centre_mm]
        return np.asarray(np.average(centres, axis=0, weights=self.areas_mm2))

    @property
    def normal(self) -> NDArray[np.float64]:
        """Area-weighted mean normal, of the largest piece where they cancel."""
        normals = [patch.one.flat.normal for patch in self.patches]
        normals = normals if self.curved is None else [*normals, self.curved.normal]
        mean = np.average(normals, axis=0, weights=self.areas_mm2)
        length = float(np.linalg.norm(mean))
        if length < 1e-3:
            mean = normals[int(np.argmax(self.areas_mm2))]
            length = max(float(np.linalg.norm(mean)), 1e-12)
        return np.asarray(mean / length)


def find_touches(
    meshes: Mapping[PartId, Mesh],
    order: tuple[PartId, ...],
    tolerances: Tolerances,
    *,
    up: Vector = (0.0, 0.0, 1.0),
    progress: Callable[[str], None] | None = None,
) -> tuple[Touch, ...]:
    """Every pair of parts with a mating area, in the order given; nobody looks for seams from below."""
    listed = [meshes[part] for part in order]
    near = find_nearness(listed, tolerances)
    if progress:
        progress(f"{len(near.facing)} of {len(near.cells)} neighbouring pairs of parts face each other")
    outlines = [_outlines(near, body) for body in range(len(listed))]
    patches = {pair: facing_patches(outlines[pair[0]], outlines[pair[1]], tolerances) for pair in sorted(near.facing)}
    if progress:
        progress("measuring areas and seams")
    patches, curved = _measured(near, patches, tolerances)
    flat = _flat_mating(listed, patches)
    outside = Outside(
        view=near.view(up),
        grid=near.grid,
        meshes=listed,
        mating=_with_curved(flat, curved),
    )
    touches = []
    for pair in sorted(patches):
        if not patches[pair] and curved[pair] is None:
            continue
        bonded, loose = _without_play(patches[pair])
        touches.append(
            Touch(
                parts=(order[pair[0]], order[pair[1]]),
                patches=bonded,
                loose=loose,
                curved=None if _is_play(curved[pair], bonded) else curved[pair],
                seam_mm=seam_length_mm(pair, patches[pair], curved[pair], outside),
                holes=_holes_off_plane(listed, pair, patches[pair], curved[pair]),
            )
        )
    return tuple(touches)


def _measured(
    near: Nearness, patches: dict[Pair, tuple[Patch, ...]], tolerances: Tolerances
) -> tuple[dict[Pair, tuple[Patch, ...]], dict[Pair, CurvedFacing | None]]:
    """The patches of each pair and what mates beside them; noisy facets count as curved where that finds more area."""
    listed = [surface.mesh for surface in near.surfaces]
    flat = _flat_mating(listed, patches)
    curved = {pair: _curved(near, pair, patches[pair], flat, tolerances) for pair in sorted(patches)}
    fewer = {pair: less for pair in sorted(patches) if len(less := without_facets(patches[pair])) < len(patches[pair])}
    if not fewer:
        return patches, curved
    flat = _flat_mating(listed, patches | fewer)
    for pair, less in fewer.items():
        instead = _curved(near, pair, less, flat, tolerances)
        if _area_mm2(less, instead) > _area_mm2(patches[pair], curved[pair]):
            patches, curved = patches | {pair: less}, curved | {pair: instead}
    return patches, curved


def _area_mm2(patches: Sequence[Patch], curved: CurvedFacing | None) -> float:
    return sum(patch.area_mm2 for patch in patches) + (curved.area_mm2 if curved else 0.0)


def _outlines(near: Nearness, body: int) -> tuple[Outline, ...]:
    """Outlines of the flat regions of a body that face another."""
    facing = near.facing_faces(body)
    if not len(facing):
        return ()
    mesh = near.surfaces[body].mesh
    return outlines_of(mesh, find_flats(mesh, near.close_faces(body), facing))


def _curved(
    near: Nearness, pair: Pair, patches: Sequence[Patch], flat: Sequence[NDArray[np.bool_]], tolerances: Tolerances
) -> CurvedFacing | None:
    """What of a pair faces each other outside all flat mating regions."""
    surfaces = (near.surfaces[pair[0]], near.surfaces[pair[1]])
    openings = [opening for patch in patches for outline in (patch.one, patch.two) for opening in outline.openings]
    axes = [opening for opening in openings if opening.shape is not Shape.OTHER]
    cells = []
    for side, (body, surface, facing) in enumerate(zip(pair, surfaces, near.facing[pair], strict=True)):
        rest = np.union1d(facing, _beside_facets(surface.mesh, [(patch.one, patch.two)[side] for patch in patches]))
        rest = rest[~flat[body][rest]]
        rest = rest[~_is_wall(surface.mesh, rest, axes)]
        cells.append(surface.cells_of(rest) if len(rest) >= _LEAST_CURVED else np.zeros(0, dtype=np.int64))
    # Of thinned samples not every cell at the edge of the area holds one that looks at the other body.
    around = np.union1d(*cells)
    if not len(around):
        return None
    there = near.grid.about(around)
    candidates = []
    for surface, close in zip(surfaces, near.cells[pair], strict=True):
        chosen = surface.faces_in(np.intersect1d(there, close))
        candidates.append(chosen[~_is_wall(surface.mesh, chosen, axes)])
    faces: FacePair = (candidates[0], candidates[1])
    numbers, joined = _numbered(surfaces, patches)
    flats = (numbers[0][faces[0]], numbers[1][faces[1]])
    return curved_facing(surfaces[0].mesh, surfaces[1].mesh, faces, flats, joined, tolerances)


def _beside_facets(mesh: Mesh, facets: Sequence[Outline]) -> NDArray[np.int64]:
    """Faces beside the facets of a curve that go on in their direction, too small to hold a sample of their own."""
    if len(facets) < _LEAST_FACETS:
        return np.zeros(0, dtype=np.int64)
    beyond = np.concatenate([facet.rim_beyond for facet in facets])
    like = np.repeat([facet.flat.normal for facet in facets], [len(facet.rim_beyond) for facet in facets], axis=0)
    like, beyond = like[beyond >= 0], beyond[beyond >= 0]
    normals, _ = normals_and_heights(mesh, beyond)
    return np.unique(beyond[np.einsum("ij,ij->i", normals, like) > _LEVEL])


def _numbered(
    surfaces: tuple[Surface, Surface], patches: Sequence[Patch]
) -> tuple[list[NDArray[np.int64]], NDArray[np.int64]]:
    """For each face of both bodies the number of its flat region, -1 for none; and the two numbers of each patch."""
    numbers = [np.full(len(surface.mesh.faces), -1) for surface in surfaces]
    known: dict[int, int] = {}
    joined = np.zeros((len(patches), 2), dtype=np.int64)
    for row, patch in enumerate(patches):
        for side, outline in enumerate((patch.one, patch.two)):
            joined[row, side] = number = known.setdefault(id(outline), len(known))
            numbers[side][outline.flat.faces] = number
    return numbers, joined


def _holes_off_plane(
    meshes: Sequence[Mesh], pair: Pair, patches: Sequence[Patch], curved: CurvedFacing | None
) -> tuple[tuple[HolePair, ...], tuple[LoneHole, ...]]:
    """Holes in mating faces that are curved, or facets of a curve."""
    if curved is None and len(patches) < _LEAST_FACETS:
        return (), ()
    found = []
    for side, body in enumerate(pair):
        outlines = [(patch.one, patch.two)[side] for patch in patches]
        faces = [outline.flat.faces for outline in outlines] + ([curved.faces[side]] if curved else [])
        known = [opening for outline in outlines for opening in outline.openings if opening.shape is not Shape.OTHER]
        found.append(openings_in(meshes[body], np.unique(np.concatenate(faces)), known))
    return match_openings(found[0], found[1])


def _is_wall(mesh: Mesh, faces: NDArray[np.int64], axes: Sequence[Opening]) -> NDArray[np.bool_]:
    """Whether faces lie within the rim of an opening and not on the surface round it: walls of pins and sockets."""
    centres = mesh.vertices[mesh.faces[faces]].mean(axis=1)
    normals, _ = normals_and_heights(mesh, faces)
    is_wall = np.zeros(len(faces), dtype=bool)
    for opening in axes:
        off = centres - opening.centre_mm
        along = off @ opening.axis
        across = np.linalg.norm(off - along[:, None] * opening.axis, axis=1)
        is_level = (np.abs(normals @ opening.axis) > _LEVEL) & (np.abs(along) < _DEEP_MM)
        is_wall |= (across <= opening.length_mm / 2 + 0.7) & ~is_level
    return is_wall


def _flat_mating(meshes: Sequence[Mesh], patches: Mapping[Pair, Sequence[Patch]]) -> list[NDArray[np.bool_]]:
    """For each body, which of its faces lie in a flat region that mates with another body."""
    result = [np.zeros(len(mesh.faces), dtype=bool) for mesh in meshes]
    for one, two in patches:
        for patch in patches[one, two]:
            result[one][patch.one.flat.faces] = True
            result[two][patch.two.flat.faces] = True
    return result


def _with_curved(
    flat: Sequence[NDArray[np.bool_]], curved: Mapping[Pair, CurvedFacing | None]
) -> list[NDArray[np.bool_]]:
    """The same with the faces that mate without being flat."""
    result = [is_mating.copy() for is_mating in flat]
    for pair, found in curved.items():
        for body, faces in zip(pair, found.faces if found else (), strict=False):
            result[body][faces] = True
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


def _is_play(curved: CurvedFacing | None, bonded: Sequence[Patch]) -> bool:
    if curved is None or not bonded:
        return False
    gap = np.average([patch.gap_mm for patch in bonded], weights=[patch.area_mm2 for patch in bonded])
    return bool(curved.gap_mm > gap + PLAY_MM)
