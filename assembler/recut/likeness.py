"""When are two solids, two axes or two numbers 'the same'? One record of tolerances for the whole room.

Fingerprints go in, plain answers come out. Everything is judged by tolerance, never by a hash: a re-export must not
look changed because a rounding edge was crossed. The tolerance is much finer than the one `geometry.fingerprints` uses
for noisy surfaces: there a whole bolt hole disappears in 0.05 mm of skin, here it is what has to be seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from assembler.figure.parts import Fingerprint, Vector


@dataclass(frozen=True, slots=True, kw_only=True)
class Sameness:
    """How far two revisions may differ and still be called the same.

    Parameters
    ----------
    skin_mm
        Mean distance between two skins, as difference of volume over area. Single precision moves vertices by
        0.0001 mm at 2 m; text formats with two decimals by up to 0.005 mm, mostly cancelling. An 8 mm hole through a
        10 mm flange changes the skin of a 400 x 400 mm shell by about 0.002 mm.
    place_mm
        Centre of volume of the same part: averages over all vertices, so it moves far less than any of them.
    box_mm
        Faces of the box: single vertices, two decimals in text formats.
    relative
        Area and moments of inertia, as a share of themselves.
    axis_mm, tilt_deg
        A bolt axis or the centre of a joint, and its direction: what survey finds again on a re-triangulated hole.
    hole_mm, grip_mm
        Diameter of a hole; distance between its seats.
    share
        Areas, lengths, masses, volumes of adhesive: finer than what is printed.
    minutes
        Working times and holds.
    reach_mm
        Way of a hand: one and a half cells of the usual 10 mm grid.
    tip_deg
        Angle that tips what stands.
    """

    skin_mm: float = 0.001
    place_mm: float = 0.005
    box_mm: float = 0.02
    relative: float = 1e-4
    axis_mm: float = 0.1
    tilt_deg: float = 0.3
    hole_mm: float = 0.1
    grip_mm: float = 0.15
    share: float = 2e-3
    minutes: float = 0.5
    reach_mm: float = 15.0
    tip_deg: float = 0.5


SAME = Sameness()

# A body with a mirror plane has no hand, but its skew is a cube root, which blows rounding of 1e-6 up to about 1e-3 of
# what its inertia allows. Twins agree in size, which two rounding errors hardly ever do.
_HANDED = 3e-3
_TWIN_SHARE = 0.02


def is_same_shape(first: Fingerprint, second: Fingerprint, same: Sameness = SAME) -> bool:
    """Whether two solids are the same but for a movement (turned, shifted); mirror twins are not the same."""
    return _is_alike(first, second, same) and not _is_of_other_hand(first, second)


def is_in_place(first: Fingerprint, second: Fingerprint, same: Sameness = SAME) -> bool:
    """Whether two solids lie in the same place: centre and box agree."""
    return (
        distance(first.centre_mm, second.centre_mm) <= same.place_mm
        and distance_of_boxes(first.box_mm, second.box_mm) <= same.box_mm
    )


def is_unchanged(first: Fingerprint, second: Fingerprint, same: Sameness = SAME) -> bool:
    """Whether two solids are the same, in the same place."""
    return is_in_place(first, second, same) and is_same_shape(first, second, same)


def is_mirror_twin(first: Fingerprint, second: Fingerprint, same: Sameness = SAME) -> bool:
    """Whether one solid is the mirror image of the other, and not the same as it."""
    return _is_alike(first, second, same) and _is_of_other_hand(first, second)


def _is_alike(first: Fingerprint, second: Fingerprint, same: Sameness) -> bool:
    skin = max(first.area_mm2, second.area_mm2) * same.skin_mm
    if abs(first.volume_mm3 - second.volume_mm3) > skin:
        return False
    if not is_near(first.area_mm2, second.area_mm2, same.relative):
        return False
    # Of a rod the smallest moment is small against the others, and so is what rounding may do to it.
    slack = same.relative * max(*first.inertia_mm5, *second.inertia_mm5)
    pairs = zip(first.inertia_mm5, second.inertia_mm5, strict=True)
    return all(abs(a - b) <= max(same.relative * abs(a), 0.01 * slack) for a, b in pairs)


def handedness(mark: Fingerprint) -> float:
    """Third moment of a solid as a share of what its inertia allows; its sign changes in a mirror."""
    largest = max(mark.inertia_mm5)
    if largest <= 0 or mark.volume_mm3 <= 0:
        return 0.0
    return mark.skew_mm6 / (largest * math.sqrt(largest / mark.volume_mm3))


def _is_of_other_hand(first: Fingerprint, second: Fingerprint) -> bool:
    one, other = handedness(first), handedness(second)
    return min(abs(one), abs(other)) > _HANDED and abs(one + other) <= _TWIN_SHARE * max(abs(one), abs(other))


def looser(same: Sameness, factor: float) -> Sameness:
    """Tolerances for lengths that were scaled up; scaled down they stay as they are."""
    times = max(1.0, factor)
    return replace(same, skin_mm=same.skin_mm * times, place_mm=same.place_mm * times, box_mm=same.box_mm * times)


def is_near(first: float, second: float, share: float, floor: float = 1e-9) -> bool:
    """Whether two numbers differ by no more than a share of the larger, or by a floor."""
    return abs(first - second) <= max(share * max(abs(first), abs(second)), floor)


def distance(first: Sequence[float], second: Sequence[float]) -> float:
    """Distance of two points, mm."""
    return math.dist(first, second)


def distance_of_boxes(first: tuple[Vector, Vector], second: tuple[Vector, Vector]) -> float:
    """Largest difference between equal faces of two boxes, mm."""
    pairs = zip((*first[0], *first[1]), (*second[0], *second[1]), strict=True)
    return max(abs(a - b) for a, b in pairs)


def tilt_deg(first: Sequence[float], second: Sequence[float]) -> float:
    """Angle between two directions, degrees; 0 where one of them is missing."""
    lengths = math.hypot(*first) * math.hypot(*second)
    if lengths == 0:
        return 0.0
    dot = math.fsum(a * b for a, b in zip(first, second, strict=True)) / lengths
    return math.degrees(math.acos(max(-1.0, min(1.0, dot))))


def as_vector(values: Sequence[float]) -> Vector:
    """Three numbers as a vector."""
    return (float(values[0]), float(values[1]), float(values[2]))
