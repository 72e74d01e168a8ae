"""What does a joint look like face-on? Patches and bolts in, an outline with numbered holes out, and its SVG.

For the contact sheet, on which a person checks the survey. Pure geometry: page and size are the publisher's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from assembler.figure.ids import BoltId, JointId
from assembler.figure.joints import Joint
from assembler.figure.mesh import Points
from assembler.geometry.facing import Patch, patch_rings

Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceHole:
    """A bolt seen along the joint's normal, mm."""

    bolt: BoltId
    at_mm: tuple[float, float]
    hole_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointFace:
    """A joint seen along its normal, from `parts[0]`'s side, what is up in the figure upwards where it can be.

    Parameters
    ----------
    joint
        Which.
    rings
        Outlines of the mating areas, inner ones too (fill by the even-odd rule), mm.
    holes
        Bolts listed under the joint.
    """

    joint: JointId
    rings: tuple[Ring, ...]
    holes: tuple[FaceHole, ...]


def joint_face(joint: Joint, patches: Sequence[Patch]) -> JointFace:
    """The face of a joint.

    Parameters
    ----------
    joint
        With its bolts; their ids label the holes.
    patches
        Its flat mating areas; a joint that has none gives a face without rings.
    """
    frame = _frame(np.array(joint.normal))
    centre = np.array(joint.centre_mm)

    def seen(points: Points) -> Ring:
        flat = np.round((points - centre) @ frame.T, 2)
        return tuple((float(x), float(y)) for x, y in flat)

    rings = tuple(seen(ring) for patch in patches for ring in patch_rings(patch))
    holes = tuple(
        FaceHole(bolt=bolt.id, at_mm=seen(np.array([bolt.at_mm]))[0], hole_mm=bolt.hole_mm) for bolt in joint.bolts
    )
    return JointFace(joint=joint.id, rings=rings, holes=holes)


def _frame(normal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Right and up on the sheet for somebody who looks along the normal."""
    up = np.array([0.0, 0.0, 1.0]) if abs(normal[2]) < 0.95 else np.array([0.0, 1.0, 0.0])
    up = up - normal * (up @ normal)
    up /= np.linalg.norm(up)
    return np.array([np.cross(normal, up), up])


def joint_face_svg(face: JointFace, width_mm: float = 60.0, height_mm: float = 60.0) -> str:
    """The face as an SVG picture of the given size, scale chosen to fill it.

    Parameters
    ----------
    face
        From `joint_face`.
    width_mm, height_mm
        Size on paper.

    Returns
    -------
    str
        One <svg> element. Areas have class "area", holes "hole", labels "hole-label"; the last number of a bolt's id
        labels its hole.
    """
    points = np.array(
        [point for ring in face.rings for point in ring] + [hole.at_mm for hole in face.holes] or [(0.0, 0.0)]
    )
    low, high = points.min(axis=0) - 8.0, points.max(axis=0) + 8.0
    size = high - low
    label = float(max(size[0] / width_mm, size[1] / height_mm)) * 2.6
    path = " ".join("M" + " L".join(f"{x:g},{-y:g}" for x, y in ring) + " Z" for ring in face.rings)
    stroke = label / 9
    drawn = [
        f'<path class="area" fill-rule="evenodd" fill="#dde3ea" stroke="#3a4654" stroke-width="{stroke:.3g}" '
        f'd="{path}"/>'
    ]
    for hole in face.holes:
        x, y = hole.at_mm
        drawn.append(
            f'<circle class="hole" cx="{x:g}" cy="{-y:g}" r="{hole.hole_mm / 2:g}" fill="#fff" stroke="#3a4654" '
            f'stroke-width="{stroke:.3g}"/>'
        )
        drawn.append(
            f'<text class="hole-label" x="{x + hole.hole_mm / 2 + stroke:g}" y="{-y - hole.hole_mm / 2:g}" '
            f'font-size="{label:.3g}">{escape(hole.bolt.rsplit(".", 1)[-1])}</text>'
        )
    box = f"{low[0]:g} {-high[1]:g} {size[0]:g} {size[1]:g}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" height="{height_mm:g}mm" viewBox="{box}">'
        + "".join(drawn)
        + "</svg>"
    )
