"""What hangs on each joint, and whether bond or bolts carry it: at rest, and when the piece is turned or driven.

Goes in: joints, parts, stacks, settings. Comes out: the loads, and findings with numbers. Only joints on which a piece
hangs alone are judged (an arm, a tail, a head); joints of a closed ring share their load in a way that statics alone
does not tell.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assembler.catalogue import tables
from assembler.engineering.boltsalone import ASKED_SAFETY, bolts_alone
from assembler.engineering.bondstress import bond_stress
from assembler.engineering.weights import parts_together
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.joints import Joint, Place
from assembler.figure.parts import Part, Vector
from assembler.figure.settings import Settings
from assembler.words import say


@dataclass(frozen=True, slots=True, kw_only=True)
class CarriedLoad:
    """A piece that hangs on one joint alone.

    Parameters
    ----------
    joint
        The joint.
    parts
        Of the piece.
    mass_kg, centre_mm
        Of the piece.
    """

    joint: JointId
    parts: tuple[PartId, ...]
    mass_kg: float
    centre_mm: Vector


def carried_loads(
    joints: Sequence[Joint], parts: Sequence[Part], base: PartId | None = None
) -> tuple[CarriedLoad, ...]:
    """Pieces that come off when one joint opens, by joint.

    Parameters
    ----------
    joints
        All joints.
    parts
        All parts; those with masses above 0 count.
    base
        The part that stands; None: the heavier side stands.

    Returns
    -------
    tuple
        In the order of `joints`; joints whose opening leaves the figure in one piece are not in it.
    """
    by_id = {part.id: part for part in parts}
    beside = _beside(joints)
    loads = []
    for joint in joints:
        near, far = (_reached(start, beside, joint.id) for start in joint.parts)
        if near & far:
            continue
        hanging = _hanging(near, far, by_id, base)
        bodies = [by_id[name] for name in hanging if name in by_id and by_id[name].mass_kg > 0]
        if not bodies:
            continue
        mass_kg, centre_mm = parts_together(bodies)
        loads.append(CarriedLoad(joint=joint.id, parts=hanging, mass_kg=mass_kg, centre_mm=centre_mm))
    return tuple(loads)


def _beside(joints: Sequence[Joint]) -> Mapping[PartId, Sequence[tuple[JointId, PartId]]]:
    """By part: its joints, and the part beyond each."""
    found: dict[PartId, list[tuple[JointId, PartId]]] = {}
    for joint in joints:
        for here, there in (joint.parts, joint.parts[::-1]):
            found.setdefault(here, []).append((joint.id, there))
    return found


def _reached(
    start: PartId, beside: Mapping[PartId, Sequence[tuple[JointId, PartId]]], without: JointId
) -> frozenset[PartId]:
    """Parts that hang together with `start` when one joint is open."""
    found, edge = {start}, [start]
    while edge:
        for joint, there in beside.get(edge.pop(), ()):
            if joint != without and there not in found:
                found.add(there)
                edge.append(there)
    return frozenset(found)


def _hanging(
    near: frozenset[PartId], far: frozenset[PartId], by_id: Mapping[PartId, Part], base: PartId | None
) -> tuple[PartId, ...]:
    """The side that does not stand."""

    def weight(side: frozenset[PartId]) -> tuple[float, tuple[object, ...]]:
        mass_kg = math.fsum(sorted(by_id[name].mass_kg for name in side if name in by_id))
        return (mass_kg, natural_key(min(side, key=natural_key)))

    if base in near:
        side = far
    elif base in far:
        side = near
    else:
        side = min((near, far), key=weight)
    return tuple(sorted(side, key=natural_key))


def moved_acceleration_g() -> float:
    """Greatest acceleration of a piece that is turned by hand or driven, in g: weight and braking together.

    References
    ----------
    EN 12195-1: 1.0 down and 0.8 forward at once, sqrt(1 + 0.64) = 1.28.
    """
    values = {row.direction: row.acceleration_g for row in tables.transport_accelerations()}
    return math.hypot(values["down"], values["forward"])


def load_findings(
    joints: Sequence[Joint], parts: Sequence[Part], stacks: Sequence[Stack], settings: Settings
) -> tuple[Finding, ...]:
    """Joints on which a piece hangs alone, and that bond or bolts do not carry with the safety asked.

    At rest: the weight, at its horizontal distance from the joint. Moved: what hangs on the joint within its section,
    1.28 times its weight, at its full distance, because a section may lie any way up.

    Parameters
    ----------
    joints, parts, stacks
        Of the whole figure.
    settings
        Adhesive, hardware, base, up.
    """
    by_id = {joint.id: joint for joint in joints}
    findings: list[Finding] = []
    overloaded: set[JointId] = set()
    for load in carried_loads(joints, parts, settings.base.part):
        joint = by_id[load.joint]
        if joint.method.is_bonded:
            found = _bond_findings(joint, load, settings)
        else:
            found = _bolt_findings(joint, load, stacks, settings) if joint.bolts else []
        overloaded |= {joint.id} if found else set()
        findings += found
    for load in moved_loads(joints, parts):
        if load.joint not in overloaded:
            findings += _moved_findings(by_id[load.joint], load, settings)
    return sort_findings(findings)


def moved_loads(joints: Sequence[Joint], parts: Sequence[Part]) -> tuple[CarriedLoad, ...]:
    """Pieces that hang on one joint alone while their section is turned or driven, by joint.

    A section is what joints closed in the shop hold together; what is added on site does not load it on the road.

    Parameters
    ----------
    joints, parts
        Of the whole figure.

    Returns
    -------
    tuple
        In the order of `joints`; the lighter side of each joint hangs on it.
    """
    shop = [joint for joint in joints if joint.made is Place.SHOP]
    return carried_loads(shop, parts)


def levers_mm(joint: Joint, load: CarriedLoad, up: Vector) -> tuple[float, float]:
    """Distance of the load from the joint: horizontal, and in full."""
    away = [one - other for one, other in zip(load.centre_mm, joint.centre_mm, strict=True)]
    rise = sum(one * other for one, other in zip(away, up, strict=True))
    full_mm = math.hypot(*away)
    return math.sqrt(max(0.0, full_mm**2 - rise**2)), full_mm


def _bond_findings(joint: Joint, load: CarriedLoad, settings: Settings) -> list[Finding]:
    if joint.bond_area_mm2 <= 0:
        return []
    level_mm, _ = levers_mm(joint, load, settings.up)
    _, at_rest = bond_stress(joint, load.mass_kg, settings.adhesive, lever_mm=level_mm)
    return list(at_rest)


def _moved_findings(joint: Joint, load: CarriedLoad, settings: Settings) -> list[Finding]:
    if not joint.method.is_bonded or joint.bond_area_mm2 <= 0:
        return []
    _, full_mm = levers_mm(joint, load, settings.up)
    _, moved = bond_stress(joint, load.mass_kg, settings.adhesive, moved_acceleration_g(), full_mm)
    return list(moved)


def _bolt_findings(joint: Joint, load: CarriedLoad, stacks: Sequence[Stack], settings: Settings) -> list[Finding]:
    found = bolts_alone(joint, stacks, load.mass_kg, load.centre_mm, settings.up, settings.hardware.nut_factor)
    if found.is_enough:
        return []
    safety, way = min((found.slip_safety, "slip"), (found.gap_safety, "gap"))
    message = say(
        "finding.bolts-overloaded",
        mass_kg=load.mass_kg,
        joint=joint.id,
        safety=safety,
        worst=say(f"word.{way}"),
        asked=ASKED_SAFETY,
    )
    remedy = say("remedy.bolts-overloaded")
    return [Finding(level=Level.WARN, code="bolts-overloaded", about=(joint.id,), message=message, remedy=remedy)]
