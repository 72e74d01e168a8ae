"""How finished pieces are joined: finds each pair's common face, places bolts, and collects holes and pockets."""

from dataclasses import dataclass, field
from itertools import product

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold, OpType
from numpy.typing import NDArray

from demo.figure import timber
from demo.figure.flanges import Place, bolt_places, drill, nut_pocket
from demo.figure.frames import Plane, circle
from demo.figure.lantern import Tie, bolt_points
from demo.figure.layout import Cut
from demo.figure.truth import BESIDE_MM, Bolt, Joint, common_face, seam_length_mm

_LEAST_FACE_MM2 = 300.0  # smaller common faces are chance contact of two parts at a crossing
_FREE_MM3 = 2.0  # sampling noise of a tool's room against a wall


@dataclass(slots=True)
class Joinery:
    """Parts under work; joints and drillings collect here until all bolts are placed.

    Attributes
    ----------
    parts : dict of str to Manifold
        Parts without holes; left as they are.
    sides : dict of str to frozenset
        For each part that was cut from the figure, the sides of the cuts on which it lies.
    bodies : tuple of Manifold
        The uncut figure, for the seam's length on the skin; in pieces where its skin was sampled differently.
    """

    parts: dict[str, Manifold]
    sides: dict[str, frozenset[tuple[str, str]]]
    bodies: tuple[Manifold, ...]
    joints: list[Joint] = field(default_factory=list)
    _drillings: dict[str, list[Manifold]] = field(default_factory=dict)

    def bolt_cut(self, cut: Cut, lines: tuple[NDArray[np.float64], ...]) -> None:
        """Bolt and bond every pair of parts that were parted by a cut and face each other there."""
        outline = self._skin_outline(cut)
        for front, back in product(self._on_side(cut, "front"), self._on_side(cut, "back")):
            face = common_face(self.parts[front], self.parts[back], cut.plane)
            if face.area() >= _LEAST_FACE_MM2:
                places = bolt_places(cut, lines, face, self._is_free)
                self._close(cut, (front, back), "bolted and bonded", places, seam_length_mm(face, outline))

    def bolt_down(self, cut: Cut, lines: tuple[NDArray[np.float64], ...]) -> None:
        """Bolt every part that stands on the base through the deck, heads inside the figure."""
        outline = self._skin_outline(cut)
        for front in sorted(self.sides):
            face = common_face(self.parts[front], self.parts[timber.NAME], cut.plane)
            if face.area() >= _LEAST_FACE_MM2:
                places = bolt_places(cut, lines, face, lambda room: self._is_free(room, timber.NAME))
                self._close(cut, (front, timber.NAME), "bolted", places, seam_length_mm(face, outline))

    def tie(self, tie: Tie) -> None:
        """Join two pieces of the lantern at its drawn screw places."""
        plane = tie.cut.plane
        outline = plane.section(self.parts[tie.back], -0.01) ^ plane.section(self.parts[tie.front], 0.01)
        outer = _filled(outline)
        method = "bolted and bonded" if tie.bolt_angles_deg else "bonded"
        places = [Place(at=at, head_in_front=tie.cut.nuts == "back") for at in bolt_points(tie)]
        self._close(tie.cut, (tie.front, tie.back), method, places, seam_length_mm(outline, outer))

    def bond(self, front: str, back: str, plane: Plane, seam_mm: float) -> None:
        """Join two parts by adhesive alone."""
        area = common_face(self.parts[front], self.parts[back], plane).area()
        self.joints.append(Joint(parts=(front, back), method="bonded", bond_area_mm2=area, seam_mm=seam_mm, bolts=()))

    def drilled(self) -> dict[str, Manifold]:
        """Return all parts with their holes and nut pockets."""
        return {
            name: Manifold.batch_boolean([part, *self._drillings.get(name, [])], OpType.Subtract)
            for name, part in self.parts.items()
        }

    def _skin_outline(self, cut: Cut) -> CrossSection:
        """Return the outline at a cut of the uncut figure: where the skin on both sides agrees."""
        front, back = (
            CrossSection.batch_boolean([cut.plane.section(body, side * BESIDE_MM) for body in self.bodies], OpType.Add)
            for side in (1.0, -1.0)
        )
        return front ^ back

    def _on_side(self, cut: Cut, side: str) -> list[str]:
        return sorted(name for name, sides in self.sides.items() if (cut.name, side) in sides)

    def _close(self, cut: Cut, pair: tuple[str, str], method: str, places: list[Place], seam_mm: float) -> None:
        """Record a joint and the drilling it needs."""
        size, plane = cut.bolting, cut.plane
        below_mm = timber.DECK_MM if timber.NAME in pair else size.thick_mm
        captive = {"front": pair[0], "back": pair[1]}.get(cut.nuts)
        holes = [drill(cut, place.at, below_mm) for place in places]
        for name in pair:
            self._drillings.setdefault(name, []).extend(holes)
        if captive is not None:
            pockets = [nut_pocket(plane, place.at, size, cut.nuts == "front") for place in places]
            self._drillings.setdefault(captive, []).extend(pockets)
        face = common_face(self.parts[pair[0]], self.parts[pair[1]], plane)
        face -= CrossSection.batch_boolean([circle(size.hole_mm / 2.0, place.at) for place in places], OpType.Add)
        bolts = tuple(
            Bolt(
                at=as_triple(plane.point(*place.at)),
                axis=plane.normal,
                hole_mm=size.hole_mm,
                grip_mm=size.thick_mm + below_mm - (size.pocket_mm if captive is not None else 0.0),
                captive=captive,
            )
            for place in places
        )
        self.joints.append(Joint(parts=pair, method=method, bond_area_mm2=face.area(), seam_mm=seam_mm, bolts=bolts))

    def _is_free(self, room: Manifold, ignored: str | None = None) -> bool:
        """Say whether a tool's room meets no part."""
        low, high = np.split(np.asarray(room.bounding_box()), 2)
        for name, part in self.parts.items():
            if name == ignored:
                continue
            a, b = np.split(np.asarray(part.bounding_box()), 2)
            if np.all(a < high) and np.all(b > low) and (part ^ room).volume() > _FREE_MM3:
                return False
        return True


def as_triple(vector: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return a point as plain numbers."""
    return (float(vector[0]), float(vector[1]), float(vector[2]))


def _filled(outline: CrossSection) -> CrossSection:
    """Return an outline without its holes; concave places stay as they are."""
    return CrossSection([contour for contour in outline.to_polygons() if _signed_area(contour) > 0], FillRule.NonZero)


def _signed_area(contour: NDArray[np.float64]) -> float:
    x, y = np.asarray(contour).T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2.0)
