"""What joins what in the generated figure: areas, seams and bolts, as they were drawn.

These numbers come from the drawing (plane sections), never from finding joints in finished meshes,
so that a survey of the meshes can be held against them.
"""

from dataclasses import dataclass

from manifold3d import CrossSection, Manifold

from demo.figure.frames import Plane

BESIDE_MM = 0.01  # sections are taken this far inside each part: on the plane itself 'inside' is undecided
_EDGE_MM = 0.02  # width of the strip whose area measures the length of the skin line


@dataclass(frozen=True, slots=True, kw_only=True)
class Bolt:
    """A bolt as drawn; `at` is the point of its axis in the bond plane (mm)."""

    at: tuple[float, float, float]
    axis: tuple[float, float, float]
    hole_mm: float
    grip_mm: float
    captive: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A pair of parts and how they are joined."""

    parts: tuple[str, str]
    method: str
    bond_area_mm2: float
    seam_mm: float
    bolts: tuple[Bolt, ...]


def common_face(front: Manifold, back: Manifold, plane: Plane) -> CrossSection:
    """Return the area in which two parts face each other at a plane, in its local coordinates."""
    return plane.section(front, BESIDE_MM) ^ plane.section(back, -BESIDE_MM)


def seam_length_mm(face: CrossSection, body_outline: CrossSection) -> float:
    """Return the length of the outline of the whole body that borders a common face."""
    rim = body_outline - body_outline.offset(-_EDGE_MM)
    return float((rim ^ face).area() / _EDGE_MM)


def as_record(joint: Joint, digits: int = 4) -> dict[str, object]:
    """Return a joint as plain data for the truth file."""
    return {
        "files": [f"{name}.stl" for name in joint.parts],
        "method": joint.method,
        "bond_area_mm2": round(joint.bond_area_mm2, 1),
        "seam_mm": round(joint.seam_mm, 1),
        "bolts": [
            {
                "at": [round(v, digits) for v in bolt.at],
                "axis": [round(v, 9) for v in bolt.axis],
                "hole_mm": bolt.hole_mm,
                "grip_mm": bolt.grip_mm,
                "captive": None if bolt.captive is None else f"{bolt.captive}.stl",
            }
            for bolt in joint.bolts
        ],
    }
