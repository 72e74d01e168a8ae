"""What to put through each hole: screw, washers, nut and torque for every bolt of every joint.

Goes in: joints with their bolts, settings, the material of each part. Comes out: one `Stack` for each bolt, and
findings for what does not fit. No meshes. `selection` chooses the pieces, `lengths` the length, `tightening` the
torque.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from assembler.catalogue import tables
from assembler.catalogue.records import Screw
from assembler.engineering.holes import HoleMatch, size_from_hole
from assembler.engineering.lengths import (
    MOST_PROTRUSION_PITCHES,
    Pieces,
    has_thread_in_grip,
    needed_length_mm,
    stocked_length_mm,
    unthreaded_mm,
)
from assembler.engineering.selection import bolt_finding, faces_of_bolt, pieces_for_bolt
from assembler.engineering.spacing import spacing_findings
from assembler.engineering.tightening import Tightening, head_share, is_stated, limiting_face, tighten
from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint
from assembler.figure.settings import HardwareChoice, Material, Settings
from assembler.words import Said, Text, say

__all__ = ["HoleMatch", "grip_with_bond_mm", "size_from_hole", "stacks_for_joints", "tightening_of_bolt"]

SAME_LENGTH_MM = 0.5
"""Bolts of one joint whose needs differ by no more get one length: survey noise must not make two bags of one."""

LEAST_TORQUE_SHARE = 0.2
"""Below so many N m for each mm of diameter a torque is hardly set or felt (common practice, no source)."""

LEAST_WRENCH_NM = 1.0
"""Common torque wrenches cannot be set lower (common practice, no source)."""


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
            closes = [joint, *(by_id[other] for other in bolt.also if other in by_id)]
            draft, said = _draft(bolt, closes, settings, materials)
            findings += said
            drafts += [] if draft is None else [draft]
        chosen, said = _lengths_chosen(drafts, settings.hardware)
        level = _one_torque(chosen)
        stacks += level
        findings += [*said, *_weak_torques(level, joint), *spacing_findings(joint)]
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
    faces = faces_of_bolt(bolt, pieces, materials)
    found = tighten(pieces.thread, strength, faces, choice.nut_factor, head_share(pieces.screw.standard))
    return found if pieces.nut else replace(found, rule=say("tightening.insert", rule=found.rule))


def _draft(
    bolt: Bolt, closes: Sequence[Joint], settings: Settings, materials: Mapping[PartId, Material]
) -> tuple[_Draft | None, list[Finding]]:
    pieces, findings = pieces_for_bolt(bolt, settings.hardware)
    if pieces is None:
        return None, findings
    grip_mm = grip_with_bond_mm(bolt, closes, settings.adhesive.bond_line_mm)
    tightening = tightening_of_bolt(bolt, pieces, settings.hardware, materials)
    if not is_stated(tightening.rule):
        message = say("finding.bearing-not-stated", rule=tightening.rule)
        remedy = say("remedy.bearing-not-stated")
        findings.append(bolt_finding(Level.WARN, "bearing-not-stated", bolt, message, remedy))
    draft = _Draft(
        bolt=bolt,
        joint=closes[0].id,
        pieces=pieces,
        grip_mm=grip_mm,
        needed_mm=needed_length_mm(grip_mm, pieces),
        tightening=tightening,
    )
    return draft, findings


def _alike(draft: _Draft) -> tuple[object, ...]:
    """Bolts that may share a length: same size and same pieces."""
    pieces = draft.pieces
    washer = pieces.washer.standard if pieces.washer else ""
    nut = pieces.nut.standard if pieces.nut else ""
    return (natural_key(pieces.thread.size), pieces.screw.standard, nut, washer, pieces.washers)


def _lengths_chosen(drafts: Sequence[_Draft], choice: HardwareChoice) -> tuple[list[Stack], list[Finding]]:
    """Stacks of one joint: bolts with nearly the same need share a length."""
    stacks: list[Stack] = []
    findings: list[Finding] = []
    ordered = sorted(drafts, key=lambda draft: (_alike(draft), draft.needed_mm, natural_key(draft.bolt.id)))
    for _, group in groupby(ordered, key=_alike):
        for cluster in _clusters(list(group)):
            needed_mm = max(draft.needed_mm for draft in cluster)
            for draft in cluster:
                stack, said = _stack(replace(draft, needed_mm=needed_mm), choice)
                findings += said
                stacks += [] if stack is None else [stack]
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
    screw, length_mm, findings = _screw_and_length(draft, choice)
    if length_mm is None:
        return None, [*findings, _no_length(draft, screw, choice)]
    washer, nut = pieces.washer, pieces.nut
    nut_mm = nut.height_mm if nut else 0.0
    stack = Stack(
        bolt=bolt.id,
        joint=draft.joint,
        size=pieces.thread.size,
        screw=screw.standard,
        nut=nut.standard if nut else "",
        washer=washer.standard if washer else "",
        length_mm=length_mm,
        needed_mm=draft.needed_mm,
        grip_mm=draft.grip_mm,
        washers=pieces.washers,
        washer_mm=washer.greatest_mm if washer else 0.0,
        washer_outer_mm=washer.outer_mm if washer else 0.0,
        head_mm=screw.head_mm,
        nut_mm=nut_mm,
        across_flats_mm=screw.across_flats_mm,
        nut_across_flats_mm=nut.across_flats_mm if nut else 0.0,
        key_mm=screw.key_mm,
        head_outer_mm=screw.head_outer_mm,
        protrusion_mm=round(length_mm - draft.grip_mm - pieces.washers_mm - nut_mm, 3),
        torque_nm=draft.tightening.torque_nm,
        torque_rule=draft.tightening.rule,
    )
    return stack, findings + _end_findings(draft, stack)


def _no_length(draft: _Draft, screw: Screw, choice: HardwareChoice) -> Finding:
    size = draft.pieces.thread.size
    series = tables.lengths(screw.standard, size)
    stock = tuple(f"{length:g}" for length in sorted(choice.stock_lengths_mm))
    has = say("finding.no-such-length-made", low_mm=series[0], high_mm=series[-1])
    if stock:
        has = say("finding.no-such-length-stock", made=has, stock=stock)
    message = say("finding.no-such-length", standard=screw.standard, size=size, needed_mm=draft.needed_mm, has=has)
    remedy = say("remedy.no-such-length")
    if stock and draft.needed_mm <= series[-1]:
        remedy = say("remedy.no-such-length-add", other=remedy)
    return bolt_finding(Level.STOP, "no-such-length", draft.bolt, message, remedy)


def _end_findings(draft: _Draft, stack: Stack) -> list[Finding]:
    """What is to say of the thread's end: depth of a blind hole, a thread that sticks out."""
    thread = draft.pieces.thread
    if draft.pieces.nut is None:
        deep_mm = stack.protrusion_mm + thread.pitch_mm
        name = f"{stack.size} x {stack.length_mm:g}"
        message = say("finding.insert-by-data-sheet", name=name, protrusion_mm=stack.protrusion_mm, deep_mm=deep_mm)
        remedy = say("remedy.insert-by-data-sheet")
        return [bolt_finding(Level.NOTE, "insert-by-data-sheet", draft.bolt, message, remedy)]
    if stack.protrusion_mm > MOST_PROTRUSION_PITCHES * thread.pitch_mm:
        message = say(
            "finding.thread-sticks-out", size=stack.size, length_mm=stack.length_mm, protrusion_mm=stack.protrusion_mm
        )
        remedy = say("remedy.thread-sticks-out")
        return [bolt_finding(Level.WARN, "thread-sticks-out", draft.bolt, message, remedy)]
    return []


