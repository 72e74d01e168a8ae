"""How hard a bolt may be tightened: T = K F d, limited by what the part bears under the washer and by the bolt.

Goes in: thread, strength, seats. Comes out: torque and what limited it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from assembler.catalogue.records import Strength, Thread

PRELOAD_SHARE = 0.75
"""Preload of a joint that is taken apart again, as a share of the proof load (Shigley ch. 8, read second-hand)."""


STRUCTURE_N = 1000.0
"""Bolts with less preload clamp a joint while it cures; they are no structure (common practice, no source)."""

BUTTON_SHARE = 0.8
"""What the head of an ISO 7380-1 screw carries, as a share of its thread: reduced loadability (from memory).

The scope of the ISO standard for countersunk screws of reduced loadability states the same 80 % (read in a copy).
"""

NOT_STATED = "hand-tight"
"""How the rule of a bolt begins for which no torque can be given."""

INSERT_RULE = "but no more than the data sheet of the insert allows"
"""Added to the rule of a screw that goes into a threaded insert or a blind hole."""


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
    rule: str


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
        rule = f"{NOT_STATED}: bearing pressure of {silent[0]} is not stated"
        return Tightening(force_n=0.0, exact_nm=0.0, torque_nm=0.0, rule=rule)
    proof = f"proof load {strength.property_class}" + (" of the head" if share < 1.0 else "")
    limits = [(PRELOAD_SHARE * share * strength.proof_n, proof)]
    limits += [(face.force_n, f"{face.under} pressure on {face.material}") for face in faces]
    force_n, rule = min(limits)
    exact_nm = nut_factor * force_n * thread.diameter_mm / 1000.0
    return Tightening(force_n=force_n, exact_nm=exact_nm, torque_nm=rounded_down_nm(exact_nm), rule=rule)


def rounded_down_nm(torque_nm: float) -> float:
    """Torque as set on a wrench: down to 0.1 N m below 10 N m, to 1 N m above."""
    step = 0.1 if torque_nm < 10.0 else 1.0
    return round(math.floor(torque_nm / step + 1e-9) * step, 1)
