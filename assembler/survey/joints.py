"""Which joints and bolts does a set of parts have? Meshes in, `Survey` out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembler.figure.findings import Finding, Level, sort_findings
from assembler.figure.ids import BoltId, JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint, Method, Origin, Place, Seat
from assembler.figure.mesh import Mesh
from assembler.figure.tolerances import Tolerances
from assembler.geometry.holes import BoreProbe, Kind
from assembler.geometry.solids import as_vector
from assembler.survey.bolting import Axis, Bolting, Unmatched, bolts_between, seat_of
from assembler.survey.contacts import Touch, find_touches

_MOST_QUESTIONS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Two parts that touch over less than the area of a joint."""

    parts: tuple[PartId, PartId]
    area_mm2: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What joins what.

    Parameters
    ----------
    joints
        In the order of their ids, which run from the lowest joint upwards.
    contacts
        Pairs that touch over less than the area of a joint.
    questions
        What needs a decision, at most eight lines.
    findings
        Heaviest first.
    """

    joints: tuple[Joint, ...]
    contacts: tuple[Contact, ...]
    questions: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    touch: Touch
    bolting: Bolting
    centre: NDArray[np.float64]
    normal: NDArray[np.float64]


def survey_joints(
    meshes: Mapping[PartId, Mesh], tolerances: Tolerances, *, progress: Callable[[str], None] | None = None
) -> Survey:
    """Joints, bolts and contacts of all parts.

    Parameters
    ----------
    meshes
        In mm, in the frame of the figure, healed.
    tolerances
        Gap, overlap and area that make a joint.
    progress
        Called with a line now and then.

    Returns
    -------
    Survey
        The same for any order of the meshes.
    """
    order = tuple(sorted(meshes, key=natural_key))
    touches = find_touches(meshes, order, tolerances, progress)
    probes = _Probes(meshes)
    found, contacts = [], []
    for touch in touches:
        bolting = bolts_between(touch.parts, touch.patches, probes)
        if touch.area_mm2 >= tolerances.joint_area_mm2 or bolting.axes:
            found.append(_Found(touch=touch, bolting=bolting, centre=touch.centre_mm, normal=touch.normal))
        else:
            contacts.append(Contact(parts=touch.parts, area_mm2=touch.area_mm2))
    found.sort(key=_position)
    width = max(2, len(str(len(found))))
    names = [JointId(f"J{number:0{width}d}") for number in range(1, len(found) + 1)]
    joints = _joints(names, found)
    questions = _questions(joints)
    findings = [*_hole_findings(names, found), *_floating(order, touches)]
    return Survey(joints=joints, contacts=tuple(contacts), questions=questions, findings=sort_findings(findings))


class _Probes(dict[PartId, BoreProbe]):
    """Probes made when first asked for."""

    def __init__(self, meshes: Mapping[PartId, Mesh]) -> None:
        super().__init__()
        self._meshes = meshes

    def __missing__(self, part: PartId) -> BoreProbe:
        probe = self[part] = BoreProbe(self._meshes[part])
        return probe


def _position(found: _Found) -> tuple[object, ...]:
    x, y, z = (round(float(value), 1) for value in found.centre)
    return (z, x, y, *(natural_key(part) for part in found.touch.parts))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Chain:
    """Axes of one bolt through two or more parts, in order along the axis."""

    joints: tuple[int, ...]
    axes: tuple[Axis, ...]


def _joints(names: Sequence[JointId], found: Sequence[_Found]) -> tuple[Joint, ...]:
    chains = _chains(found)
    by_joint: dict[int, list[_Chain]] = {number: [] for number in range(len(found))}
    for chain in chains:
        by_joint[min(chain.joints)].append(chain)
    joined = {number for chain in chains for number in chain.joints}
    result = []
    for number, (name, entry) in enumerate(zip(names, found, strict=True)):
        bolts = [_bolt(chain, names) for chain in by_joint[number]]
        bolts = [
            bolt for _, bolt in sorted(zip(map(_turn(entry), bolts), bolts, strict=True), key=lambda pair: pair[0])
        ]
        numbered = tuple(_renamed(bolt, BoltId(f"{name}.{k}")) for k, bolt in enumerate(bolts, 1))
        result.append(_joint(name, entry, numbered, number in joined))
    return tuple(result)


def _joint(name: JointId, entry: _Found, bolts: tuple[Bolt, ...], is_bolted: bool) -> Joint:
    parts = entry.touch.parts
    heads = sum(
        1 if bolt.through[0] == parts[0] else -1 for bolt in bolts if parts[0] in (bolt.through[0], bolt.through[-1])
    )
    is_turned = heads < 0
    return Joint(
        id=name,
        parts=parts[::-1] if is_turned else parts,
        method=Method.BOLTED_AND_BONDED if is_bolted else Method.BONDED,
        made=Place.SHOP,
        bond_area_mm2=entry.touch.area_mm2,
        seam_mm=entry.touch.seam_mm,
        normal=as_vector(-entry.normal if is_turned else entry.normal),
        centre_mm=as_vector(entry.centre),
        bolts=bolts,
        gap_mm=entry.touch.gap_mm,
        origins={
            "method": Origin.ASSUMED,
            "made": Origin.ASSUMED,
            "bond_area_mm2": Origin.SURVEYED,
            "seam_mm": Origin.SURVEYED,
            "bolts": Origin.SURVEYED,
        },
    )


def _chains(found: Sequence[_Found]) -> list[_Chain]:
    """Axes that run on through a shared part become one bolt."""
    entries = [(number, axis) for number, entry in enumerate(found) for axis in entry.bolting.axes]
    links: dict[int, list[int]] = {index: [] for index in range(len(entries))}
    for one, two in _neighbours(entries):
        if _runs_on(entries[one][1], entries[two][1]):
            links[one].append(two)
            links[two].append(one)
    chains, seen = [], set()
    for first in range(len(entries)):
        if first in seen:
            continue
        group, rest = [], [first]
        while rest:
            here = rest.pop()
            if here not in seen:
                seen.add(here)
                group.append(here)
                rest.extend(links[here])
        chains.append(_in_order([entries[index] for index in sorted(group)]))
    return chains


def _neighbours(entries: Sequence[tuple[int, Axis]]) -> list[tuple[int, int]]:
    """Pairs of axes of different joints that lie on one line, near enough to look at."""
    if not entries:
        return []
    points = np.array([axis.at_mm for _, axis in entries])
    axes = np.array([axis.axis for _, axis in entries])
    joint = np.array([number for number, _ in entries])
    found = []
    for one in range(len(entries)):
        arm = points[one + 1 :] - points[one]
        across = np.linalg.norm(np.cross(arm, axes[one]), axis=1)
        near = (across < 10.0) & (np.abs(axes[one + 1 :] @ axes[one]) > 0.99) & (joint[one + 1 :] != joint[one])
        found += [(one, one + 1 + int(two)) for two in np.flatnonzero(near)]
    return found


def _runs_on(one: Axis, two: Axis) -> bool:
    """Whether two axes are one bolt: on one line, and the seat in the shared part is the other's bond plane."""
    if not set(one.parts) & set(two.parts) or abs(one.axis @ two.axis) < np.cos(np.radians(2.0)):
        return False
    between = two.at_mm - one.at_mm
    along = float(between @ one.axis)
    if np.linalg.norm(between - along * one.axis) > max(0.5, 0.12 * one.hole_mm):
        return False
    for part in sorted(set(one.parts) & set(two.parts)):
        side = one.parts.index(part)
        bore = one.bores[side]
        depth = (bore.depth_mm + one.gap_mm / 2) * (1 if side else -1)
        if bore.kind is Kind.THROUGH and abs(along - depth) < 1.5 + abs(two.gap_mm):
            return True
    return False


