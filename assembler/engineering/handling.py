"""Whether joints that are past their hold and not yet cured carry what stands on them at that moment.

Handling strength means that clamps may come off; it is a small part of the final strength. Goes in: the steps of a plan
with their times, joints, parts, the adhesive. Comes out: a finding for each joint that would carry too much too soon.
Only joints on which a piece hangs alone are judged, as in `loads`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from assembler.engineering.bondstress import BondStress, bond_stress, handling_strength
from assembler.engineering.loads import CarriedLoad, carried_loads, levers_mm
from assembler.figure.findings import Finding, sort_findings
from assembler.figure.hardware import Bonding
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.joints import Joint
from assembler.figure.parts import Part, Vector
from assembler.figure.plan import Step, StepKind
from assembler.figure.settings import Settings

_CLOSING = (StepKind.JOIN, StepKind.BASE)


def handling_findings(
    steps: Sequence[Step],
    joints: Sequence[Joint],
    parts: Sequence[Part],
    bondings: Sequence[Bonding],
    settings: Settings,
) -> tuple[Finding, ...]:
    """Joints that carry more, between the end of their hold and full cure, than handling strength allows.

    Parameters
    ----------
    steps
        Of the plan, in its order, with `start_min` and `end_min` on the calendar.
    joints, parts, bondings
        Of the whole figure.
    settings
        Adhesive: `handling_mpa`.

    Returns
    -------
    tuple
        For each such joint one `warn` finding: the step in which it is used most.
    """
    by_id = {joint.id: joint for joint in joints}
    cure_min = {row.joint: row.full_cure_min for row in bondings}
    closed: dict[JointId, Step] = {}
    worst: dict[JointId, tuple[float, Step, Finding]] = {}
    for step in steps:
        for load in _loads_then(step, closed, by_id, parts):
            joint = by_id[load.joint]
            age_min = step.start_min - closed[load.joint].end_min
            if not joint.method.is_bonded or joint.bond_area_mm2 <= 0 or age_min >= cure_min.get(joint.id, 0.0):
                continue
            stress, found = _stress_then(joint, load, step, settings)
            used = stress.utilisation or 0.0
            if found and (joint.id not in worst or used > worst[joint.id][0]):
                worst[joint.id] = (used, step, found[0])
        if step.kind in _CLOSING:
            closed |= dict.fromkeys(step.joints, step)
    return sort_findings(_said(step, finding) for _, step, finding in worst.values())


def _loads_then(
    step: Step, closed: Mapping[JointId, Step], by_id: Mapping[JointId, Joint], parts: Sequence[Part]
) -> tuple[CarriedLoad, ...]:
    """What hangs on joints that earlier steps closed, once this step has set down what it moves."""
    if step.kind is StepKind.DRY_FIT:
        return ()
    there = {*step.moves, *step.onto}
    bodies = [part for part in parts if part.id in there]
    new = [by_id[name] for name in step.joints]
    held = [by_id[name] for name in closed] + [joint for joint in new if joint.id not in closed]
    inside = [joint for joint in held if there.issuperset(joint.parts)]
    loads = carried_loads(inside, bodies, _lowest(bodies, step.up))
    return tuple(load for load in loads if load.joint in closed)


def _lowest(bodies: Sequence[Part], up: Vector) -> PartId | None:
    """The part that the others stand on."""

    def floor_mm(part: Part) -> float:
        ends = zip(part.low_mm, part.high_mm, up, strict=True)
        return math.fsum(min(low * way, high * way) for low, high, way in ends)

    lowest = min(bodies, key=lambda part: (round(floor_mm(part), 3), natural_key(part.id)), default=None)
    return lowest.id if lowest else None


def _stress_then(
    joint: Joint, load: CarriedLoad, step: Step, settings: Settings
) -> tuple[BondStress, tuple[Finding, ...]]:
    """A piece that is turned or lifted may lie any way: then the whole distance is the lever."""
    level_mm, full_mm = levers_mm(joint, load, step.up)
    is_moved = step.kind is StepKind.TURN or {*joint.parts} <= {*step.moves}
    lever_mm = full_mm if is_moved else level_mm
    return bond_stress(
        joint, load.mass_kg, settings.adhesive, lever_mm=lever_mm, strength=handling_strength(settings.adhesive)
    )


def _said(step: Step, finding: Finding) -> Finding:
    return replace(
        finding,
        code="loaded-before-cure",
        message=f"step {step.number}: {finding.message}",
        remedy="keep the prop until full cure, wait longer, or state 'handling_mpa' from your own coupons",
    )
