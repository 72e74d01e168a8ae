"""Which joints and bolts does a set of parts have? Meshes in, `Survey` out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from assembler.figure.findings import Finding, sort_findings
from assembler.figure.ids import BoltId, JointId, PartId, natural_key
from assembler.figure.joints import Bolt, Joint, Method, Origin, Place
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Vector
from assembler.figure.tolerances import Tolerances
from assembler.geometry.holes import BoreProbe
from assembler.geometry.solids import as_vector
from assembler.survey.boltchains import Chain, bolt_of, find_chains
from assembler.survey.bolting import Bolting, bolts_between
from assembler.survey.contacts import Touch, find_touches
from assembler.survey.jointfaces import JointFace, joint_face
from assembler.survey.jointfindings import Met, floating_parts, hole_findings, play_findings


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
    findings
        Heaviest first.
    faces
        Each joint seen face-on, for the contact sheet, in the order of the joints.
    met, floating
        What findings are made of, see `in_numbers`: mating areas and holes of each joint; parts that
        touch nothing.
    """

    joints: tuple[Joint, ...]
    contacts: tuple[Contact, ...]
    findings: tuple[Finding, ...]
    faces: tuple[JointFace, ...] = ()
    met: tuple[Met, ...] = field(default=(), repr=False, compare=False)
    floating: tuple[Finding, ...] = field(default=(), repr=False, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Found:
    touch: Touch
    bolting: Bolting
    centre: NDArray[np.float64]
    normal: NDArray[np.float64]


def survey_joints(
    meshes: Mapping[PartId, Mesh],
    tolerances: Tolerances,
    *,
    up: Vector = (0.0, 0.0, 1.0),
    progress: Callable[[str], None] | None = None,
) -> Survey:
    """Joints, bolts and contacts of all parts.

    Parameters
    ----------
    meshes
        In mm, in the frame of the figure, healed.
    tolerances
        Gap, overlap and area that make a joint.
    up
        Unit vector that points up when the figure stands: nobody looks for seams from below it, and joints are
        numbered upwards.
    progress
        Called with a line now and then.

    Returns
    -------
    Survey
        The same for any order of the meshes.
    """
    order = tuple(sorted(meshes, key=natural_key))
    touches = find_touches(meshes, order, tolerances, up=up, progress=progress)
    probes = {part: BoreProbe(mesh) for part, mesh in meshes.items()}
    found, contacts = [], []
    for touch in touches:
        bolting = bolts_between(touch.parts, touch.patches, probes, touch.holes)
        if touch.area_mm2 >= tolerances.joint_area_mm2 or bolting.axes:
            found.append(_Found(touch=touch, bolting=bolting, centre=touch.centre_mm, normal=touch.normal))
        else:
            contacts.append(Contact(parts=touch.parts, area_mm2=touch.area_mm2))
    found.sort(key=lambda entry: _position(entry, up))
    width = max(2, len(str(len(found))))
    names = [JointId(f"J{number:0{width}d}") for number in range(1, len(found) + 1)]
    joints = _joints(names, found)
    faces = tuple(joint_face(joint, entry.touch.patches) for joint, entry in zip(joints, found, strict=True))
    met = tuple((entry.touch, entry.bolting) for entry in found)
    return _told(joints, tuple(contacts), faces, met, tuple(floating_parts(order, touches)))


def joint_faces(
    meshes: Mapping[PartId, Mesh], joints: Sequence[Joint], tolerances: Tolerances, *, up: Vector = (0.0, 0.0, 1.0)
) -> tuple[JointFace, ...]:
    """Faces of joints as a file states them; parameters are those of `survey_joints`.

    A joint whose parts do not touch gives a face without rings.
    """
    touches = find_touches(meshes, tuple(sorted(meshes, key=natural_key)), tolerances, up=up)
    patches = {frozenset(touch.parts): touch.patches for touch in touches}
    return tuple(joint_face(joint, patches.get(frozenset(joint.parts), ())) for joint in joints)


def _told(
    joints: tuple[Joint, ...],
    contacts: tuple[Contact, ...],
    faces: tuple[JointFace, ...],
    met: tuple[Met, ...],
    floating: tuple[Finding, ...],
) -> Survey:
    """The survey with what it has to say of joints of these numbers."""
    names = [joint.id for joint in joints]
    return Survey(
        joints=joints,
        contacts=contacts,
        findings=sort_findings([*hole_findings(names, met), *play_findings(names, met), *floating]),
        faces=faces,
        met=met,
        floating=floating,
    )


def in_numbers(survey: Survey, names: Mapping[str, str]) -> Survey:
    """The survey in the numbers of a project: joints, bolts, faces, and all that is said of them.

    Parameters
    ----------
    survey
        In numbers of its own.
    names
        The project's id for each joint and bolt of it.
    """
    joints = tuple(
        replace(
            joint,
            id=JointId(names[joint.id]),
            bolts=tuple(
                replace(
                    bolt,
                    id=BoltId(names[bolt.id]),
                    also=tuple(JointId(names.get(other, other)) for other in bolt.also),
                )
                for bolt in joint.bolts
            ),
        )
        for joint in survey.joints
    )
    faces = tuple(
        replace(
            face,
            joint=JointId(names[face.joint]),
            holes=tuple(replace(hole, bolt=BoltId(names[hole.bolt])) for hole in face.holes),
        )
        for face in survey.faces
    )
    return _told(joints, survey.contacts, faces, survey.met, survey.floating)


def _position(found: _Found, up: Vector) -> tuple[object, ...]:
    x, y, z = (round(float(value), 1) for value in found.centre)
    return (round(float(found.centre @ up), 1), x, y, z, *(natural_key(part) for part in found.touch.parts))


def _joints(names: Sequence[JointId], found: Sequence[_Found]) -> tuple[Joint, ...]:
    chains = find_chains([entry.bolting for entry in found])
    by_joint: dict[int, list[Chain]] = {number: [] for number in range(len(found))}
    for chain in chains:
        by_joint[min(chain.joints)].append(chain)
    joined = {number for chain in chains for number in chain.joints}
    result = []
    for number, (name, entry) in enumerate(zip(names, found, strict=True)):
        bolts = [bolt_of(chain, names) for chain in by_joint[number]]
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
