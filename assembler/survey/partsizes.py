"""Can parts of these sizes belong to one figure? Boxes of all bodies in, faults out, before anything rests on them.

A wrong unit is the commonest slip: it makes a figure of kilometres or of specks. What follows from sizes (samples,
grids) is made only after this has been asked.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np

from assembler.errors import Fault
from assembler.geometry.meshfiles import MOST_BODIES
from assembler.geometry.samples import most_area_mm2
from assembler.projectfiles.figurefile import UNITS_MM
from assembler.survey.intakebody import IntakeBody

LARGEST_PART_MM = 50_000.0
"""No printer, truck or crew takes a part of this size: the unit is wrong."""
SMALLEST_PART_MM = 1.0
"""Smaller than a printer's nozzle draws: the unit is wrong."""
FARTHEST_MM = 1_000_000.0
"""Coordinates from here on lose hundredths of a millimetre in files of single precision."""
LARGEST_FIGURE_MM = 100_000.0
"""Across all parts; what lies farther apart is no figure."""
MOST_RATIO = 20.0
"""How many times larger than the middle part: below the factor of inches read as millimetres, above real figures
(the widest seen is 6)."""

MOST_IN_ONE_PLACE = 20
"""Bodies of one size in one place: shells within shells are three or four, copies are an export gone wrong, and each
pair of them would be measured."""
_SAME_PLACE_SHARE = 0.05
"""How far sides of their boxes may lie apart, as a share of the size."""

_SLIPS: Mapping[float, str] = {25.4: "millimetres against inches", 1000.0: "millimetres against metres"}
_WORDS: Mapping[str, str] = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches"}
_USUAL_PART_MM = (30.0, 3000.0)
"""Size of the middle part of figures that are cut for printers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sized:
    """A body with its box, mm, and what was counted as one unit."""

    file: str
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    area_mm2: float
    unit_mm: float

    @property
    def size_mm(self) -> float:
        return max(b - a for a, b in zip(self.low, self.high, strict=True))

    @property
    def reach_mm(self) -> float:
        return max(abs(value) for value in (*self.low, *self.high))


def size_faults(folder: Path, bodies: Sequence[IntakeBody]) -> list[Fault]:
    """What about the sizes cannot be; empty where they can be those of one figure.

    Parameters
    ----------
    folder
        Where the files lie, for the words.
    bodies
        Everything that was read, in mm.
    """
    if len(bodies) > MOST_BODIES:
        wrong = f"{len(bodies)} loose pieces, more than the {MOST_BODIES} parts of the largest figures"
        return [_fault(folder, "", wrong, "weld each part's triangles into one surface and export again")]
    sized = [_sized(body) for body in bodies]
    middle = median(body.size_mm for body in sized)
    # Parts of real figures are smaller: together these get the room that a single body may take.
    is_vast = _extent(sized) > LARGEST_FIGURE_MM or sum(body.area_mm2 for body in sized) > most_area_mm2()
    is_apart = middle > _USUAL_PART_MM[1] and is_vast
    if is_apart or not SMALLEST_PART_MM <= middle <= LARGEST_PART_MM:
        return [_wrong_unit(folder, sized, middle)]
    piled = _piled(sized)
    if piled is not None:
        count, name = piled
        wrong = f"{count} bodies of one size lie in one place, at most {MOST_IN_ONE_PLACE} are surveyed"
        return [_fault(folder, name, wrong, "export each part once, where it belongs in the figure")]
    found = [fault for body in sized if (fault := _size_fault(folder, body, middle, len(sized))) is not None]
    return found or list(_spread_faults(folder, sized))


def _sized(body: IntakeBody) -> _Sized:
    low, high = body.fingerprint.box_mm
    return _Sized(file=body.file, low=low, high=high, area_mm2=body.fingerprint.area_mm2, unit_mm=body.unit_mm)


def _piled(sized: Sequence[_Sized]) -> tuple[int, str] | None:
    """How many bodies lie where one of them lies, and that one; None where there are not too many."""
    boxes = np.array([(*body.low, *body.high) for body in sized])
    for body, box in zip(sized, boxes, strict=True):
        apart = np.abs(boxes - box).max(axis=1)
        count = int(np.count_nonzero(apart <= _SAME_PLACE_SHARE * body.size_mm))
        if count > MOST_IN_ONE_PLACE:
            return count, body.file
    return None


def _extent(sized: Sequence[_Sized]) -> float:
    """Largest dimension of all bodies together, mm."""
    low, high = np.min([body.low for body in sized], axis=0), np.max([body.high for body in sized], axis=0)
    return float((high - low).max())


def _wrong_unit(folder: Path, sized: Sequence[_Sized], middle: float) -> Fault:
    """One line for a figure that is too large or too small as a whole."""
    size = "large" if middle > _USUAL_PART_MM[1] else "small"
    wrong = f"the parts are too {size}: the middle one measures {_length(middle)}"
    likely = likely_unit(middle / sized[0].unit_mm)
    if likely is None:
        return _fault(folder, "", wrong, "export them again in millimetres")
    right = f'{_WORDS[likely]}? survey with --unit {likely}, or unit = "{likely}" in figure.toml if there is one'
    return _fault(folder, "", wrong, right)


def likely_unit(size: float) -> str | None:
    """The unit in which a number is the size of a usual part; None where it is in none.

    Parameters
    ----------
    size
        Largest dimension of the middle part, as the files state it.
    """
    least, most = _USUAL_PART_MM
    fitting = [name for name, unit_mm in UNITS_MM.items() if least <= size * unit_mm <= most]
    return fitting[0] if fitting else None


def _size_fault(folder: Path, body: _Sized, middle: float, count: int) -> Fault | None:
    """What one body's size says beside the others."""
    if body.size_mm == 0.0:
        return _fault(folder, body.file, "has no extent", "export it again")
    is_outlier = count >= 3 and body.size_mm >= MOST_RATIO * middle
    is_fitting = SMALLEST_PART_MM <= body.size_mm <= LARGEST_PART_MM and not is_outlier
    if is_fitting and body.area_mm2 <= most_area_mm2():
        return None
    if is_fitting:
        wrong = f"has {body.area_mm2 / 1e6:.0f} m2 of surface, at most {most_area_mm2() / 1e6:.0f} can be surveyed"
        return _fault(folder, body.file, wrong, "export it again in the unit of the others, or cut it into parts")
    is_large = body.size_mm > middle
    ratio = body.size_mm / middle if is_large else middle / body.size_mm
    wrong = f"measures {_length(body.size_mm)}"
    if count >= 3:
        wrong += f", {ratio:.3g} times {'more' if is_large else 'less'} than most parts"
    return _fault(folder, body.file, wrong, f"{_guess(ratio)}export it again in the unit of the others")


