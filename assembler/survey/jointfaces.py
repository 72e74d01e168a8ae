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
from assembler.words import Words

Ring = tuple[tuple[float, float], ...]

LABEL_MM = 3.4
"""Height of the numbers of the holes on paper: 9.6 pt."""
BARS_MM = (500.0, 200.0, 100.0, 50.0, 20.0, 10.0)
"""Lengths of the scale bar."""


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


def joint_face_svg(face: JointFace, words: Words, width_mm: float = 60.0, height_mm: float = 60.0) -> str:
    """The face as an SVG picture of the given size, scale chosen to fill it.

    Parameters
    ----------
    face
        From `joint_face`.
    words
        For those who cannot see it.
    width_mm, height_mm
        Size on paper.

    Returns
    -------
    str
        One <svg> element with a scale bar. Areas have class "area", holes "hole", labels "hole-label"; the last number
        of a bolt's id labels its hole, beside it.
    """
    points = np.array(
        [point for ring in face.rings for point in ring] + [hole.at_mm for hole in face.holes] or [(0.0, 0.0)]
    )
    low, high = points.min(axis=0) - 8.0, points.max(axis=0) + 8.0
    size = high - low
    # The margins for letters, and the bar below, have their size on paper.
    scale = float(max(size[0] / (width_mm - 2.0 * LABEL_MM), size[1] / (height_mm - 3.8 * LABEL_MM)))
    label, stroke = scale * LABEL_MM, scale * 0.25
    # Letters stand outside the holes, away from the middle, with room around the drawing.
    low, high = low - label, high + label
    path = " ".join("M" + " L".join(f"{x:g},{-y:g}" for x, y in ring) + " Z" for ring in face.rings)
    drawn = [
        f'<path class="area" fill-rule="evenodd" fill="#dde3ea" stroke="#3a4654" stroke-width="{stroke:.3g}" '
        f'd="{path}"/>'
    ]
    middle = points.mean(axis=0)
    for hole in face.holes:
        x, y = hole.at_mm
        away = np.array([x, y]) - middle
        far = float(np.linalg.norm(away)) or 1.0
        at = np.array([x, y]) + away / far * (hole.hole_mm / 2 + label * 0.75)
        drawn.append(
            f'<circle class="hole" cx="{x:g}" cy="{-y:g}" r="{hole.hole_mm / 2:g}" fill="#fff" stroke="#3a4654" '
            f'stroke-width="{stroke:.3g}"/>'
        )
        drawn.append(
            f'<text class="hole-label" x="{at[0]:.4g}" y="{-at[1] + label * 0.36:.4g}" text-anchor="middle" '
            f'font-size="{label:.3g}" font-weight="bold">{escape(hole.bolt.rsplit(".", 1)[-1])}</text>'
        )
    size = high - low
    drawn.append(_scale_bar(float(low[0]), -float(low[1]) + 0.4 * label, float(size[0]), label, stroke))
    box = f"{low[0]:g} {-high[1]:g} {size[0]:g} {size[1] + 1.8 * label:g}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{width_mm:g}mm" height="{height_mm:g}mm" '
        f'viewBox="{box}"><title>{escape(_said(face, words))}</title>' + "".join(drawn) + "</svg>"
    )


def _said(face: JointFace, words: Words) -> str:
    numbers = ", ".join(hole.bolt.rsplit(".", 1)[-1] for hole in face.holes)
    return words("contact.alt", joint=face.joint, numbers=numbers or words("contact.no_holes"))


def _scale_bar(x: float, y: float, width: float, label: float, stroke: float) -> str:
    """A bar of a round length, about a third of the drawing at most."""
    length = next((one for one in BARS_MM if one <= width / 3.0), BARS_MM[-1])
    return (
        f'<path class="scale" d="M{x:.4g},{y:.4g} h{length:g} M{x:.4g},{y - label * 0.3:.4g} v{label * 0.6:.3g} '
        f'M{x + length:.4g},{y - label * 0.3:.4g} v{label * 0.6:.3g}" fill="none" stroke="#1b1b1b" '
        f'stroke-width="{stroke * 1.6:.3g}"/>'
        f'<text class="scale-label" x="{x + length + label * 0.4:.4g}" y="{y + label * 0.36:.4g}" '
        f'font-size="{label:.3g}">{length:g} mm</text>'
    )
