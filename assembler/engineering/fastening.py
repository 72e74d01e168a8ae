"""What to put through each hole: screw, washers, nut and torque for every bolt of every joint.

Goes in: joints with their bolts, settings, the material of each part. Comes out: one `Stack` for each bolt, and
findings for what does not fit. No meshes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from assembler.catalogue import tables
from assembler.catalogue.records import Nut, Screw, Washer
from assembler.engineering.holes import HoleMatch, inch_size_from_hole, neighbours, size_from_hole
from assembler.engineering.lengths import (
    Pieces,
    needed_length_mm,
    stocked_length_mm,
    unthreaded_mm,
)
from assembler.engineering.tightening import BearingFace, Tightening, tighten
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint, Seat
from assembler.figure.settings import HardwareChoice, Material, Settings

__all__ = ["HoleMatch", "faces_of_bolt", "size_from_hole", "stacks_for_joints", "tightening_of_bolt"]

SAME_LENGTH_MM = 0.5
"""Bolts of one joint whose needs differ by no more get one length: survey noise must not make two bags of one."""

ROOM_TOLERANCE_MM = 0.2
"""How much a washer may exceed the measured round of its seat: noise of the survey on a fillet's edge."""

SEAT_SHARE = 0.88
"""Diameter of the bearing face of a hexagon head or nut, as a share of its width (from memory, ISO 4032 dw)."""

