"""A finished part cut in two once more, as a shop does when a print has warped: flange, bolts, captive nuts on the cut.

Takes the part's file as it was exported; the plane has to cross one tube of it.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import trimesh
from manifold3d import CrossSection, FillRule, Manifold, Mesh, OpType

from demo.figure import posture
from demo.figure.export import stl_bytes
from demo.figure.flanges import bolt_places, drill, nut_pocket
from demo.figure.frames import Plane, Window
from demo.figure.layout import M6, Bolting, Cut
from demo.figure.truth import common_face

PART = "tail middle"
PIECES = ("tail middle upper", "tail middle lower")
_AT = 2.9  # on the tail's line; farther on, the flange would stand before the screws of the tip
# Narrower than the other flanges of the tail: a hand has to pass it.
_BOLTING: Bolting = replace(M6, wide_mm=22.0, inset_mm=11.5)
_SECTIONS = 9
_SMOOTH_MM = 0.15
_CRUMB_MM = 0.02
_SKIN_MM = 1.0  # the flange stays this far below the skin


def split_part(source: Path, target: Path) -> None:
    """Write the two pieces of the part into a folder.

    Parameters
    ----------
    source
        The part's STL file.
    target
        Folder that receives one STL file a piece.
    """
    cut = Cut(
        name="tail middle",
        plane=Plane.through(posture.TAIL_LINE(_AT), posture.TAIL_LINE(_AT, 1)),
        window=Window(low=(-1e4, -1e4, -1e4), high=(1e4, 1e4, 1e4)),
        bolting=_BOLTING,
        splits=(),
        nuts="back",
        pitch_mm=100.0,
    )
    whole = _solid(source)
    inside = _cavity(cut.plane.section(whole)).simplify(_SMOOTH_MM)
    opening = inside.offset(-_BOLTING.wide_mm).simplify(_SMOOTH_MM)
    front, back = cut.plane.split(whole + _flange(whole, cut.plane, opening))
    face = common_face(front, back, cut.plane)
    lines = tuple(np.asarray(line) for line in inside.offset(-_BOLTING.inset_mm).to_polygons())
    places = bolt_places(cut, lines, face, lambda room: (room ^ whole).volume() < 2.0)
    holes = [drill(cut, place.at, _BOLTING.thick_mm) for place in places]
    pockets = [nut_pocket(cut.plane, place.at, _BOLTING, False) for place in places]
    pieces = (
        back - Manifold.batch_boolean([*holes, *pockets], OpType.Add),
        front - Manifold.batch_boolean(holes, OpType.Add),
    )
    for name, piece in zip(PIECES, map(_largest, pieces), strict=True):
        (target / f"{name}.stl").write_bytes(stl_bytes(name, piece))


def _solid(path: Path) -> Manifold:
    mesh = trimesh.load_mesh(path)
    soup = Mesh(vert_properties=mesh.vertices.astype(np.float32), tri_verts=mesh.faces.astype(np.uint32))
    soup.merge()
    return Manifold(soup)


def _largest(solid: Manifold) -> Manifold:
    """The piece without the crumbs that sampling noise leaves along a cut."""
    return max(solid.simplify(_CRUMB_MM).decompose(), key=lambda piece: piece.volume())


def _cavity(section: CrossSection) -> CrossSection:
    """The holes of a section, filled."""
    return CrossSection([contour[::-1] for contour in section.to_polygons() if _area(contour) < 0], FillRule.NonZero)


def _filled(section: CrossSection) -> CrossSection:
    return CrossSection([contour for contour in section.to_polygons() if _area(contour) > 0], FillRule.NonZero)


def _area(contour: np.ndarray) -> float:
    x, y = np.asarray(contour).T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2.0)


def _flange(whole: Manifold, plane: Plane, opening: CrossSection) -> Manifold:
    """The flange pair, from the opening into the wall; nowhere does it reach the skin, which flares."""
    heights = np.linspace(-_BOLTING.thick_mm, _BOLTING.thick_mm, _SECTIONS)
    bodies = [_filled(plane.section(whole, height)).offset(-_SKIN_MM) for height in heights]
    outline = CrossSection.batch_boolean(bodies, OpType.Intersect).simplify(_SMOOTH_MM)
    return plane.prism(outline - opening, -_BOLTING.thick_mm, _BOLTING.thick_mm)
