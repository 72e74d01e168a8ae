"""Whether the bolts into the base hold the figure against wind and against one person who pushes.

Goes in: joints with the base, their stacks, what stands on it, the pushes of `exposure`. Comes out: tension in the
worst bolt, pressure under its washer, and a finding where they are not safe. A hint for whoever is responsible, not a
proof.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assembler.engineering.boltsalone import KEPT_PRELOAD, preload_n
from assembler.engineering.decisions import is_wood
from assembler.engineering.exposure import ASKED_SAFETY
from assembler.engineering.standing import Push, anchor_demand
from assembler.engineering.weights import parts_together
from assembler.figure.exposure import ExposureRow
from assembler.figure.findings import Finding, Level
from assembler.figure.frames import plan_frame
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId, JointId, PartId, natural_key
from assembler.figure.joints import Joint
from assembler.figure.parts import Part
from assembler.figure.settings import Material, Settings

WIND_M_S = 30.0
"""Gust that the joint is held against beside the person: open country inland (EN 1991-1-4, own sum from memory)."""

UNDER_WASHER = 3.0
"""A washer on timber may press with 3 times the strength across the grain (EN 1995-1-1, 8.5.2(2), from memory)."""

ACROSS_MPA = 2.5
"""Strength of softwood C24 across the grain, fc,90,k (EN 338, from memory)."""

TIMBER_SHARE = 0.9 / 1.3
"""kmod / gamma M of solid timber for wind and people (EN 1995-1-1, tables 3.1 and 2.3, from memory)."""

DIRECTIONS = 72
"""Directions of a push that are tried (counted)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseJoint:
    """The worst bolt into the base.

    Parameters
    ----------
    joints, bolt
        All joints with the base, and its worst bolt.
    wind_m_s
        Of the push that is worst; 0 for a person.
    tension_n
        In that bolt.
    pressure_mpa, allowed_mpa
        Under its washer, and what the base carries there.
    preload_n
        What is left of the preload after creep.
    """

    joints: tuple[JointId, ...]
    bolt: BoltId
    wind_m_s: float
    tension_n: float
    pressure_mpa: float
    allowed_mpa: float
    preload_n: float

    @property
    def bearing_safety(self) -> float:
        """What the base carries under the washer over what presses on it."""
        return self.allowed_mpa / self.pressure_mpa if self.pressure_mpa else math.inf

    @property
    def gap_safety(self) -> float:
        """What is left of the preload over the pull."""
        return self.preload_n / self.tension_n if self.tension_n else math.inf


def base_joint(
    joints: Sequence[Joint],
    stacks: Sequence[Stack],
    parts: Sequence[Part],
    rows: Sequence[ExposureRow],
    settings: Settings,
    materials: Mapping[PartId, Material],
) -> BaseJoint | None:
    """Tension and pressure at the worst bolt of the worst push; None without a base with bolts, or without pushes.

    Parameters
    ----------
    joints, stacks, parts
        Of the whole figure.
    rows
        From `exposure_rows`: each push with its force, and its moment about the ground.
    settings
        Base and up axis.
    materials
        Of every part.

    References
    ----------
    Elastic bolt group on a rigid foot (`anchor_demand`); pressure on the washer's ring.
    """
    base = settings.base.part
    own = [joint for joint in joints if base in joint.parts and not joint.method.is_bonded]
    bolts = {bolt.id: bolt for joint in own for bolt in joint.bolts}
    held = [stack for stack in stacks if stack.bolt in bolts and stack.washer_outer_mm > 0]
    above = [part for part in parts if part.id != base and part.mass_kg > 0]
    pushes = [row for row in rows if row.wind_m_s in (0.0, WIND_M_S) and row.force_n > 0]
    if base is None or not held or not above or not pushes:
        return None
    frame = plan_frame(settings.up)
    places = np.array([frame @ np.asarray(bolts[stack.bolt].at_mm) for stack in held])
    mass_kg, centre = parts_together(above)
    ground_mm = min(float((frame @ np.asarray(part.low_mm))[2]) for part in parts if part.id == base)
    x_mm, y_mm, _ = (float(value) for value in frame @ np.asarray(centre))
    worst: tuple[float, float] = (0.0, 0.0)
    for row in pushes:
        lever_mm = row.moment_nm / row.force_n * 1000.0 - (float(places[:, 2].mean()) - ground_mm)
        push = Push(force_n=row.force_n, height_mm=max(0.0, lever_mm))
        for step in range(DIRECTIONS):
            angle = 2.0 * math.pi * step / DIRECTIONS
            toward = (math.cos(angle), math.sin(angle))
            tension_n = anchor_demand(places[:, :2], mass_kg, (x_mm, y_mm), push, toward).tension_n or 0.0
            worst = max(worst, (tension_n, row.wind_m_s))
    stack = min(held, key=lambda one: (one.washer_outer_mm, one.torque_nm, natural_key(one.bolt)))
    ring_mm2 = math.pi / 4.0 * (stack.washer_outer_mm**2 - bolts[stack.bolt].hole_mm ** 2)
    material = materials[base]
    allowed = UNDER_WASHER * ACROSS_MPA * TIMBER_SHARE if is_wood(material) else material.bearing_mpa
    return BaseJoint(
        joints=tuple(sorted((joint.id for joint in own), key=natural_key)),
        bolt=stack.bolt,
        wind_m_s=worst[1],
        tension_n=worst[0],
        pressure_mpa=worst[0] / ring_mm2,
        allowed_mpa=allowed,
        preload_n=KEPT_PRELOAD * min(preload_n(one, settings.hardware.nut_factor) for one in held),
    )


def base_joint_findings(found: BaseJoint | None) -> tuple[Finding, ...]:
    """A decision where the bolts into the base are not as safe as is asked."""
    if found is None or min(found.bearing_safety, found.gap_safety) >= ASKED_SAFETY:
        return ()
    push = f"a gust of {found.wind_m_s:g} m/s" if found.wind_m_s else "one person who pushes"
    message = (
        f"{push} pulls {found.tension_n:.0f} N on the worst bolt into the base; its washer presses with "
        f"{found.pressure_mpa:.1f} MPa of {found.allowed_mpa:.1f} (safety {found.bearing_safety:.1f}), and "
        f"{found.preload_n:.0f} N of its preload are left (safety {found.gap_safety:.1f}); {ASKED_SAFETY:g} is asked"
    )
    remedy = (
        "decide: extra large washers ISO 7094 or steel plates on the timber and more torque on them, T-nuts or "
        "threaded plates in the base, more or farther bolts; nuts that lock; a barrier"
    )
    return (Finding(level=Level.WARN, code="base-joint-weak", about=found.joints, message=message, remedy=remedy),)
