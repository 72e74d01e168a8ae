"""Which screw, nut and washers go on one axis: hole, seats and the shop's choice decide.

Goes in: a bolt axis and the hardware choice. Comes out: the pieces (or None) and findings for what does not fit.
"""

from __future__ import annotations

from collections.abc import Mapping

from assembler.catalogue import tables
from assembler.catalogue.records import Nut, Screw, Washer
from assembler.engineering.holes import HOLE_TOLERANCE_MM, HoleMatch, inch_size_from_hole, neighbours, size_from_hole
from assembler.engineering.lengths import Pieces
from assembler.engineering.tightening import BearingFace
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import PartId
from assembler.figure.joints import Bolt, Seat
from assembler.figure.settings import HardwareChoice, Material
from assembler.words import Said, Text, both, say

ROOM_TOLERANCE_MM = 0.2
"""How much a washer may exceed the measured round of its seat: noise of the survey on a fillet's edge."""

TIGHT_MM = 0.1
"""How far a hole may be below the fine series before it has to be drilled."""


def bolt_finding(level: Level, code: str, bolt: Bolt, message: Said, remedy: Text = "") -> Finding:
    """A finding about one bolt."""
    return Finding(level=level, code=code, about=(bolt.id,), message=message, remedy=remedy)


def pieces_for_bolt(bolt: Bolt, choice: HardwareChoice) -> tuple[Pieces | None, list[Finding]]:
    """Pieces for one axis; None where none fits, and then a `stop` finding says why.

    Parameters
    ----------
    bolt
        The axis.
    choice
        Standards and property class.
    """
    match, findings = _matched(bolt)
    if match is None:
        return None, findings
    if Seat.OPEN not in bolt.seats:
        message = say("finding.no-open-seat", first=say(f"word.{bolt.seats[0]}"), second=say(f"word.{bolt.seats[1]}"))
        remedy = say("remedy.no-open-seat")
        return None, [*findings, bolt_finding(Level.STOP, "no-open-seat", bolt, message, remedy)]
    size = match.size
    try:
        screw = tables.screw(choice.screw, size)
        nut = None if Seat.INSERT in bolt.seats else tables.nut(choice.nut, size)
        chosen = tables.washer(choice.washer, size)
        tables.strength(choice.property_class, size)
    except tables.NotListedError as error:
        lacking = say("lacking.row", what=say(f"lacking.{error.what}"), asked=error.asked)
        message = say("finding.no-such-hardware", size=size, lacking=lacking)
        said = bolt_finding(Level.STOP, "no-such-hardware", bolt, message, say("remedy.no-such-hardware"))
        return None, [*findings, said]
    washer, said_of_seat = _fitting_washer(bolt, chosen, screw, nut)
    washers = 0 if washer is None else bolt.seats.count(Seat.OPEN)
    pieces = Pieces(thread=tables.thread(size), screw=screw, nut=nut, washer=washer, washers=washers)
    return pieces, findings + said_of_seat


def _matched(bolt: Bolt) -> tuple[HoleMatch | None, list[Finding]]:
    findings: list[Finding] = []
    match, inch = size_from_hole(bolt.hole_mm), inch_size_from_hole(bolt.hole_mm)
    if inch is not None:
        use = say("word.item_used", item=match.size) if match else say("word.no_metric_size")
        message = say("finding.inch-hole", hole_mm=bolt.hole_mm, fit=say(f"word.{inch.fit}"), size=inch.size, use=use)
        remedy = say("remedy.inch-hole")
        findings.append(bolt_finding(Level.WARN, "inch-hole", bolt, message, remedy))
    if match is None:
        message = say("finding.hole-fits-no-size", hole_mm=bolt.hole_mm, neighbours=neighbours(bolt.hole_mm))
        remedy = say("remedy.hole-fits-no-size")
        findings.append(bolt_finding(Level.STOP, "hole-fits-no-size", bolt, message, remedy))
        return None, findings
    if match.rivals:
        rivals = both(match.rivals)
        message = say(
            "finding.hole-between-sizes",
            hole_mm=bolt.hole_mm,
            rivals=rivals,
            size=match.size,
            fit=say(f"word.{match.fit}"),
        )
        findings.append(bolt_finding(Level.NOTE, "hole-between-sizes", bolt, message, say("remedy.hole-between-sizes")))
    if abs(match.deviation_mm) > HOLE_TOLERANCE_MM:
        off_mm = abs(match.deviation_mm)
        message = say(
            "finding.hole-off-series",
            hole_mm=bolt.hole_mm,
            off_mm=off_mm,
            fit=say(f"word.{match.fit}"),
            size=match.size,
        )
        findings.append(bolt_finding(Level.NOTE, "hole-off-series", bolt, message, say("remedy.hole-off-series")))
    if match.fit == "fine" and match.deviation_mm < -TIGHT_MM:
        below_mm = -match.deviation_mm
        message = say("finding.hole-tight", hole_mm=bolt.hole_mm, below_mm=below_mm, size=match.size)
        findings.append(bolt_finding(Level.WARN, "hole-tight", bolt, message, say("remedy.hole-tight")))
    return match, findings