SPACING_DIAMETERS = 3.0
"""Least distance between bolt axes, in bolt diameters (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """A bolt whose pieces are chosen, its length not yet."""

    bolt: Bolt
    joint: JointId
    pieces: Pieces
    grip_mm: float
    needed_mm: float
    tightening: Tightening


def stacks_for_joints(
    joints: Sequence[Joint], settings: Settings, materials: Mapping[PartId, Material]
) -> tuple[tuple[Stack, ...], tuple[Finding, ...]]:
    """Screw, nut, washers, length and torque for each bolt, and what does not fit.

    Parameters
    ----------
    joints
        All joints. A bolt that also closes other joints (`Bolt.also`) gets a bond line for each of them that is here.
    settings
        Kinds of hardware, stock, bond line.
    materials
        Of every part that a bolt pierces.

    Returns
    -------
    stacks
        In the order of joints and bolts. A bolt that no hardware fits has none; a `stop` finding says why.
    findings
        Equal findings of several bolts are one, naming all.

    Raises
    ------
    KeyError
        If `materials` lacks a part.
    """
    by_id = {joint.id: joint for joint in joints}
    stacks: list[Stack] = []
    findings: list[Finding] = []
    for joint in joints:
        drafts = []
        for bolt in joint.bolts:
            draft, said = _draft(bolt, joint, by_id, settings, materials)
            findings.extend(said)
            if draft is not None:
                drafts.append(draft)
        chosen, said = _lengths_chosen(drafts, settings.hardware)
        stacks.extend(_one_torque(chosen))
        findings.extend(said)
        findings.extend(_spacing_findings(joint))
    order = {bolt.id: rank for rank, bolt in enumerate(bolt for joint in joints for bolt in joint.bolts)}
    stacks.sort(key=lambda stack: (order[stack.bolt], natural_key(stack.bolt)))
    return tuple(stacks), sort_findings(_merged(findings))


def grip_with_bond_mm(bolt: Bolt, joints: Iterable[Joint], bond_line_mm: float) -> float:
    """Grip once the joint is glued: a bond line for each bonded interface, less the gap the model has already.

    Parameters
    ----------
    bolt
        With the grip as modelled.
    joints
        Every joint that the bolt closes.
    bond_line_mm
        Of the adhesive.
    """
    lacking = (max(0.0, bond_line_mm - max(0.0, joint.gap_mm)) for joint in joints if joint.method.is_bonded)
    return bolt.grip_mm + sum(lacking)


def _draft(
    bolt: Bolt, joint: Joint, by_id: Mapping[JointId, Joint], settings: Settings, materials: Mapping[PartId, Material]
) -> tuple[_Draft | None, list[Finding]]:
    match, findings = _matched(bolt)
    if match is None:
        return None, findings
    if bolt.seats.count(Seat.OPEN) == 0:
        findings.append(
            _finding(
                Level.STOP,
                "no-open-seat",
                bolt,
                f"both ends of the bolt are closed seats ({bolt.seats[0]} and {bolt.seats[1]}): no side takes the head",
                "open one side, or correct 'seats' in joints.toml",
            )
        )
        return None, findings
    pieces, said = _pieces(bolt, match.size, settings.hardware)
    findings.extend(said)
    if pieces is None:
        return None, findings
    closes = [joint, *(by_id[other] for other in bolt.also if other in by_id)]
    grip_mm = grip_with_bond_mm(bolt, closes, settings.adhesive.bond_line_mm)
    tightening = tightening_of_bolt(bolt, pieces, settings.hardware, materials)
    if not tightening.torque_nm:
        findings.append(
            _finding(
                Level.WARN,
                "bearing-not-stated",
                bolt,
                f"no torque can be given ({tightening.rule})",
                "state 'bearing_mpa' of the material in figure.toml",
            )
        )
    draft = _Draft(
        bolt=bolt,
        joint=joint.id,
        pieces=pieces,
        grip_mm=grip_mm,
        needed_mm=needed_length_mm(grip_mm, pieces),
        tightening=tightening,
    )
    return draft, findings


def _matched(bolt: Bolt) -> tuple[HoleMatch | None, list[Finding]]:
    findings: list[Finding] = []
    match, inch = size_from_hole(bolt.hole_mm), inch_size_from_hole(bolt.hole_mm)
    if inch is not None:
        use = f"{match.size} is used" if match else "no metric size fits"
        message = f"the hole of {bolt.hole_mm:.2f} mm is a {inch.fit} clearance hole for a {inch.size} bolt; {use}"
        findings.append(
            _finding(Level.WARN, "inch-hole", bolt, message, "confirm the size, or correct 'hole_mm' in joints.toml")
        )
    if match is None:
        message = f"a hole of {bolt.hole_mm:.1f} mm fits no metric bolt; next are {neighbours(bolt.hole_mm)}"
        findings.append(
            _finding(Level.STOP, "hole-fits-no-size", bolt, message, "drill to the next size, or correct 'hole_mm'")
        )
        return None, findings
    if match.rivals:
        rivals = " and ".join(match.rivals)
        message = f"the hole of {bolt.hole_mm:.1f} mm also fits {rivals}; {match.size} ({match.fit}) is used"
        findings.append(_finding(Level.NOTE, "hole-between-sizes", bolt, message, "check against the model"))
    if match.fit == "fine" and match.deviation_mm < -0.1:
        message = (
            f"the hole of {bolt.hole_mm:.1f} mm is {-match.deviation_mm:.1f} mm below the fine series of {match.size}"
        )
        findings.append(_finding(Level.WARN, "hole-tight", bolt, message, "drill the hole out before assembly"))
    return match, findings


def _pieces(bolt: Bolt, size: str, choice: HardwareChoice) -> tuple[Pieces | None, list[Finding]]:
    closed = next((seat for seat in bolt.seats if seat is not Seat.OPEN), None)
    try:
        screw = tables.screw(choice.screw, size)
        nut = None if closed is Seat.INSERT else tables.nut(choice.nut, size)
        washer: Washer | None = tables.washer(choice.washer, size)
    except KeyError as error:
        message = f"the tables have no {size} for the hardware chosen: {str(error.args[0]).split(';')[0]}"
        return None, [_finding(Level.STOP, "no-such-hardware", bolt, message, "choose other standards in [hardware]")]
    findings: list[Finding] = []
    washer, said = _fitting_washer(bolt, size, washer, screw, nut)
    findings.extend(said)
    if closed is Seat.INSERT:
        message = f"{size} goes into a threaded insert: its pull-out and torque are those of the insert's data sheet"
        findings.append(_finding(Level.NOTE, "insert-by-data-sheet", bolt, message))
    washers = 0 if washer is None else bolt.seats.count(Seat.OPEN)
    pieces = Pieces(thread=tables.thread(size), screw=screw, nut=nut, washer=washer, washers=washers)
    return pieces, findings


def _open_room_mm(bolt: Bolt) -> float:
    """Smallest measured round at an open seat; 0 when none was measured."""
    rooms = [room for room, seat in zip(bolt.seat_room_mm, bolt.seats, strict=True) if seat is Seat.OPEN and room > 0]
    return min(rooms, default=0.0)


def _fitting_washer(
    bolt: Bolt, size: str, washer: Washer | None, screw: Screw, nut: Nut | None
) -> tuple[Washer | None, list[Finding]]:
    """The chosen washer, the normal one where the large one does not fit, or none."""
    room_mm = _open_room_mm(bolt)
    if washer is None or room_mm == 0.0 or washer.outer_mm <= room_mm + ROOM_TOLERANCE_MM:
        return washer, []
    widest_mm = max(screw.head_outer_mm, nut.across_corners_mm if nut and Seat.CAPTIVE not in bolt.seats else 0.0)
    smaller = tables.washer("ISO 7089", size)
    if smaller.outer_mm < washer.outer_mm and smaller.outer_mm <= room_mm + ROOM_TOLERANCE_MM:
        instead: Washer | None = smaller
        use = "ISO 7089 is used"
    else:
        instead = None
        use = "none is used"
    message = (
        f"washer {washer.standard} {size}, {washer.outer_mm:g} mm, does not fit the seat of {room_mm:.1f} mm; {use}"
    )
    findings = [_finding(Level.WARN, "washer-does-not-fit", bolt, message, "widen the seat, or use smaller bolts")]
    if widest_mm > room_mm + ROOM_TOLERANCE_MM:
        message = f"the head or nut of {size}, {widest_mm:g} mm wide, does not fit the seat of {room_mm:.1f} mm"
        findings.append(
            _finding(Level.STOP, "head-does-not-fit", bolt, message, "widen the seat, or use smaller bolts")
        )
    return instead, findings


def tightening_of_bolt(
    bolt: Bolt, pieces: Pieces, choice: HardwareChoice, materials: Mapping[PartId, Material]
) -> Tightening:
    """Torque for one bolt and what limits it.

    Parameters
    ----------
    bolt, pieces
        The axis and what goes on it.
    choice
        Property class and nut factor.
    materials
        Of the parts under head and nut.
    """
    strength = tables.strength(choice.property_class, pieces.thread.size)
    return tighten(pieces.thread, strength, faces_of_bolt(bolt, pieces, materials), choice.nut_factor)


def faces_of_bolt(bolt: Bolt, pieces: Pieces, materials: Mapping[PartId, Material]) -> tuple[BearingFace, ...]:
    """The faces that the bolt presses on; an insert's pull-out is not one of them.

    Planning decides later which open end takes the head, so without a washer the smaller of head and nut counts.
    """
    screw = pieces.screw
    head_mm = 0.95 * screw.head_outer_mm if screw.key_mm else SEAT_SHARE * screw.across_flats_mm
    nut_mm = SEAT_SHARE * pieces.nut.across_flats_mm if pieces.nut else head_mm
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
            outer_mm, under = (min(head_mm, nut_mm), "head")
        material = materials[part]
        faces.append(
            BearingFace(
                material=material.name,
                bearing_mpa=material.bearing_mpa,
                outer_mm=outer_mm,
                hole_mm=inner_mm,
                under=under,
            )
        )
    return tuple(faces)


def _lengths_chosen(drafts: Sequence[_Draft], choice: HardwareChoice) -> tuple[list[Stack], list[Finding]]:
    """Stacks of one joint: bolts with nearly the same need share a length."""
    stacks: list[Stack] = []
    findings: list[Finding] = []

    def alike(draft: _Draft) -> tuple[str, str, str, str, int]:
        pieces = draft.pieces
        washer = pieces.washer.standard if pieces.washer else ""
        nut = pieces.nut.standard if pieces.nut else ""
        return (pieces.thread.size, pieces.screw.standard, nut, washer, pieces.washers)

    ordered = sorted(drafts, key=lambda draft: (alike(draft), draft.needed_mm, natural_key(draft.bolt.id)))
    for _, group in groupby(ordered, key=alike):
        for cluster in _clusters(list(group)):
            needed_mm = max(draft.needed_mm for draft in cluster)
            for draft in cluster:
                stack, said = _stack(replace(draft, needed_mm=needed_mm), choice)
                findings.extend(said)
                if stack is not None:
                    stacks.append(stack)
    return stacks, findings


def _clusters(drafts: Sequence[_Draft]) -> Iterator[list[_Draft]]:
    """Runs of drafts, ascending by need, each within `SAME_LENGTH_MM` of the first of its run."""
    run: list[_Draft] = []
    for draft in drafts:
        if run and draft.needed_mm - run[0].needed_mm > SAME_LENGTH_MM:
            yield run
            run = []
        run.append(draft)
    if run:
        yield run


def _stack(draft: _Draft, choice: HardwareChoice) -> tuple[Stack | None, list[Finding]]:
    pieces, bolt = draft.pieces, draft.bolt
    size = pieces.thread.size
    screw, length_mm, findings = _screw_and_length(draft, choice)
    if length_mm is None:
        series = tables.lengths(screw.standard, size)
        stock = f", of which in stock {_listed(choice.stock_lengths_mm)}" if choice.stock_lengths_mm else ""
        message = (
            f"{screw.standard} {size} has to be {draft.needed_mm:g} mm long; "
            f"it is made from {series[0]:g} to {series[-1]:g} mm{stock}"
        )
        findings.append(
            _finding(
                Level.STOP, "no-such-length", bolt, message, "counterbore, use threaded rod, or add a stock length"
            )
        )
        return None, findings
    nut_mm = pieces.nut.height_mm if pieces.nut else 0.0
    stack = Stack(
        bolt=bolt.id,
        joint=draft.joint,
        size=size,
        screw=screw.standard,
        nut=pieces.nut.standard if pieces.nut else "",
        washer=pieces.washer.standard if pieces.washer else "",
        length_mm=length_mm,
        needed_mm=draft.needed_mm,
        grip_mm=draft.grip_mm,
        washers=pieces.washers,
        washer_mm=pieces.washer.greatest_mm if pieces.washer else 0.0,
        washer_outer_mm=pieces.washer.outer_mm if pieces.washer else 0.0,
        head_mm=screw.head_mm,
        nut_mm=nut_mm,
        across_flats_mm=screw.across_flats_mm,
        nut_across_flats_mm=pieces.nut.across_flats_mm if pieces.nut else 0.0,
        key_mm=screw.key_mm,
        head_outer_mm=screw.head_outer_mm,
        protrusion_mm=round(length_mm - draft.grip_mm - pieces.washers_mm - nut_mm, 3),
        torque_nm=draft.tightening.torque_nm,
        torque_rule=draft.tightening.rule,
    )
    return stack, findings


def _screw_and_length(draft: _Draft, choice: HardwareChoice) -> tuple[Screw, float | None, list[Finding]]:
    """The screw chosen, or the fully threaded one where a plain shank would reach the nut."""
    pieces, size = draft.pieces, draft.pieces.thread.size
    screw, stock = pieces.screw, choice.stock_lengths_mm
    length_mm = stocked_length_mm(draft.needed_mm, tables.lengths(screw.standard, size), stock)
    findings: list[Finding] = []
    if length_mm is not None and not _thread_reaches(draft, screw, length_mm):
        shank_mm = unthreaded_mm(screw, pieces.thread, length_mm)
        name = f"{screw.standard} {size} x {length_mm:g}"
        message = f"{name} has {shank_mm:g} mm without thread, the grip is {draft.grip_mm:.1f} mm"
        if screw.standard == "ISO 4014":
            screw = tables.screw("ISO 4017", size)
            length_mm = stocked_length_mm(draft.needed_mm, tables.lengths("ISO 4017", size), stock)
            findings.append(
                _finding(Level.NOTE, "fully-threaded-instead", draft.bolt, f"{message}; ISO 4017 is used instead")
            )
        else:
            findings.append(
                _finding(Level.STOP, "thread-does-not-reach", draft.bolt, message, "use a screw threaded to the head")
            )
    ideal_mm = stocked_length_mm(draft.needed_mm, tables.lengths(screw.standard, size), ())
    if length_mm is not None and ideal_mm is not None and length_mm > ideal_mm:
        message = (
            f"{size} x {ideal_mm:g} is not in stock; {length_mm:g} mm is used, {length_mm - ideal_mm:g} mm more shows"
        )
        findings.append(_finding(Level.NOTE, "length-not-stocked", draft.bolt, message))
    return screw, length_mm, findings


def _thread_reaches(draft: _Draft, screw: Screw, length_mm: float) -> bool:
    """Whether the nut or insert meets thread only."""
    pieces = draft.pieces
    thick_mm = draft.grip_mm + (pieces.washers * pieces.washer.nominal_mm if pieces.washer else 0.0)
    return unthreaded_mm(screw, pieces.thread, length_mm) <= thick_mm


def _one_torque(stacks: Sequence[Stack]) -> list[Stack]:
    """Stacks of one joint with one torque for each size: the smallest, so that the crew sets the wrench once."""
    least: dict[str, Stack] = {}
    for stack in stacks:
        known = least.get(stack.size)
        if known is None or stack.torque_nm < known.torque_nm:
            least[stack.size] = stack
    return [
        replace(stack, torque_nm=least[stack.size].torque_nm, torque_rule=least[stack.size].torque_rule)
        for stack in stacks
    ]


def _spacing_findings(joint: Joint) -> list[Finding]:
    findings = []
    for rank, first in enumerate(joint.bolts):
        for second in joint.bolts[rank + 1 :]:
            match = size_from_hole(min(first.hole_mm, second.hole_mm))
            if match is None:
                continue
            least_mm = SPACING_DIAMETERS * tables.thread(match.size).diameter_mm
            apart_mm = sum((a - b) ** 2 for a, b in zip(first.at_mm, second.at_mm, strict=True)) ** 0.5
            if apart_mm < least_mm - ROOM_TOLERANCE_MM:
                findings.append(
                    Finding(
                        level=Level.WARN,
                        code="bolts-too-close",
                        about=(first.id, second.id),
                        message=f"two {match.size} axes are {apart_mm:.1f} mm apart; {least_mm:g} mm is the least",
                        remedy="move or leave out one of them",
                    )
                )
    return findings


def _finding(level: Level, code: str, bolt: Bolt, message: str, remedy: str = "") -> Finding:
    return Finding(level=level, code=code, about=(bolt.id,), message=message, remedy=remedy)


def _merged(findings: Iterable[Finding]) -> list[Finding]:
    """Findings that say the same, as one that names every bolt."""
    about: dict[tuple[Level, str, str, str], list[str]] = {}
    for finding in findings:
        key = (finding.level, finding.code, finding.message, finding.remedy)
        about.setdefault(key, []).extend(finding.about)
    return [
        Finding(
            level=level,
            code=code,
            about=tuple(sorted(dict.fromkeys(names), key=natural_key)),
            message=message,
            remedy=remedy,
        )
        for (level, code, message, remedy), names in about.items()
    ]


def _listed(lengths_mm: Sequence[float]) -> str:
    return ", ".join(f"{length:g}" for length in sorted(lengths_mm))
