"""Whether bolt holes keep their distance from each other and from edges, and lie where their parts are.

Goes in: joints, parts. Comes out: findings with numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from assembler.figure.findings import Finding, Level
from assembler.figure.joints import Bolt, Joint, Seat
from assembler.figure.parts import Part
from assembler.words import say

LEAST_SPACING_HOLES = 2.2
"""Least distance of hole centres, in hole diameters (EN 1993-1-8 table 3.3, p1; a rule for steel, the least here)."""

LEAST_EDGE_HOLES = 1.2
"""Least distance of a hole's centre from an edge, in hole diameters (EN 1993-1-8 table 3.3, e1 and e2)."""

MEASURED_MM = 0.2
"""Noise of the survey on positions and rounds."""


def spacing_findings(joint: Joint) -> list[Finding]:
    """Pairs of holes that are too close, and holes too near to an edge or wall of their seat.

    The round that an open seat leaves (`Bolt.seat_room_mm`) ends at an edge or at a wall; half of it is a lower bound
    of the edge distance, so this is a note, not a verdict. A pocket is walled all round and is left out.

    Parameters
    ----------
    joint
        With its bolts.

    References
    ----------
    EN 1993-1-8:2005, table 3.3: e1, e2 at least 1.2 d0, p1 at least 2.2 d0.
    """
    return _too_close(joint) + _near_edge(joint)


def _too_close(joint: Joint) -> list[Finding]:
    findings = []
    for first, second in combinations(joint.bolts, 2):
        least_mm = LEAST_SPACING_HOLES * max(first.hole_mm, second.hole_mm)
        apart_mm = sum((a - b) ** 2 for a, b in zip(first.at_mm, second.at_mm, strict=True)) ** 0.5
        if apart_mm < least_mm - MEASURED_MM:
            findings.append(
                Finding(
                    level=Level.WARN,
                    code="bolts-too-close",
                    about=(first.id, second.id),
                    message=say("finding.bolts-too-close", apart_mm=apart_mm, least_mm=least_mm),
                    remedy=say("remedy.bolts-too-close"),
                )
            )
    return findings


def _near_edge(joint: Joint) -> list[Finding]:
    findings = []
    for bolt in joint.bolts:
        rooms = [
            room / 2.0
            for room, seat in zip(bolt.seat_room_mm, bolt.seats, strict=True)
            if room > 0 and seat is Seat.OPEN
        ]
        least_mm = LEAST_EDGE_HOLES * bolt.hole_mm
        if rooms and min(rooms) < least_mm - MEASURED_MM:
            findings.append(
                Finding(
                    level=Level.NOTE,
                    code="hole-near-edge",
                    about=(bolt.id,),
                    message=say("finding.hole-near-edge", room_mm=min(rooms), least_mm=least_mm),
                    remedy=say("remedy.hole-near-edge"),
                )
            )
    return findings


def stray_findings(joints: Sequence[Joint], parts: Sequence[Part]) -> list[Finding]:
    """Bolts that lie beside a part that they go through: a slip in joints.toml that no hole in a mesh contradicts.

    Parameters
    ----------
    joints, parts
        Of the whole figure.
    """
    by_id = {part.id: part for part in parts}
    findings = []
    for bolt in sorted({bolt.id: bolt for joint in joints for bolt in joint.bolts}.values(), key=lambda one: one.id):
        away = {part: _away_mm(bolt, by_id[part]) for part in bolt.through if part in by_id}
        part = max(away, key=lambda one: (away[one], one), default=None)
        if part is not None and away[part] > bolt.grip_mm + bolt.hole_mm:
            at = ", ".join(f"{value:g}" for value in bolt.at_mm)
            findings.append(
                Finding(
                    level=Level.STOP,
                    code="bolt-beside-part",
                    about=(bolt.id, part),
                    message=say("finding.bolt-beside-part", bolt=bolt.id, at=at, away_mm=away[part], part=part),
                    remedy=say("remedy.bolt-beside-part"),
                )
            )
    return findings


def _away_mm(bolt: Bolt, part: Part) -> float:
    """How far a bolt lies outside of the box of a part, along the axis that tells most."""
    low, high = part.fingerprint.box_mm
    return max(max(a - at, at - b) for a, at, b in zip(low, bolt.at_mm, high, strict=True))