def _open_room_mm(bolt: Bolt) -> float:
    """Smallest measured round at an open seat; 0 when none was measured."""
    rooms = [room for room, seat in zip(bolt.seat_room_mm, bolt.seats, strict=True) if seat is Seat.OPEN and room > 0]
    return min(rooms, default=0.0)


def _fitting_washer(bolt: Bolt, chosen: Washer, screw: Screw, nut: Nut | None) -> tuple[Washer | None, list[Finding]]:
    """The chosen washer, the normal one where a large one does not fit, or none."""
    measured_mm = _open_room_mm(bolt)
    room_mm = measured_mm + ROOM_TOLERANCE_MM
    if measured_mm == 0.0 or chosen.outer_mm <= room_mm:
        return chosen, []
    smaller = tables.washer("ISO 7089", chosen.size)
    instead = smaller if smaller.outer_mm < chosen.outer_mm and smaller.outer_mm <= room_mm else None
    use = say("word.item_used", item=instead.standard) if instead else say("word.none_used")
    name = say("word.washer_of", standard=chosen.standard, size=chosen.size)
    message = say("finding.washer-does-not-fit", name=name, outer_mm=chosen.outer_mm, measured_mm=measured_mm, use=use)
    findings = [bolt_finding(Level.WARN, "washer-does-not-fit", bolt, message, say("remedy.washer-does-not-fit"))]
    open_nut_mm = nut.across_corners_mm if nut and Seat.CAPTIVE not in bolt.seats else 0.0
    widest_mm = max(screw.head_outer_mm, open_nut_mm)
    if widest_mm > room_mm:
        message = say("finding.head-does-not-fit", size=chosen.size, widest_mm=widest_mm, measured_mm=measured_mm)
        remedy = say("remedy.head-does-not-fit")
        findings.append(bolt_finding(Level.STOP, "head-does-not-fit", bolt, message, remedy))
    return instead, findings


def faces_of_bolt(bolt: Bolt, pieces: Pieces, materials: Mapping[PartId, Material]) -> tuple[BearingFace, ...]:
    """The faces that the bolt presses on; an insert's pull-out is not one of them.

    Planning decides later which open end takes the head, so without a washer the smaller of head and nut counts.

    Parameters
    ----------
    bolt, pieces
        The axis and what goes on it.
    materials
        Of the parts under head and nut.

    Raises
    ------
    KeyError
        If `materials` lacks a part.
    """
    size = pieces.thread.size
    head_mm = tables.bearing_face(pieces.screw.standard, size).diameter_mm
    nut_mm = tables.bearing_face(pieces.nut.standard, size).diameter_mm if pieces.nut else head_mm
    faces = []
    for part, seat in zip((bolt.through[0], bolt.through[-1]), bolt.seats, strict=True):
        if seat is Seat.INSERT:
            continue
        inner_mm = bolt.hole_mm
        if seat is Seat.CAPTIVE:
            outer_mm, under = nut_mm, "nut"
        elif pieces.washer is not None:
            outer_mm, under = pieces.washer.outer_mm, "washer"
            inner_mm = max(inner_mm, pieces.washer.inner_mm)
        else:
            outer_mm, under = min(head_mm, nut_mm), "head"
        face = BearingFace(
            material=materials[part].name,
            bearing_mpa=materials[part].bearing_mpa,
            outer_mm=outer_mm,
            hole_mm=inner_mm,
            under=under,
        )
        faces.append(face)
    return tuple(faces)