def _guess(ratio: float) -> str:
    """Which slip of units a ratio may be, as a question; empty where it is none."""
    closest = min(_SLIPS, key=lambda factor: abs(math.log(ratio / factor)))
    return f"{_SLIPS[closest]}? " if abs(math.log(ratio / closest)) < math.log(4.0) else ""


def _spread_faults(folder: Path, sized: Sequence[_Sized]) -> Iterable[Fault]:
    """Bodies that lie too far from the origin or from the others."""
    centres = np.array([[(a + b) / 2 for a, b in zip(body.low, body.high, strict=True)] for body in sized])
    away = np.abs(centres - np.median(centres, axis=0)).max(axis=1)
    for body, apart in zip(sized, away.tolist(), strict=True):
        if body.reach_mm > FARTHEST_MM or apart > LARGEST_FIGURE_MM:
            far = max(body.reach_mm if body.reach_mm > FARTHEST_MM else 0.0, apart)
            other = "the origin" if body.reach_mm > FARTHEST_MM else "the other parts"
            wrong = f"lies {_length(far)} from {other}"
            yield _fault(folder, body.file, wrong, "export it where it belongs in the figure")


def _length(size_mm: float) -> str:
    if size_mm >= 1e6:
        return f"{size_mm / 1e6:.4g} km"
    return f"{size_mm / 1000:.4g} m" if size_mm >= 1000 else f"{size_mm:.3g} mm"


def _fault(folder: Path, file: str, wrong: str, right: str) -> Fault:
    return Fault(file=str(folder / file) if file else str(folder), place="", wrong=wrong, right=right)
