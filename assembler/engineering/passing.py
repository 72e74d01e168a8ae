"""Does a box pass a door, a corner, a vehicle? Edges and clear widths in, yes or no out."""

from __future__ import annotations

import math

import numpy as np

from assembler.engineering.crating import inner_mm, outer_mm
from assembler.figure.settings import Passage, Vehicle

ROOM_MM = 40.0
"""Kept free of a passage, both sides together, for wrapping and knuckles (common practice, no source)."""

_ANGLES = np.radians(np.arange(0.25, 90.0, 0.25))


def longest_round_corner_mm(way_mm: float, behind_mm: float, width_mm: float) -> float:
    """Longest level box of a width that is carried round a right-angled corner.

    Parameters
    ----------
    way_mm
        Clear width of the way up to the corner.
    behind_mm
        Clear width of the way behind it.
    width_mm
        Width of the box.

    Returns
    -------
    float
        0 where the box is wider than one of the ways.

    References
    ----------
    Plane geometry: with both ends on the outer walls at an angle t, the outer side of the box lies
    way sin t + behind cos t - length sin t cos t from the inner corner, which has to be the width or more at every t.
    Without width and with equal ways that is the ladder of textbooks: 2 sqrt(2) times the way.
    """
    if width_mm > min(way_mm, behind_mm):
        return 0.0
    sine, cosine = np.sin(_ANGLES), np.cos(_ANGLES)
    turning = float(((way_mm * sine + behind_mm * cosine - width_mm) / (sine * cosine)).min())
    # What is no longer than the way behind is wide goes on sideways, without turning.
    return max(turning, behind_mm)


def passes(size_mm: tuple[float, float, float], passage: Passage) -> bool:
    """Whether a box, length first and height last, is carried lengthwise through a passage and round its corner."""
    length, width, height = size_mm
    clear_mm = passage.width_mm - ROOM_MM
    if width > clear_mm or height > passage.height_mm - ROOM_MM:
        return False
    if not passage.turn_mm:
        return True
    return length <= longest_round_corner_mm(clear_mm, passage.turn_mm - ROOM_MM, width)


def fits_vehicle(size_mm: tuple[float, float, float], vehicle: Vehicle) -> bool:
    """Whether a box in its crate stands in a vehicle, either way round."""
    length, width, height = outer_mm(inner_mm(size_mm))
    floor = vehicle.length_mm, vehicle.width_mm
    is_low = height <= vehicle.height_mm
    return is_low and max(length, width) <= max(floor) and min(length, width) <= min(floor)


def cross_section_mm2(size_mm: tuple[float, float, float]) -> float:
    """What a box takes of a door when it is carried lengthwise."""
    return math.prod(size_mm[1:])
