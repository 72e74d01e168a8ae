"""Which holes open towards the ground under the figure? Meshes and joints in, findings out.

A joint's holes have a partner opposite. Holes in what stands on the ground have none: they may be for anchors, and
nobody but the shop knows.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import numpy as np

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import PartId, natural_key
from assembler.figure.joints import Bolt, Joint
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.geometry.flats import find_flats
from assembler.geometry.holes import BoreProbe, Kind
from assembler.geometry.openings import Opening, Shape
from assembler.geometry.outlines import outlines_of
from assembler.survey.bolting import LARGEST_HOLE_MM, LEAST_HOLE_MM

GROUND_MM = 3.0
"""Faces this near to the lowest point of the figure stand on the ground."""

_DOWN = 0.99
"""Cosine: faces within 8 degrees of level."""


def ground_holes(meshes: Mapping[PartId, Mesh], joints: Sequence[Joint], up: Vector) -> list[Finding]:
    """A note for each size of holes in the foot of a part that stands on the ground; none for bolts of joints.

    Parameters
    ----------
    meshes
        In mm, in the frame of the figure.
    joints
        With all bolts.
    up
        Unit vector.
    """
    rise = np.asarray(up)
    lows = {part: float((mesh.vertices @ rise).min()) for part, mesh in meshes.items()}
    floor_mm = min(lows.values(), default=0.0)
    bolts = [bolt for joint in joints for bolt in joint.bolts]
    found = []
    for part in sorted(meshes, key=natural_key):
        if lows[part] > floor_mm + GROUND_MM:
            continue
        open_down = _open_down(meshes[part], up, floor_mm)
        widths = Counter(round(hole.width_mm, 1) for hole in open_down if not any(_is_of(bolt, hole) for bolt in bolts))
        found += [_finding(part, width, count) for width, count in sorted(widths.items())]
    return found


def _finding(part: PartId, width_mm: float, count: int) -> Finding:
    holes = "1 hole" if count == 1 else f"{count} holes"
    return Finding(
        level=Level.NOTE,
        code="holes-to-the-ground",
        about=(part,),
        message=f"{holes} of {width_mm:g} mm in the foot of {part}: anchors?",
        remedy="state 'anchors', 'anchor_size' and 'anchors_at_mm' under [base] in figure.toml; a drain hole needs "
        "nothing",
    )


def _open_down(mesh: Mesh, up: Vector, floor_mm: float) -> list[Opening]:
    """Openings of a bolt's size in the faces of a part that lie on the ground."""
    rise = np.asarray(up)
    corners = mesh.corners
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    is_level = doubled @ rise < -_DOWN * np.linalg.norm(doubled, axis=1)
    is_foot = is_level & ((corners @ rise).max(axis=1) <= floor_mm + GROUND_MM)
    chosen = np.flatnonzero(is_foot)
    if not len(chosen):
        return []
    probe = BoreProbe(mesh)
    return [
        opening
        for outline in outlines_of(mesh, find_flats(mesh, chosen, chosen))
        for opening in outline.openings
        if opening.shape is not Shape.OTHER
        and LEAST_HOLE_MM <= opening.width_mm <= LARGEST_HOLE_MM
        and probe.follow(opening, -opening.axis).kind is not Kind.SOLID
    ]


def _is_of(bolt: Bolt, hole: Opening) -> bool:
    """Whether a hole is the end of a joint's bolt."""
    arm = hole.centre_mm - np.asarray(bolt.at_mm)
    axis = np.asarray(bolt.axis)
    return float(np.linalg.norm(arm - (arm @ axis) * axis)) < hole.width_mm / 2.0