def _screw_and_length(draft: _Draft, choice: HardwareChoice) -> tuple[Screw, float | None, list[Finding]]:
    """The screw chosen, or the fully threaded one where a plain shank would reach the nut."""
    pieces, size = draft.pieces, draft.pieces.thread.size
    screw, stock = pieces.screw, choice.stock_lengths_mm
    length_mm = stocked_length_mm(draft.needed_mm, tables.lengths(screw.standard, size), stock)
    findings: list[Finding] = []
    if length_mm is not None and not has_thread_in_grip(draft.grip_mm, pieces, length_mm):
        shank_mm = unthreaded_mm(screw, pieces.thread, length_mm)
        name = f"{screw.standard} {size} x {length_mm:g}"
        message = say("finding.thread-does-not-reach", name=name, shank_mm=shank_mm, grip_mm=draft.grip_mm)
        if screw.standard == "ISO 4014":
            screw = tables.screw("ISO 4017", size)
            length_mm = stocked_length_mm(draft.needed_mm, tables.lengths("ISO 4017", size), stock)
            message = say("finding.fully-threaded-instead", reason=message)
            findings.append(bolt_finding(Level.NOTE, "fully-threaded-instead", draft.bolt, message))
        else:
            remedy = say("remedy.thread-does-not-reach")
            findings.append(bolt_finding(Level.STOP, "thread-does-not-reach", draft.bolt, message, remedy))
    ideal_mm = stocked_length_mm(draft.needed_mm, tables.lengths(screw.standard, size), ())
    if length_mm is not None and ideal_mm is not None and length_mm > ideal_mm:
        more_mm = length_mm - ideal_mm
        message = say("finding.length-not-stocked", size=size, ideal_mm=ideal_mm, length_mm=length_mm, more_mm=more_mm)
        findings.append(bolt_finding(Level.NOTE, "length-not-stocked", draft.bolt, message))
    return screw, length_mm, findings


