"""What is wrong with access, and what would help: verdicts in, findings with remedies that geometry supports out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from assembler.figure.findings import Finding, Level
from assembler.figure.ids import BoltId, natural_key
from assembler.figure.joints import Bolt, Joint, Seat
from assembler.planning.access import Hands, Verdict
from assembler.planning.benches import Placed
from assembler.planning.scene import PartSet, Scene, members
from assembler.words import Said, Text, also, say

_CODES = {
    "head": "head-out-of-reach",
    "nut": "nut-out-of-reach",
    "second arm": "second-arm-out-of-reach",
    "head tool": "no-room-for-tool",
    "nut tool": "no-room-for-tool",
}


def access_findings(
    scene: Scene, hands: Hands, placed: Sequence[Placed], verdicts: Mapping[int, tuple[Verdict, ...]]
) -> list[Finding]:
    """A `stop` for every group of bolts that cannot be closed for one reason, with ranked remedies."""
    found = []
    joint_of = {bolt.id: joint for joint in scene.joints for bolt in joint.bolts}
    for number in sorted(verdicts):
        missed = [verdict for verdict in verdicts[number] if verdict.missing]
        shut = [verdict for verdict in missed if verdict.is_shut]
        if shut:
            found.append(_last_closure(scene, hands, placed[number], shut, joint_of))
        groups: dict[tuple[str, str], list[Verdict]] = {}
        for verdict in missed:
            if not verdict.is_shut:
                groups.setdefault((joint_of[verdict.access.bolt].id, verdict.missing), []).append(verdict)
        for key in sorted(groups, key=lambda key: (natural_key(key[0]), key[1])):
            found.append(_out_of_reach(scene, hands, placed[number], groups[key], joint_of))
    return found


def _last_closure(
    scene: Scene, hands: Hands, item: Placed, shut: Sequence[Verdict], joint_of: Mapping[BoltId, Joint]
) -> Finding:
    bolts = tuple(verdict.access.bolt for verdict in shut)
    joints = tuple(sorted({joint_of[bolt].id for bolt in bolts}, key=natural_key))
    names = scene.names(item.joining.moving)
    ends = sorted({verdict.missing for verdict in shut})
    return Finding(
        level=Level.STOP,
        code="last-closure",
        about=(*joints, *bolts),
        message=(
            say(
                "finding.last-closure",
                names=names,
                ends=also((say(f"closing.ends_{end}") for end in ends), "closing.and_the"),
                count=len(bolts),
                joints=tuple(joints),
            )
        ),
        remedy=_ranked(scene, hands, item, shut, joint_of),
    )


def _out_of_reach(
    scene: Scene, hands: Hands, item: Placed, missed: Sequence[Verdict], joint_of: Mapping[BoltId, Joint]
) -> Finding:
    bolts = tuple(verdict.access.bolt for verdict in missed)
    first, joint = missed[0], joint_of[bolts[0]].id
    obstacles = scene.names(first.in_the_way)
    what = {
        "head": say("closing.heads", head=first.access.head),
        "nut": say("closing.nuts", nut=first.access.nut),
        "second arm": (
            say("closing.both_ends_lie", pair_mm=hands.room.pair_mm, sure_mm=_sure_mm(hands, hands.room.pair_mm))
        ),
        "head tool": say("closing.there_room_heads", tool=first.access.tool, obstacles=obstacles),
        "nut tool": say("closing.there_room_spanner", obstacles=obstacles),
    }[first.missing]
    return Finding(
        level=Level.STOP,
        code=_CODES[first.missing],
        about=(joint, *bolts),
        message=say("finding.out-of-reach", count=len(bolts), joint=joint, what=what),
        remedy=_ranked(scene, hands, item, missed, joint_of),
    )


def _ranked(
    scene: Scene, hands: Hands, item: Placed, missed: Sequence[Verdict], joint_of: Mapping[BoltId, Joint]
) -> Text:
    """Remedies that were judged to work here, the least change first; a hatch cannot be judged before it is drawn."""
    bolts = [hands.bolts[verdict.access.bolt] for verdict in missed]
    found = _captive(scene, hands, item, bolts)
    limit_mm = scene.settings.crew.reach_mm
    too_far = any(
        not verdict.is_shut and verdict.missing in ("head", "nut") and verdict.access.reach_mm > limit_mm
        for verdict in missed
    )
    hatch = _hatch(scene, hands, item, bolts)
    found.append(say("closing.reach_limit_here", hatch=hatch) if too_far else hatch)
    joints = sorted({joint_of[bolt.id].id for bolt in bolts}, key=natural_key)
    found.append(say("closing.bond_only", joints=tuple(joints)))
    ranked = [say("closing.ranked", rank=rank, remedy=remedy) for rank, remedy in enumerate(found, 1)]
    return also(ranked, "list.or")


def _captive(scene: Scene, hands: Hands, item: Placed, bolts: Sequence[Bolt]) -> list[Said]:
    """Seats that would make bolts closable past what stands then, each as the line to write into joints.toml."""
    whole, floor = item.joining.moving | item.joining.standing, item.floor(scene)
    found: list[tuple[int, int, Said]] = []
    for head, seats in ((0, '["open", "captive"]'), (1, '["captive", "open"]')):
        solved = [bolt for bolt in bolts if not hands.seated_otherwise(bolt, head, whole, floor).missing]
        if not solved:
            continue
        nuts = {scene.parts[hands.ends[bolt.id][1 - head].part].id for bolt in solved}
        heads = {scene.parts[hands.ends[bolt.id][head].part].id for bolt in solved}
        outside = all(hands.reach(hands.ends[bolt.id][head], whole, floor).way_mm == 0.0 for bolt in solved)
        captive = say(
            "closing.captive_outside" if outside else "closing.captive_inside",
            nuts=_ids(nuts),
            heads=_ids(heads),
            which=_ids(bolt.id for bolt in solved),
            seats=seats,
        )
        is_all = len(solved) == len(bolts)
        text = captive if is_all else say("closing.some", captive=captive, solved=len(solved), count=len(bolts))
        found.append((-len(solved), head, text))
    return [text for _, _, text in sorted(found, key=lambda item: item[:2])]


def _ids(names: Iterable[str]) -> tuple[str, ...]:
    """Ids in order, all of them: they are what is looked for in the file."""
    return tuple(sorted(names, key=natural_key))


def _outer_end(hands: Hands, bolts: Sequence[Bolt], standing: PartSet) -> bool:
    """Whether one end of every bolt could be driven from outside, always on the same side."""
    return any(
        all(hands.reach(hands.ends[bolt.id][end], standing, None).way_mm == 0.0 for bolt in bolts) for end in (0, 1)
    )


def _hatch(scene: Scene, hands: Hands, item: Placed, bolts: Sequence[Bolt]) -> Said:
    """The face in which a hatch would lie nearest to the ends out of reach, and the size that will do."""
    standing = item.joining.moving | item.joining.standing
    part, side, depth_mm = _nearest_face(scene, standing, bolts)
    room = hands.room
    is_pair = any(bolt.seats == (Seat.OPEN, Seat.OPEN) for bolt in bolts) and not _outer_end(hands, bolts, standing)
    forearms, arms = (room.pair_mm, room.upper_pair_mm) if is_pair else (room.arm_mm, room.upper_arm_mm)
    wide = forearms if depth_mm <= room.forearm_mm else arms
    return say("closing.hatch", sure_mm=_sure_mm(hands, wide), side=side, part=scene.parts[part].id)


def _nearest_face(scene: Scene, standing: PartSet, bolts: Sequence[Bolt]) -> tuple[int, str, float]:
    """The part at the side of what stands, by its box and not the one on the ground, nearest to bolts; how deep."""
    at = [sum(bolt.at_mm[axis] for bolt in bolts) / len(bolts) for axis in range(3)]
    low, high = scene.box_mm(standing)
    sides = [
        (round(abs(ends[axis] - at[axis]), 3), axis, sign, ends[axis])
        for axis in range(3)
        for sign, ends in (("+", high), ("-", low))
        if (scene.up[axis] if sign == "+" else -scene.up[axis]) > -0.5
    ]
    depth_mm, axis, sign, edge_mm = min(sides)
    place = [edge_mm if number == axis else at[number] for number in range(3)]

    def away_mm(number: int) -> float:
        part = scene.parts[number]
        gaps = (max(a - p, 0.0, p - b) for a, b, p in zip(part.low_mm, part.high_mm, place, strict=True))
        return round(math.hypot(*gaps), 3)

    return min(members(standing), key=lambda number: (away_mm(number), number)), f"{sign}{'xyz'[axis]}", depth_mm


def _sure_mm(hands: Hands, wide_mm: float) -> float:
    """Width from which an opening is found wide enough wherever it lies on the grid, rounded up to 5 mm."""
    return 5.0 * math.ceil((wide_mm + hands.room.lost_mm) / 5.0)
