"""What does a survey leave open? Touches and holes of all joints in, findings out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.geometry.holes import Bore, Kind
from assembler.survey.bolting import Axis, Bolting, Unmatched
from assembler.survey.contacts import Touch
from assembler.words import say

MOST_UNREAD = 3
"""Openings that could not be read and are named one by one."""

Met = tuple[Touch, Bolting]
"""The mating areas and the holes of one joint."""


def hole_findings(names: Sequence[JointId], met: Sequence[Met]) -> list[Finding]:
    """What holes of joints leave open: without partner, unread, without a seat; and pins that are no bolts."""
    result = []
    axes = [axis for _, bolting in met for axis in bolting.axes]
    for name, (_, bolting) in zip(names, met, strict=True):
        for hole in bolting.unmatched:
            if any(_is_on(axis, hole) for axis in axes):
                continue
            result.append(
                Finding(
                    level=Level.WARN,
                    code="hole-without-partner",
                    about=(name, hole.part),
                    message=say(
                        "finding.hole-without-partner",
                        name=name,
                        part=hole.part,
                        width_mm=hole.width_mm,
                        place=_place(hole.at_mm),
                        other=hole.other,
                    ),
                    remedy=say("remedy.hole-without-partner"),
                )
            )
        result += [_endless(name, axis) for axis in bolting.axes if _has_no_seat(axis)]
        for pin in bolting.pins:
            word = say("jointfindings.two_blind_holes") if pin.is_loose else say("jointfindings.pin_socket")
            result.append(
                Finding(
                    level=Level.NOTE,
                    code="alignment-pin",
                    about=(name,),
                    message=say(
                        "finding.alignment-pin", name=name, word=word, width_mm=pin.width_mm, place=_place(pin.at_mm)
                    ),
                )
            )
    return [*_all_unread(names, met, len(axes)), *result]


def _all_unread(names: Sequence[JointId], met: Sequence[Met], bolts: int) -> list[Finding]:
    """Openings that could not be read: each by itself, or where there are many their share in one line."""
    found = [
        (name, _unread(name, touch, at, width))
        for name, (touch, bolting) in zip(names, met, strict=True)
        for at, width in bolting.unread
    ]
    if len(found) <= MOST_UNREAD:
        return [finding for _, finding in found]
    counts = Counter(name for name, _ in found)
    places = tuple(f"{name} {count}" for name, count in counts.items())
    message = say("finding.unread-holes", count=len(found), total=len(found) + bolts, places=places)
    return [replace(found[0][1], about=tuple(counts), message=message)]


def _unread(name: JointId, touch: Touch, at: NDArray[np.float64], width_mm: float) -> Finding:
    return Finding(
        level=Level.WARN,
        code="unread-hole",
        about=(name, *touch.parts),
        message=say("finding.unread-hole", name=name, width_mm=width_mm, place=_place(at)),
        remedy=say("remedy.unread-hole"),
    )


def _has_no_seat(axis: Axis) -> bool:
    return any(map(_is_endless, axis.bores))


def _is_endless(bore: Bore) -> bool:
    return bore.kind is Kind.THROUGH and bore.depth_mm <= 0.0


def _endless(name: JointId, axis: Axis) -> Finding:
    parts = [part for part, bore in zip(axis.parts, axis.bores, strict=True) if _is_endless(bore)]
    return Finding(
        level=Level.WARN,
        code="hole-without-seat",
        about=(name, *parts),
        message=say(
            "finding.hole-without-seat",
            name=name,
            hole_mm=axis.hole_mm,
            place=_place(axis.at_mm),
            parts=" and ".join(parts),
        ),
        remedy=say("remedy.hole-without-seat"),
    )


def play_findings(names: Sequence[JointId], met: Sequence[Met]) -> list[Finding]:
    """Faces beside a bond line that stand off: assumed not to be glued."""
    result = []
    for name, (touch, _) in zip(names, met, strict=True):
        area = sum(patch.area_mm2 for patch in touch.loose)
        if area < 1.0:
            continue
        gap = sum(patch.gap_mm * patch.area_mm2 for patch in touch.loose) / area
        result.append(
            Finding(
                level=Level.NOTE,
                code="play-beside-joint",
                about=(name,),
                message=say("finding.play-beside-joint", name=name, area=area / 100, gap=gap),
                remedy=say("remedy.play-beside-joint"),
            )
        )
    return result


def _is_on(axis: Axis, hole: Unmatched) -> bool:
    """Whether a hole is the far end of a bolt that ends where another part covers it."""
    if hole.part not in axis.parts:
        return False
    arm = hole.at_mm - axis.at_mm
    across = arm - (arm @ axis.axis) * axis.axis
    return float(np.linalg.norm(across)) < max(0.5, 0.12 * hole.width_mm)


def _place(point: NDArray[np.float64]) -> str:
    return "(" + ", ".join(f"{value:.0f}" for value in point) + ") mm"


def floating_parts(order: Sequence[PartId], touches: Sequence[Touch]) -> list[Finding]:
    """Parts that hang together with less than half of the figure."""
    group = {part: part for part in order}

    def root(part: PartId) -> PartId:
        while group[part] != part:
            part = group[part]
        return part

    for touch in touches:
        one, two = root(touch.parts[0]), root(touch.parts[1])
        group[max(one, two, key=natural_key)] = min(one, two, key=natural_key)
    sets: dict[PartId, list[PartId]] = {}
    for part in order:
        sets.setdefault(root(part), []).append(part)
    groups = sorted(sets.values(), key=lambda parts: (-len(parts), natural_key(parts[0])))
    if len(order) > 1 and len(groups) == len(order):
        message = say("finding.nothing-touches")
        remedy = say("remedy.nothing-touches")
        return [Finding(level=Level.STOP, code="nothing-touches", about=(), message=message, remedy=remedy)]
    return [
        Finding(
            level=Level.WARN,
            code="floating-parts",
            about=tuple(parts),
            message=say("finding.floating-parts", parts=tuple(parts)),
            remedy=say("remedy.floating-parts"),
        )
        for parts in groups[1:]
    ]
