"""How hard a bolt may be tightened: T = K F d, limited by what the part bears under the washer and by the bolt.

Goes in: thread, strength, seats. Comes out: torque and what limited it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assembler.catalogue.records import Strength, Thread
from assembler.words import Said, Text, say

PRELOAD_SHARE = 0.75
"""Preload of a joint that is taken apart again, as a share of the proof load (Shigley ch. 8, read second-hand)."""


STRUCTURE_N = 1000.0
"""Bolts with less preload clamp a joint while it cures; they are no structure (common practice, no source)."""

BUTTON_SHARE = 0.8
"""What the head of an ISO 7380-1 screw carries, as a share of its thread: reduced loadability (from memory).

The scope of the ISO standard for countersunk screws of reduced loadability states the same 80 % (read in a copy).
"""

_NOT_STATED, _PRESSURE = "tightening.not_stated", "tightening.pressure_"


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingFace:
    """The ring of one part that one end of a bolt presses on.

    Parameters
    ----------
    material
        Name, for the rule text.
    bearing_mpa
        Pressure it carries for long; 0 when not stated.
    outer_mm, hole_mm
        Outside of washer, head or nut, and the hole in the part or the washer's inside, whichever is larger.
    under
        'washer', 'head' or 'nut'.
    """

    material: str
    bearing_mpa: float
    outer_mm: float
    hole_mm: float
    under: str

    @property
    def area_mm2(self) -> float:
        """Area that bears; never negative."""
        return max(0.0, math.pi / 4.0 * (self.outer_mm**2 - self.hole_mm**2))

    @property
    def force_n(self) -> float:
        """Force that the face carries."""
        return self.bearing_mpa * self.area_mm2


@dataclass(frozen=True, slots=True, kw_only=True)
class Tightening:
    """How hard, and why not harder.

    Parameters
    ----------
    force_n
        Preload.
    exact_nm, torque_nm
        Torque as computed, and as printed: rounded down, because the nut factor scatters by a quarter or more.
    rule
        What limited it.
    """

    force_n: float
    exact_nm: float
    torque_nm: float
    rule: Text


def head_share(screw: str) -> float:
    """Share of the thread's load that the head of a screw carries ('ISO 7380-1': 0.8); 1 for the others."""
    return BUTTON_SHARE if screw == "ISO 7380-1" else 1.0


def tighten(
    thread: Thread, strength: Strength, faces: Sequence[BearingFace], nut_factor: float, share: float = 1.0
) -> Tightening:
    """Tightening torque: the smallest of the limits rules, and is named.

    Parameters
    ----------
    thread, strength
        Of the size and property class.
    faces
        Every face that one end of the bolt presses on. One without a stated pressure gives torque 0.
    nut_factor
        K of T = K F d.
    share
        Of the proof load, that the head carries (`head_share`).

    References
    ----------
    Shigley, Mechanical Engineering Design, ch. 8, T = K F d (from memory); bearing limit: common practice, no source.
    """
    silent = [face.material for face in faces if face.bearing_mpa <= 0]
    if silent:
        rule = say(_NOT_STATED, material=silent[0])
        return Tightening(force_n=0.0, exact_nm=0.0, torque_nm=0.0, rule=rule)
    proof = say(f"tightening.proof_load{'_of_head' if share < 1.0 else ''}", property_class=strength.property_class)
    limits = [(PRELOAD_SHARE * share * strength.proof_n, proof)]
    limits += [(face.force_n, say(f"{_PRESSURE}{face.under}", material=face.material)) for face in faces]
    force_n, rule = min(limits, key=lambda limit: (limit[0], str(limit[1])))
    exact_nm = nut_factor * force_n * thread.diameter_mm / 1000.0
    return Tightening(force_n=force_n, exact_nm=exact_nm, torque_nm=rounded_down_nm(exact_nm), rule=rule)


def is_stated(rule: Text) -> bool:
    """Whether a torque can be given: not where a face bears nobody knows how much."""
    return _limit(rule).code != _NOT_STATED


def limiting_face(rule: Text) -> str:
    """What presses on the face that limits a torque ('washer', 'nut', 'head'); empty where it is the bolt."""
    code = _limit(rule).code
    return code.removeprefix(_PRESSURE) if code.startswith(_PRESSURE) else ""


def _limit(rule: Text) -> Said:
    """The rule without what an insert adds to it; nothing of a text that came with an older book."""
    if isinstance(rule, str):
        return say("")
    inner = dict(rule.values).get("rule")
    return inner if isinstance(inner, Said) else rule


def rounded_down_nm(torque_nm: float) -> float:
    """Torque as set on a wrench: down to 0.1 N m below 10 N m, to 1 N m above."""
    step = 0.1 if torque_nm < 10.0 else 1.0
    return round(math.floor(torque_nm / step + 1e-9) * step, 1)