def _one_torque(stacks: Sequence[Stack]) -> list[Stack]:
    """Stacks of one joint with one torque for each size: the smallest, so that the crew sets the wrench once."""
    least: dict[str, Stack] = {}
    for stack in stacks:
        known = least.get(stack.size)
        if known is None or (stack.torque_nm, str(stack.torque_rule)) < (known.torque_nm, str(known.torque_rule)):
            least[stack.size] = stack
    return [
        replace(stack, torque_nm=least[stack.size].torque_nm, torque_rule=least[stack.size].torque_rule)
        for stack in stacks
    ]


def _weak_torques(stacks: Sequence[Stack], joint: Joint) -> list[Finding]:
    """Torques too small to be set or felt, because a face bears too little; the remedy depends on the face."""
    findings = []
    for size in sorted({stack.size for stack in stacks}, key=natural_key):
        own = [stack for stack in stacks if stack.size == size]
        torque_nm, rule = own[0].torque_nm, own[0].torque_rule
        least_nm = max(LEAST_WRENCH_NM, LEAST_TORQUE_SHARE * tables.thread(size).diameter_mm)
        if torque_nm >= least_nm or not is_stated(rule):
            continue
        only = say("finding.torque-low-only", torque_nm=torque_nm) if torque_nm else say("finding.torque-low-even")
        message = say("finding.torque-low", size=size, only=only, rule=rule)
        if torque_nm < LEAST_WRENCH_NM:
            message = say("finding.torque-low-driver", low=message)
        remedy = say("remedy.torque-low", more=_more_bearing(own[0]))
        findings.append(Finding(level=Level.NOTE, code="torque-low", about=(joint.id,), message=message, remedy=remedy))
    return findings


def _more_bearing(stack: Stack) -> Said:
    """What lets the face that limits a torque bear more."""
    face = limiting_face(stack.torque_rule)
    if face == "nut":
        return say("remedy.torque-low-put_washer_plate")
    if face != "washer":
        return say("remedy.torque-low-put_washer_under")
    return (
        say("remedy.torque-low-use_larger_bolts")
        if stack.washer == "ISO 7093-1"
        else say("remedy.torque-low-use_larger_washers")
    )


def _merged(findings: Iterable[Finding]) -> list[Finding]:
    """Findings that say the same, as one that names every bolt or joint."""
    about: dict[tuple[Level, str, Text, Text], list[str]] = {}
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
