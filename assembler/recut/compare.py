"""What differs between two books: the one place that asks all rooms' questions and gathers the answers.

Two plans go in, `Changes` comes out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from assembler.figure.findings import sort_findings
from assembler.figure.parts import Fingerprint
from assembler.figure.plan import Plan
from assembler.recut.changes import Changes, EffectivePage
from assembler.recut.identity import Motion, common_motion, plus, rescaled, shifted
from assembler.recut.jointfates import JointsCompared, compare_joints
from assembler.recut.likeness import SAME, Sameness, looser
from assembler.recut.partfates import PartsCompared, compare_parts
from assembler.recut.stepfates import StepsCompared, compare_steps
from assembler.recut.supplies import (
    adhesive_difference,
    bag_changes,
    binder,
    hardware_difference,
    label_changes,
    work_minutes,
)
from assembler.words import Text, say


def compare_plans(
    old: Plan,
    new: Plan,
    *,
    earlier_pages: Sequence[EffectivePage] = (),
    same: Sameness = SAME,
) -> Changes:
    """All that differs between two revisions.

    Parameters
    ----------
    old, new
        The plans of two books, both with the digits of plan.json (see `as_written`). The new one has its final numbers
        (see `keep_numbers`).
    earlier_pages
        Effective pages of the old book, where it was itself issued after another.
    same
        Tolerances.

    Returns
    -------
    Changes
        A figure that was shifted as a whole is compared as if it had not been; one that was turned or rescaled is
        compared part by part only, which `untold` says.
    """
    motion = _motion(old, new, same)
    base = _carried(old, motion)
    parts = compare_parts(base, new, looser(same, motion.factor) if motion else same)
    if motion is not None and (motion.factor != 1.0 or motion.turn is not None):
        line = say("change.not_compared", motion=motion.words())
        return _gathered(
            old,
            new,
            motion,
            parts,
            JointsCompared(joints=(), bolts=(), same_joints=(), same_bolts=()),
            StepsCompared(steps=(), same=(), background=(), pairs=()),
            (line,),
            earlier_pages,
        )
    joints = compare_joints(base, new, same)
    steps = compare_steps(base, new, parts, joints, same)
    return _gathered(old, new, motion, parts, joints, steps, (), earlier_pages)


def _gathered(
    old: Plan,
    new: Plan,
    motion: Motion | None,
    parts: PartsCompared,
    joints: JointsCompared,
    steps: StepsCompared,
    untold: tuple[Text, ...],
    earlier_pages: Sequence[EffectivePage],
) -> Changes:
    buy, give_back = hardware_difference(old, new)
    more, less = adhesive_difference(old, new)
    bags = bag_changes(old, new)
    pages = binder(old, new, steps, earlier_pages)
    said, says = (frozenset(plan.findings) for plan in (old, new))
    return Changes(
        figure_name=new.figure_name,
        old_revision=old.revision,
        new_revision=new.revision,
        motion=motion,
        parts=parts.changes,
        joints=joints.joints,
        bolts=joints.bolts,
        steps=steps.steps,
        same_parts=parts.same,
        same_joints=joints.same_joints,
        same_bolts=joints.same_bolts,
        same_steps=steps.same,
        background_steps=steps.background,
        untold=(*parts.untold, *untold),
        buy=buy,
        give_back=give_back,
        adhesive_more=more,
        adhesive_less=less,
        bags=bags,
        labels=label_changes(old, new, parts, bags),
        pages_out=pages.pages_out,
        pages_in=pages.pages_in,
        effective_pages=pages.effective,
        extra_work_min=round(work_minutes(new) - work_minutes(old), 1),
        extra_total_min=round(new.total_min - old.total_min, 1),
        extra_mass_kg=round(_mass_kg(new) - _mass_kg(old), 3),
        findings_new=sort_findings(says - said),
        findings_solved=sort_findings(said - says),
    )


def _mass_kg(plan: Plan) -> float:
    return math.fsum(part.mass_kg for part in plan.parts)


def _motion(old: Plan, new: Plan, same: Sameness) -> Motion | None:
    before, after = ({str(part.id): part.fingerprint for part in plan.parts} for plan in (old, new))
    return common_motion(before, after, same)


def _carried(plan: Plan, motion: Motion | None) -> Plan:
    """The old plan where the figure now is; of a turned or rescaled figure the parts only."""
    if motion is None:
        return plan
    parts = tuple(replace(part, fingerprint=_carried_mark(part.fingerprint, motion)) for part in plan.parts)
    joints = tuple(
        replace(
            joint,
            centre_mm=plus(joint.centre_mm, motion.shift_mm),
            bolts=tuple(replace(bolt, at_mm=plus(bolt.at_mm, motion.shift_mm)) for bolt in joint.bolts),
        )
        for joint in plan.joints
    )
    return replace(plan, parts=parts, joints=joints)


def _carried_mark(mark: Fingerprint, motion: Motion) -> Fingerprint:
    """A fingerprint after the motion; the box of a turned solid is that of its centre and says nothing."""
    scaled = rescaled(mark, motion.factor)
    if motion.turn is None:
        return shifted(scaled, motion.shift_mm)
    x, y, z = (math.fsum(a * b for a, b in zip(row, scaled.centre_mm, strict=True)) for row in motion.turn)
    centre = plus((x, y, z), motion.shift_mm)
    return replace(scaled, centre_mm=centre, low_mm=centre, high_mm=centre)
