"""A part that is cut in two takes its joints with it: what a hand stated of the old joint goes over to its successors.

Joints of a new survey and joints of the file that it no longer finds go in; successors with the stated values come out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import JointId, natural_key
from assembler.figure.joints import Bolt, Joint, Origin
from assembler.projectfiles.jointsfile import is_same_value
from assembler.words import say

CARRIED = ("method", "made")
"""What a shop decides of a joint and no mesh tells."""

_SAME_AXIS_MM = 1.0
_SAME_PLANE_MM = 0.5
_SAME_WAY = 0.999


@dataclass(frozen=True, slots=True, kw_only=True)
class Heir:
    """A joint that takes the place of another, or of a part of it.

    Parameters
    ----------
    joint
        With the values that were stated of the other.
    before
        The other.
    keys
        Which values those are.
    is_all_carried
        Whether nothing else was stated of the other.
    """

    joint: Joint
    before: JointId
    keys: tuple[str, ...]
    is_all_carried: bool

    def finding(self) -> Finding:
        """That a hand's decision was carried over, for a person to check."""
        values = " and ".join(f"{key} = {getattr(self.joint, key)}" for key in self.keys)
        return Finding(
            level=Level.NOTE,
            code="edit-carried-over",
            about=(self.joint.id, self.before),
            message=say("finding.edit-carried-over", joint=self.joint.id, before=self.before, values=values),
            remedy=say("remedy.edit-carried-over"),
        )


def inherited(found: Sequence[Joint], lost: Sequence[Joint], last: Sequence[Joint]) -> tuple[Heir, ...]:
    """Successors of joints that a hand had decided about.

    Parameters
    ----------
    found
        What the survey finds, with the numbers of this project.
    lost
        Joints of the file that it does not find.
    last
        What the last survey found: a value that differs from it was stated by hand. Joints in it are no successors.

    Returns
    -------
    tuple of Heir
        In the order of the ids. A successor shares a part with the joint before, and a bolt axis or the plane.
    """
    surveyed = {joint.id: joint for joint in last}
    fresh = [joint for joint in found if joint.id not in surveyed and joint.id not in {one.id for one in lost}]
    heirs = []
    for joint in fresh:
        for other in sorted(lost, key=lambda one: natural_key(one.id)):
            keys = tuple(key for key in CARRIED if _is_stated(other, key, surveyed.get(other.id)))
            if keys and _succeeds(joint, other):
                values = {key: getattr(other, key) for key in keys}
                origins = {**joint.origins, **dict.fromkeys(keys, Origin.STATED)}
                heirs.append(
                    Heir(
                        joint=replace(joint, **values, origins=origins),
                        before=other.id,
                        keys=keys,
                        is_all_carried=_is_all_carried(other),
                    )
                )
                break
    return tuple(heirs)


def _is_stated(joint: Joint, key: str, surveyed: Joint | None) -> bool:
    return surveyed is None or not is_same_value(getattr(joint, key), getattr(surveyed, key))


def _is_all_carried(joint: Joint) -> bool:
    stated = {key for key, origin in joint.origins.items() if origin is Origin.STATED}
    return stated <= set(CARRIED) and all(bolt.origin is not Origin.STATED for bolt in joint.bolts)


def _succeeds(joint: Joint, other: Joint) -> bool:
    if not set(joint.parts) & set(other.parts):
        return False
    if any(_is_same_axis(bolt, twin) for bolt in joint.bolts for twin in other.bolts):
        return True
    across = math.fsum(a * b for a, b in zip(joint.normal, other.normal, strict=True))
    gap = [a - b for a, b in zip(joint.centre_mm, other.centre_mm, strict=True)]
    height = math.fsum(a * b for a, b in zip(gap, other.normal, strict=True))
    return abs(across) > _SAME_WAY and abs(height) < _SAME_PLANE_MM


def _is_same_axis(first: Bolt, second: Bolt) -> bool:
    gap = [a - b for a, b in zip(first.at_mm, second.at_mm, strict=True)]
    along = math.fsum(a * b for a, b in zip(gap, second.axis, strict=True))
    aside = math.sqrt(max(math.fsum(a * a for a in gap) - along * along, 0.0))
    tilt = abs(math.fsum(a * b for a, b in zip(first.axis, second.axis, strict=True)))
    return aside <= _SAME_AXIS_MM and tilt > _SAME_WAY
