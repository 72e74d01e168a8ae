"""Did the whole figure move? A shifted, turned or rescaled export, told from parts that were really re-cut.

Two sets of fingerprints with equal keys go in; one `Motion` comes out, or None.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np
from numpy.typing import NDArray

from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint, Vector
from assembler.recut.likeness import SAME, Sameness, as_vector, distance, is_in_place, is_same_shape, looser

# Units that exports mix up, as the factor of the mistake.
_UNIT_SLIPS = {
    1000.0: "metres read as millimetres, or the reverse",
    0.001: "metres read as millimetres, or the reverse",
    100.0: "metres read as centimetres, or the reverse",
    0.01: "metres read as centimetres, or the reverse",
    25.4: "inches read as millimetres, or the reverse",
    1 / 25.4: "inches read as millimetres, or the reverse",
    10.0: "centimetres read as millimetres, or the reverse",
    0.1: "centimetres read as millimetres, or the reverse",
    2.54: "inches read as centimetres, or the reverse",
    1 / 2.54: "inches read as centimetres, or the reverse",
}
_FACTOR_SHARE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """What carries every part of the old figure to its place in the new one: factor, then turn, then shift.

    Parameters
    ----------
    factor
        1 where the size is kept.
    shift_mm
        Added after scaling and turning.
    turn
        Rows of the rotation matrix; None when nothing is turned.
    parts
        How many parts bear it out.
    """

    factor: float
    shift_mm: Vector
    turn: tuple[Vector, Vector, Vector] | None
    parts: int

    def words(self) -> str:
        """What happened to the figure, in words."""
        pieces = []
        if self.factor != 1.0:
            slip = unit_slip(self.factor)
            pieces.append(f"rescaled by a factor of {self.factor:.6g}" + (f" ({slip})" if slip else ""))
        if self.turn is not None:
            pieces.append(f"turned by {_turn_deg(self.turn):.1f} degrees")
        if math.hypot(*self.shift_mm) > SAME.place_mm:
            pieces.append("shifted by (" + ", ".join(f"{value:.2f}" for value in self.shift_mm) + ") mm")
        return " and ".join(pieces)


def moved_back(mesh: Mesh, motion: Motion) -> Mesh:
    """The mesh where it was before the whole figure went through a motion."""
    points = (mesh.vertices - np.array(motion.shift_mm)) / motion.factor
    if motion.turn is not None:
        # The inverse of a rotation is its transpose; points are rows.
        points = points @ np.array(motion.turn)
    return Mesh(vertices=points, faces=mesh.faces)


def unit_slip(factor: float) -> str:
    """Which units were mixed up, in words; empty where the factor is no ratio of usual units."""
    return next((why for unit, why in _UNIT_SLIPS.items() if abs(factor / unit - 1) < _FACTOR_SHARE), "")


def rescaled(mark: Fingerprint, factor: float) -> Fingerprint:
    """The fingerprint of a solid that is `factor` times larger, scaled about the origin."""
    return Fingerprint(
        volume_mm3=mark.volume_mm3 * factor**3,
        area_mm2=mark.area_mm2 * factor**2,
        centre_mm=_times(mark.centre_mm, factor),
        inertia_mm5=_times(mark.inertia_mm5, factor**5),
        skew_mm6=mark.skew_mm6 * factor**6,
        low_mm=_times(mark.low_mm, factor),
        high_mm=_times(mark.high_mm, factor),
    )


def shifted(mark: Fingerprint, shift_mm: Vector) -> Fingerprint:
    """The fingerprint of a solid at another place."""
    return replace(
        mark,
        centre_mm=plus(mark.centre_mm, shift_mm),
        low_mm=plus(mark.low_mm, shift_mm),
        high_mm=plus(mark.high_mm, shift_mm),
    )


def factor_between(old: Fingerprint, new: Fingerprint, same: Sameness = SAME) -> float | None:
    """How many times larger the same shape has become; None where the shape differs. Exact ratios are snapped to."""
    if old.volume_mm3 <= 0 or new.volume_mm3 <= 0:
        return None
    factor = math.cbrt(new.volume_mm3 / old.volume_mm3)
    factor = next((unit for unit in (1.0, *_UNIT_SLIPS) if abs(factor / unit - 1) < _FACTOR_SHARE), factor)
    # Compared at the larger of both sizes, so that rounding of the small one does not hide a difference.
    if factor >= 1:
        return factor if is_same_shape(rescaled(old, factor), new, looser(same, factor)) else None
    return factor if is_same_shape(old, rescaled(new, 1 / factor), looser(same, 1 / factor)) else None


def common_motion(
    old: Mapping[str, Fingerprint], new: Mapping[str, Fingerprint], same: Sameness = SAME
) -> Motion | None:
    """The one motion that the whole figure went through; None where it stayed, or where parts moved one by one.

    Parameters
    ----------
    old, new
        Fingerprints by id or file; only common keys are looked at.
    same
        Tolerances.

    Returns
    -------
    Motion or None
        Only when every part whose shape is known again went the same way, these are more than half of all, no part
        stayed in its place, and no re-cut part kept a face across the way of the others: otherwise parts were moved
        on purpose.
    """
    keys = sorted(old.keys() & new.keys())
    factors = {key: factor for key in keys if (factor := factor_between(old[key], new[key], same)) is not None}
    if len(factors) * 2 <= len(keys):
        return None
    factor = _agreed_factor(list(factors.values()))
    if factor is None or any(is_in_place(old[key], new[key], same) for key in factors):
        return None
    known = sorted(factors)
    start = np.array([_times(old[key].centre_mm, factor) for key in known])
    end = np.array([new[key].centre_mm for key in known])
    slack_mm = same.box_mm * max(1.0, factor)
    shift = _median_shift(start, end)
    if np.abs(end - start - shift).max() <= slack_mm:
        is_shifted = distance(shift, (0.0, 0.0, 0.0)) > slack_mm
        if factor == 1.0 and (
            not is_shifted or _holds_on(old, new, shift, [key for key in keys if key not in factors])
        ):
            return None
        return Motion(factor=factor, shift_mm=shift if is_shifted else (0.0, 0.0, 0.0), turn=None, parts=len(known))
    return _turned(start, end, factor, slack_mm)


def _agreed_factor(factors: Sequence[float]) -> float | None:
    middle = median(factors)
    return middle if all(abs(factor / middle - 1) < _FACTOR_SHARE for factor in factors) else None


def _holds_on(
    old: Mapping[str, Fingerprint], new: Mapping[str, Fingerprint], shift: Vector, recut: Sequence[str]
) -> bool:
    """Whether a re-cut part reaches from where it was to where the others went: one face of it stayed."""
    axes = [axis for axis in range(3) if abs(shift[axis]) > SAME.box_mm]
    return any(
        abs(old[key].box_mm[end][axis] - new[key].box_mm[end][axis]) <= SAME.box_mm
        for key in recut
        for axis in axes
        for end in (0, 1)
    )


def _median_shift(start: NDArray[np.float64], end: NDArray[np.float64]) -> Vector:
    middle = np.median(end - start, axis=0)
    return as_vector([round(float(value), 4) + 0.0 for value in middle])


def _turned(start: NDArray[np.float64], end: NDArray[np.float64], factor: float, slack_mm: float) -> Motion | None:
    """The rotation that fits the centres best, if it fits them all.

    References
    ----------
    W. Kabsch, Acta Crystallographica A32 (1976) 922: the best rotation between two sets of points.
    """
    if len(start) < 3:
        return None
    start_middle, end_middle = start.mean(axis=0), end.mean(axis=0)
    left, strength, right = np.linalg.svd((start - start_middle).T @ (end - end_middle))
    # Centres on one line leave the turn about that line open.
    if strength[1] < 1e-6 * strength[0]:
        return None
    sign = float(np.sign(np.linalg.det(right.T @ left.T)))
    rotation = right.T @ np.diag([1.0, 1.0, sign]) @ left.T
    shift = end_middle - rotation @ start_middle
    if np.abs(start @ rotation.T + shift - end).max() > slack_mm:
        return None
    rows = (as_vector(rotation[0]), as_vector(rotation[1]), as_vector(rotation[2]))
    return Motion(factor=factor, shift_mm=as_vector(shift), turn=rows, parts=len(start))


def _turn_deg(turn: tuple[Vector, Vector, Vector]) -> float:
    trace = turn[0][0] + turn[1][1] + turn[2][2]
    return math.degrees(math.acos(max(-1.0, min(1.0, (trace - 1) / 2))))


def _times(vector: Vector, factor: float) -> Vector:
    return (vector[0] * factor, vector[1] * factor, vector[2] * factor)


def plus(vector: Vector, shift_mm: Vector) -> Vector:
    """A point at another place."""
    return (vector[0] + shift_mm[0], vector[1] + shift_mm[1], vector[2] + shift_mm[2])
