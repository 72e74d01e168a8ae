"""The one tolerance record: survey, planning and verify all read the same numbers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Tolerances:
    """How far a mesh may be from the ideal before it means something.

    Parameters
    ----------
    gap_mm
        Largest distance between two faces that still mate: a modelled bond line (0.1 to 0.5 mm is usual) plus scan
        noise on both sides.
    overlap_mm
        Deepest interpenetration of two mating faces that is still noise. Collision is intersection volume above
        contact area times this depth.
    angle_deg
        Largest angle between opposed mating faces; covers 0.05 mm noise on short edges of a dense mesh.
    joint_area_mm2
        Facing area from which a contact is a joint.
    merge_mm
        Vertices nearer than this are one vertex: STL stores single precision, about 0.0001 mm at 2 m.
    graze_mm
        Overlap across a direction of travel, below which faces only slide along each other.
    """

    gap_mm: float = 0.6
    overlap_mm: float = 0.3
    angle_deg: float = 12.0
    joint_area_mm2: float = 600.0
    merge_mm: float = 0.001
    graze_mm: float = 0.5