def _in_order(entries: list[tuple[int, Axis]]) -> _Chain:
    axis = entries[0][1].axis
    ordered = sorted(entries, key=lambda entry: (round(float(entry[1].at_mm @ axis), 4), entry[0]))
    turned = [_turned(found) if found.axis @ axis < 0 else found for _, found in ordered]
    return _Chain(joints=tuple(number for number, _ in ordered), axes=tuple(turned))


def _turned(axis: Axis) -> Axis:
    return Axis(
        parts=axis.parts[::-1],
        at_mm=axis.at_mm,
        axis=-axis.axis,
        hole_mm=axis.hole_mm,
        gap_mm=axis.gap_mm,
        bores=axis.bores[::-1],
    )


def _bolt(chain: _Chain, names: Sequence[JointId]) -> Bolt:
    axes = chain.axes
    if _is_head_last(axes):
        axes = tuple(_turned(axis) for axis in reversed(axes))
    start, end = axes[0].ends_mm()[0], axes[-1].ends_mm()[1]
    first, last = axes[0].bores[0], axes[-1].bores[1]
    through = (axes[0].parts[0], *(axis.parts[1] for axis in axes))
    listed = min(range(len(chain.joints)), key=lambda index: chain.joints[index])
    at = chain.axes[listed].at_mm
    return Bolt(
        id=BoltId(""),
        at_mm=as_vector(at),
        axis=as_vector(axes[0].axis),
        hole_mm=min(axis.hole_mm for axis in axes),
        grip_mm=float((end - start) @ axes[0].axis),
        through=through,
        seats=(seat_of(first), seat_of(last)),
        also=tuple(names[number] for number in sorted(set(chain.joints))[1:]),
        seat_room_mm=(first.room_mm, last.room_mm),
    )


