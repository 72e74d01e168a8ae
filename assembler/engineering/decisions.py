"""What somebody has to decide about the hardware that no table decides: rust, nuts that come loose, wood, long seams.

Goes in: joints, stacks, settings, materials. Comes out: findings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assembler.catalogue import tables
from assembler.engineering.boltsalone import KEPT_PRELOAD, preload_n
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.joints import Joint, Method, Seat
from assembler.figure.settings import HardwareChoice, Material, Settings

TIMBER_WIDE, TIMBER_THICK = 3.0, 0.3
"""Side or diameter and thickness of washers on timber, in bolt diameters (EN 1995-1-1, 10.4.3(2), from memory)."""

FAR_THICKNESSES, FAR_MM = 14.0, 200.0
"""Greatest distance of bolts in steel in the open: 14 t, at most 200 mm (EN 1993-1-8, table 3.3, from memory)."""

WOODS = ("timber", "wood", "plywood")
"""Words in a material's name that say it is timber."""


def decision_findings(
    joints: Sequence[Joint], stacks: Sequence[Stack], settings: Settings, materials: Mapping[PartId, Material]
) -> tuple[Finding, ...]:
    """Decisions that are open, and rules of other materials that the hardware does not keep.

    Parameters
    ----------
    joints, stacks
        Of the whole figure.
    settings
        Hardware.
    materials
        Of every part.
    """
    if not stacks:
        return ()
    return sort_findings(
        (
            *_corrosion(settings.hardware),
            *_locking(joints, stacks, settings.hardware),
            *_on_timber(joints, stacks, materials),
            *_far_apart(joints),
        )
    )


def _corrosion(choice: HardwareChoice) -> list[Finding]:
    if choice.corrosion or choice.property_class.startswith("A"):
        return []
    message = f"hardware of class {choice.property_class} without a coating rusts; none is named"
    remedy = (
        "state 'corrosion' under [hardware]: A2 or A4, zinc flake, hot-dip galvanised (it has lower loads), or indoors"
    )
    return [Finding(level=Level.NOTE, code="corrosion-undecided", about=(), message=message, remedy=remedy)]


def _locking(joints: Sequence[Joint], stacks: Sequence[Stack], choice: HardwareChoice) -> list[Finding]:
    """Plain nuts of joints that no adhesive holds: what creep leaves of the preload does not keep them tight."""
    if choice.locking or choice.nut != "ISO 4032":
        return []
    dry = {joint.id for joint in joints if joint.method is Method.BOLTED}
    loose = [stack for stack in stacks if stack.joint in dry and stack.nut and stack.torque_nm > 0]
    if not loose:
        return []
    left_n = KEPT_PRELOAD * min(preload_n(stack, choice.nut_factor) for stack in loose)
    message = f"plain nuts with {left_n:.0f} N left after creep can come loose; nothing is named that locks them"
    remedy = (
        "state 'locking' under [hardware]: ISO 7040 nuts, threadlocker of the data sheet, or inspection at intervals"
    )
    about: tuple[JointId, ...] = tuple(sorted({stack.joint for stack in loose}, key=natural_key))
    return [Finding(level=Level.NOTE, code="locking-undecided", about=about, message=message, remedy=remedy)]


def _on_timber(joints: Sequence[Joint], stacks: Sequence[Stack], materials: Mapping[PartId, Material]) -> list[Finding]:
    """Washers on wood that are smaller than the timber code asks: those that lack most, and all joints with some."""
    bolts = {bolt.id: bolt for joint in joints for bolt in joint.bolts}
    small: list[tuple[float, Stack]] = []
    for stack in stacks:
        bolt = bolts[stack.bolt]
        ends = zip((bolt.through[0], bolt.through[-1]), bolt.seats, strict=True)
        diameter_mm = tables.thread(stack.size).diameter_mm
        lacks = min(stack.washer_outer_mm / (TIMBER_WIDE * diameter_mm), stack.washer_mm / (TIMBER_THICK * diameter_mm))
        if lacks < 1.0 and any(is_wood(materials[part]) and seat is Seat.OPEN for part, seat in ends):
            small.append((lacks, stack))
    if not small:
        return []
    _, stack = min(small, key=lambda item: (item[0], natural_key(item[1].bolt)))
    diameter_mm = tables.thread(stack.size).diameter_mm
    message = (
        f"washers {stack.washer or 'none'} {stack.size} on timber are {stack.washer_outer_mm:g} mm wide and "
        f"{stack.washer_mm:g} mm thick; EN 1995-1-1, 10.4.3(2), asks {TIMBER_WIDE * diameter_mm:g} and "
        f"{TIMBER_THICK * diameter_mm:g} mm (from memory)"
    )
    about = tuple(sorted({stack.joint for _, stack in small}, key=natural_key))
    remedy = "use square or round washers for timber on that side"
    return [Finding(level=Level.NOTE, code="washer-small-for-timber", about=about, message=message, remedy=remedy)]


def is_wood(material: Material) -> bool:
    """Whether a material is timber, by its name."""
    return any(word in material.name.lower() for word in WOODS)


def _far_apart(joints: Sequence[Joint]) -> list[Finding]:
    """Bonded seams on few bolts: whether the gap closes between them is not shown by anything here."""
    far: list[tuple[float, float, Joint]] = []
    for joint in joints:
        if joint.method is not Method.BOLTED_AND_BONDED or len(joint.bolts) < 2:
            continue
        apart_mm = joint.seam_mm / len(joint.bolts)
        most_mm = min(FAR_THICKNESSES * min(bolt.grip_mm for bolt in joint.bolts) / 2.0, FAR_MM)
        if apart_mm > most_mm:
            far.append((apart_mm, most_mm, joint))
    if not far:
        return []
    apart_mm, most_mm, worst = max(far, key=lambda item: (item[0] / item[1], natural_key(item[2].id)))
    message = (
        f"few bolts for long bonded seams, worst {worst.id}: {worst.seam_mm:.0f} mm on {len(worst.bolts)}, "
        f"{apart_mm:.0f} mm from one to the next; no rule for bonded plastic is known, for steel in the open it is "
        f"{most_mm:.0f} mm at most (14 x flange, 200 mm)"
    )
    about = tuple(sorted((joint.id for _, _, joint in far), key=natural_key))
    remedy = "look whether the gap closes between the bolts at the dry fit; clamps or more bolts where it does not"
    return [Finding(level=Level.NOTE, code="bolts-far-apart", about=about, message=message, remedy=remedy)]
