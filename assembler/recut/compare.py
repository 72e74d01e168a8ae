"""What differs between two books: the one place that asks all rooms' questions and gathers the answers.

Content of two plan.json goes in, `Changes` comes out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from assembler.figure.findings import finding_of, sort_findings
from assembler.recut.changes import Changes, EffectivePage
from assembler.recut.jointfates import JointsCompared, compare_joints
from assembler.recut.likeness import SAME, Sameness, fingerprint_from_record, looser
from assembler.recut.motion import Motion, common_motion
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

_Record = Mapping[str, Any]


def compare_plans(
    old: Mapping[str, Any],
    new: Mapping[str, Any],
    *,
    earlier_pages: Sequence[EffectivePage] = (),
    same: Sameness = SAME,
) -> Changes:
    """All that differs between two revisions.

    Parameters
    ----------
    old, new
        Content of two plan.json. The new one has its final numbers (see `keep_numbers`).
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
        line = f"the figure was {motion.words()}: joints, bolts and steps were not compared"
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
    old: _Record,
    new: _Record,
    motion: Motion | None,
    parts: PartsCompared,
    joints: JointsCompared,
    steps: StepsCompared,
    untold: tuple[str, ...],
    earlier_pages: Sequence[EffectivePage],
) -> Changes:
    buy, give_back = hardware_difference(old, new)
    more, less = adhesive_difference(old, new)
    bags = bag_changes(old, new)
    pages = binder(old, new, steps, earlier_pages)
    said, says = (frozenset(map(finding_of, plan["findings"])) for plan in (old, new))
    return Changes(
        figure_name=new["figure"]["name"],
        old_revision=old["figure"]["revision"],
        new_revision=new["figure"]["revision"],
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
        extra_total_min=round(new.get("total_minutes", 0.0) - old.get("total_minutes", 0.0), 1),
        extra_mass_kg=round(new["figure"]["mass_kg"] - old["figure"]["mass_kg"], 3),
        findings_new=sort_findings(says - said),
        findings_solved=sort_findings(said - says),
    )


def _motion(old: _Record, new: _Record, same: Sameness) -> Motion | None:
    before, after = (
        {part["id"]: fingerprint_from_record(part["fingerprint"]) for part in plan["parts"]} for plan in (old, new)
    )
    return common_motion(before, after, same)


def _carried(plan: _Record, motion: Motion | None) -> _Record:
    """The old plan where the figure now is; of a turned or rescaled figure the parts only."""
    if motion is None:
        return plan
    parts = [{**part, "fingerprint": _carried_mark(part["fingerprint"], motion)} for part in plan["parts"]]
    shift = motion.shift_mm
    joints = [
        {
            **joint,
            **({"centre_mm": _shift(joint["centre_mm"], shift)} if "centre_mm" in joint else {}),
            "bolt": [{**bolt, "at": _shift(bolt["at"], shift)} for bolt in joint["bolt"]],
        }
        for joint in plan["joints"]
    ]
    return {**plan, "parts": parts, "joints": joints}


def _shift(point: Sequence[float], shift: Sequence[float]) -> list[float]:
    return [a + b for a, b in zip(point, shift, strict=True)]


def _carried_mark(mark: _Record, motion: Motion) -> dict[str, Any]:
    """Keys of a fingerprint after the motion; the box of a turned solid is that of its centre and says nothing."""
    factor = motion.factor
    centre = _carried_point(mark["centre_mm"], motion)
    turned = motion.turn is not None
    return {
        "volume_mm3": mark["volume_mm3"] * factor**3,
        "area_mm2": mark["area_mm2"] * factor**2,
        "centre_mm": centre,
        "inertia_mm5": [value * factor**5 for value in mark["inertia_mm5"]],
        "skew_mm6": mark["skew_mm6"] * factor**6,
        "low_mm": centre if turned else _carried_point(mark["low_mm"], motion),
        "high_mm": centre if turned else _carried_point(mark["high_mm"], motion),
    }


def _carried_point(point: Sequence[float], motion: Motion) -> list[float]:
    scaled = [value * motion.factor for value in point]
    if motion.turn is not None:
        scaled = [sum(a * b for a, b in zip(row, scaled, strict=True)) for row in motion.turn]
    return _shift(scaled, motion.shift_mm)
