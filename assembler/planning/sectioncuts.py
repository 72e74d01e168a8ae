"""At which joints can a figure be parted for its way? Joints in, reasons against out."""

from __future__ import annotations

from collections.abc import Mapping

from assembler.figure.ids import JointId
from assembler.figure.joints import Joint, Method, Place
from assembler.planning.access import Hands
from assembler.planning.scene import Floor, PartSet, Scene
from assembler.words import Said, say


def ground_floor(scene: Scene) -> Floor:
    """The ground under the figure as it stands on site."""
    return Floor(scene.up, round(scene.lowest_mm(scene.everything, scene.up), 3))


def blocked_joints(scene: Scene) -> dict[JointId, Said]:
    """Why joints that are no site joints can never become one, by what they are; the others are left out."""
    shared = _shared(scene)
    reasons = {joint.id: _reason(joint, shared) for joint in scene.joints if joint.made is not Place.SITE}
    return {name: reason for name, reason in reasons.items() if reason is not None}


def _shared(scene: Scene) -> set[JointId]:
    """Joints with a bolt that closes another one too."""
    found: set[JointId] = set()
    for joint in scene.joints:
        for bolt in joint.bolts:
            if bolt.also or len(set(bolt.through)) > 2:
                found |= {joint.id, *bolt.also}
    return found


def _reason(joint: Joint, shared: set[JointId]) -> Said | None:
    if joint.method.is_bonded:
        return say("cut.bonded")
    if joint.method is Method.DRY or not joint.bolts:
        return say("cut.dry")
    return say("cut.shared") if joint.id in shared else None


def out_of_reach(scene: Scene, hands: Hands, joint: Joint, standing: PartSet) -> Said | None:
    """The bolts of a joint that nobody closes past what stands; None where all are reached."""
    floor = ground_floor(scene)
    bolts = tuple(bolt.id for bolt in joint.bolts if not hands.is_closable(bolt, standing, floor=floor))
    return say("cut.reach", bolts=bolts) if bolts else None


def remedy_for(reason: Said, joint: JointId) -> Said:
    """What would make a site joint of a joint."""
    return say(f"remedy.{reason.code}", joint=joint)


def units_of(scene: Scene, blocked: Mapping[JointId, Said]) -> list[PartSet]:
    """What no site joint parts: parts held together by joints that are blocked, that with the lowest number first."""
    held = [0] * len(scene.parts)
    for joint, (a, b) in zip(scene.joints, scene.pairs, strict=True):
        if joint.id in blocked:
            held[a] |= 1 << b
            held[b] |= 1 << a
    left, found = scene.everything, []
    while left:
        unit = edge = left & -left
        while edge:
            number = edge.bit_length() - 1
            edge = (edge & ~(1 << number)) | (held[number] & ~unit)
            unit |= held[number]
        found.append(unit)
        left &= ~unit
    return found