def _is_head_last(axes: Sequence[Axis]) -> bool:
    """Whether the head goes in at the far end: the near one holds a nut or insert, or the far one is counterbored."""
    first, last = axes[0].bores[0], axes[-1].bores[1]
    rank = {Seat.INSERT: 2, Seat.CAPTIVE: 1, Seat.OPEN: 0}
    here, there = rank[seat_of(first)], rank[seat_of(last)]
    if here != there:
        return here > there
    return last.is_counterbored and not first.is_counterbored


def _turn(entry: _Found) -> Callable[[Bolt], tuple[float, ...]]:
    """Key that numbers bolts round the joint."""
    across = np.cross(entry.normal, np.eye(3)[int(np.argmin(np.abs(entry.normal)))])
    across /= np.linalg.norm(across)
    up = np.cross(entry.normal, across)

    def key(bolt: Bolt) -> tuple[float, ...]:
        arm = np.asarray(bolt.at_mm) - entry.centre
        angle = round(float(np.arctan2(arm @ up, arm @ across)), 4)
        return (angle, *(round(value, 3) for value in bolt.at_mm))

    return key


def _renamed(bolt: Bolt, name: BoltId) -> Bolt:
    return Bolt(
        id=name,
        at_mm=bolt.at_mm,
        axis=bolt.axis,
        hole_mm=bolt.hole_mm,
        grip_mm=bolt.grip_mm,
        through=bolt.through,
        seats=bolt.seats,
        also=bolt.also,
        seat_room_mm=bolt.seat_room_mm,
    )


def _questions(joints: Sequence[Joint]) -> tuple[str, ...]:
    """Assumed methods, largest joints first; the last line counts what did not fit."""
    bonded = sorted(
        (joint for joint in joints if joint.method is Method.BONDED), key=lambda joint: -joint.bond_area_mm2
    )
    lines = [
        f"{joint.id} ({joint.parts[0]} and {joint.parts[1]}, {joint.bond_area_mm2 / 100:.0f} cm2) has no bolts: "
        "is it bonded, dry, or are holes missing? Assumed: bonded."
        for joint in bonded
    ]
    if len(lines) > _MOST_QUESTIONS:
        rest = ", ".join(joint.id for joint in bonded[_MOST_QUESTIONS - 1 :])
        lines = [*lines[: _MOST_QUESTIONS - 1], f"The same question for {rest}. Assumed: bonded."]
    return tuple(lines)


def _hole_findings(names: Sequence[JointId], found: Sequence[_Found]) -> list[Finding]:
    result = []
    axes = [axis for entry in found for axis in entry.bolting.axes]
    for name, entry in zip(names, found, strict=True):
        for hole in entry.bolting.unmatched:
            if any(_is_on(axis, hole) for axis in axes):
                continue
            result.append(
                Finding(
                    level=Level.WARN,
                    code="hole-without-partner",
                    about=(name, hole.part),
                    message=f"{name}: one side has a hole without partner: {hole.part} has a hole of "
                    f"{hole.width_mm:.1f} mm at {_place(hole.at_mm)}, {hole.other} has none opposite",
                    remedy="drill the other side, or write the bolt into joints.toml; a drain hole needs nothing",
                )
            )
        for pin in entry.bolting.pins:
            word = "two blind holes, taken for a loose dowel" if pin.is_loose else "a pin in a socket"
            result.append(
                Finding(
                    level=Level.NOTE,
                    code="alignment-pin",
                    about=(name,),
                    message=f"{name}: {word} of {pin.width_mm:.1f} mm at {_place(pin.at_mm)}, not a bolt",
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


def _floating(order: Sequence[PartId], touches: Sequence[Touch]) -> list[Finding]:
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
        message = "no part touches another"
        remedy = "export every part where it belongs in the figure, with one common origin and unit"
        return [Finding(level=Level.STOP, code="nothing-touches", about=(), message=message, remedy=remedy)]
    return [
        Finding(
            level=Level.WARN,
            code="floating-parts",
            about=tuple(parts),
            message=f"{', '.join(parts)}: no contact with the rest of the figure",
            remedy="check their position, or whether a part between is missing",
        )
        for parts in groups[1:]
    ]
