"""Where may hands be in a zone past what stands, and how far do they go in? What `handroom` keeps of it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from assembler.geometry.freespace import Cell, Flags
from assembler.geometry.wayin import Ways
from assembler.planning.handzones import Zone
from assembler.planning.scene import Floor, PartSet


class Way(NamedTuple):
    """A way in.

    Parameters
    ----------
    mm
        Length of the shortest that hand and forearm pass, fingers included; 0 where the palm stays outside, inf where
        there is none.
    is_wide
        Whether, of a way within reach, all that lies farther than a forearm from the fingertips takes an upper arm.
    """

    mm: float
    is_wide: bool


class FieldKey(NamedTuple):
    """What a field of ways depends on: what stands in which zone, on which floor, for one arm or two."""

    standing: PartSet
    zone: Cell
    floor: Floor | None
    is_pair: bool


@dataclass(slots=True, kw_only=True, eq=False)
class Field:
    """Cells of a zone for palms, and the ways to them once they are known.

    Parameters
    ----------
    key, zone
        What stands where.
    free, start : (a, b, c) bool
        Cells that the forearm may enter; those of them where the body can be.
    limit_mm
        Longest way.
    upper
        Cells for upper arms; ways start from all that these come to as well. None: only from where the body can be.
    ways
        None: nobody had to know yet.
    deep
        The same cells, for ways from where an upper arm comes to. None: nobody had to know yet.
    """

    key: FieldKey
    zone: Zone
    free: Flags
    start: Flags
    limit_mm: float
    upper: Field | None = None
    ways: Ways | None = None
    deep: Field | None = None
    _digest: str = ""

    @property
    def digest(self) -> str:
        """Of all that the ways follow from."""
        if not self._digest:
            before = self.upper.digest if self.upper else ""
            self._digest = f"{digest_of(self.free)} {digest_of(self.start)} {self.limit_mm!r} {before}"
        return self._digest


def digest_of(flags: Flags) -> str:
    """Of flags and of the shape they are in."""
    return hashlib.sha256(repr(flags.shape).encode() + np.packbits(flags).tobytes()).hexdigest()
