"""Which file is which part? Names change, files are exchanged, whole exports slip; geometry tells.

The fingerprints of all files and the ledger go in; ids for files whose name does not tell, the motion of an export that
was shifted, turned or rescaled as a whole, and findings, come out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import numpy as np
from numpy.typing import NDArray

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import PartId, natural_key
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Fingerprint, Vector
from assembler.projectfiles.idledger import Ledger, PartEntry
from assembler.recut.likeness import (
    SAME,
    Sameness,
    as_vector,
    distance,
    is_in_place,
    is_same_shape,
    is_unchanged,
    looser,
)

_UNIT_SHARE = 1e-3


def renamed_files(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> dict[str, PartId]:
    """Ids of files whose geometry says something else than their name.

    Parameters
    ----------
    fingerprints
        Of every file there is now, by file name.
    ledger
        Ids given out so far.
    same
        Tolerances.

    Returns
    -------
    dict
        New names of known parts, and known names that were exchanged among parts (mirror twins swapped, say). The id
        follows the geometry, because the label sticks to the printed part. Each id occurs once. A file that is not
        in it keeps the id of its name, or is new.

    Notes
    -----
    A file that carries the solid of a part takes over its id even from a file of that part's own name, if that one
    carries something else by now: the print with that label on it is still right. Where two candidates are equally
    good, the first by natural order wins. A solid in its old place is recognised first; one that was renamed and
    moved as well only when nothing else has its shape.
    """
    by_file = {entry.file: entry for entry in ledger.parts}
    files = sorted(fingerprints, key=natural_key)
    # Files that are what their name says are settled; all others look for a part that lies exactly where they lie.
    settled = {
        by_file[file].id for file in files if file in by_file and _is_itself(fingerprints[file], by_file[file], same)
    }
    restless = [file for file in files if file not in by_file or by_file[file].id not in settled]
    entries = _by_preference(entry for entry in ledger.parts if entry.id not in settled)
    found: dict[str, PartEntry] = {}
    for file in restless:
        taken = {entry.id for entry in found.values()}
        for entry in entries:
            if entry.id not in taken and is_unchanged(fingerprints[file], entry.fingerprint, same):
                found[file] = entry
                break
    found = {file: entry for file, entry in found.items() if entry.file != file}
    found.update(_moved_and_renamed(fingerprints, entries, found, by_file, same))
    return {file: found[file].id for file in sorted(found, key=natural_key)}


def _is_itself(mark: Fingerprint, entry: PartEntry, same: Sameness) -> bool:
    return not entry.is_retired and is_unchanged(mark, entry.fingerprint, same)


def _by_preference(entries: Iterable[PartEntry]) -> list[PartEntry]:
    return sorted(entries, key=lambda entry: (entry.is_retired, natural_key(entry.id)))


def _moved_and_renamed(
    fingerprints: Mapping[str, Fingerprint],
    entries: Iterable[PartEntry],
    found: Mapping[str, PartEntry],
    by_file: Mapping[str, PartEntry],
    same: Sameness,
) -> dict[str, PartEntry]:
    """Unknown files with the shape of exactly one part whose file is gone, and the reverse."""
    claimed = {entry.id for entry in found.values()}
    gone = [e for e in entries if e.id not in claimed and e.file not in fingerprints and not e.is_retired]
    unknown = [file for file in sorted(fingerprints, key=natural_key) if file not in by_file and file not in found]
    matches = {
        file: [entry for entry in gone if is_same_shape(fingerprints[file], entry.fingerprint, same)]
        for file in unknown
    }
    claims = [entries_of[0].id for entries_of in matches.values() if len(entries_of) == 1]
    return {
        file: entries_of[0]
        for file, entries_of in matches.items()
        if len(entries_of) == 1 and claims.count(entries_of[0].id) == 1
    }


def ledger_fingerprints(ledger: Ledger) -> dict[str, Fingerprint]:
    """Fingerprint of every part in use, by file name."""
    return {entry.file: entry.fingerprint for entry in ledger.parts if not entry.is_retired}


def figure_motion(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> Motion | None:
    """How the whole export was shifted, turned or rescaled against what the ledger knows; None where it was not.

    Parameters
    ----------
    fingerprints, ledger, same
        As in `figure_shift`.
    """
    return common_motion(ledger_fingerprints(ledger), fingerprints, same)


def restated_unit(motion: Motion, was_mm: float | None, is_mm: float | None) -> Finding | None:
    """A note where the whole figure changed its size because figure.toml states another unit now; else None.

    Parameters
    ----------
    motion
        From `figure_motion`.
    was_mm, is_mm
        Length of one unit of the files, when the ledger was written and now; None: not stated.
    """
    if was_mm is None or is_mm is None or was_mm == is_mm:
        return None
    is_meant = abs(motion.factor / (is_mm / was_mm) - 1.0) < _UNIT_SHARE
    if not is_meant or max(abs(shift) for shift in motion.shift_mm) > _UNIT_SHARE * max(is_mm, was_mm):
        return None
    return Finding(
        level=Level.NOTE,
        code="unit-restated",
        about=(),
        message=f"figure.toml states another unit than at the last survey ({is_mm:g} mm instead of {was_mm:g} mm); "
        "everything was measured anew",
        remedy="look at holes and places that were written into joints.toml by hand",
    )


def figure_shift(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> Finding | None:
    """A `stop` when the whole export was shifted, turned or rescaled against what the ledger knows; else None.

    Parameters
    ----------
    fingerprints
        Of every file there is now, by file name.
    ledger
        As it was before this export: once it has taken the new fingerprints over, there is nothing left to see.
    same
        Tolerances.
    """
    motion = figure_motion(fingerprints, ledger, same)
    if motion is None:
        return None
    remedy = "export again with the origin and axes of the last export"
    if motion.factor != 1.0:
        remedy = "export again in the unit of the last export, or correct [figure] unit in figure.toml"
    remedy += _if_meant(motion)
    return Finding(
        level=Level.STOP,
        code="figure-rescaled" if motion.factor != 1.0 else "figure-shifted",
        about=(),
        message=f"the whole export is {motion.words()} against the last one ({motion.parts} parts bear it out); "
        "the plan is made as if it were not",
        remedy=remedy,
    )


def _if_meant(motion: Motion) -> str:
    """How to go on with a motion that is no slip; a shift can be taken back at every reading."""
    if motion.factor == 1.0 and motion.turn is None:
        shift = ", ".join(f"{value:.3f}" for value in motion.shift_mm)
        return f"; if it is meant, write moved_mm = [{shift}] under [figure] in figure.toml: it is taken back then"
    return "; if it is meant, start a new project: numbers and places of this one belong to the old export"


def export_slips(fingerprints: Mapping[str, Fingerprint], ledger: Ledger, same: Sameness = SAME) -> tuple[Finding, ...]:
    """A `stop` for each single part that was exported in another unit; empty when all were (see `figure_shift`).

    Parameters
    ----------
    fingerprints, ledger, same
        As in `figure_shift`.
    """
    if figure_shift(fingerprints, ledger, same) is not None:
        return ()
    known = {entry.file: entry for entry in ledger.parts if not entry.is_retired}
    slips: list[Finding] = []
    for file in sorted(fingerprints.keys() & known.keys(), key=natural_key):
        factor = factor_between(known[file].fingerprint, fingerprints[file], same)
        if factor is None or not (why := unit_slip(factor)):
            continue
        slips.append(
            Finding(
                level=Level.STOP,
                code="part-rescaled",
                about=(known[file].id,),
                message=f"{known[file].id} ({file}) is {factor:.6g} times its last size: {why}",
                remedy="export this part again in the unit of the others",
            )
        )
    return tuple(slips)


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
_MOST_FACTOR = 1e5
"""Parts are 1 mm to 50 m large: nothing that is read as either can be more times the other."""


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
    if not 1 / _MOST_FACTOR < factor < _MOST_FACTOR:
        return None
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
