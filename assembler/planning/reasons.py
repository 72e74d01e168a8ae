"""What forced the place of a step? Later parts that would shut its way or its bolts, what carries it, what waits."""

from __future__ import annotations

from collections.abc import Sequence

from assembler.figure.ids import natural_key
from assembler.planning.access import Hands
from assembler.planning.benches import Placed
from assembler.planning.blocking import Depth, Paths
from assembler.planning.gravity import team_lift
from assembler.planning.pieces import units
from assembler.planning.scene import PartSet, Scene
from assembler.planning.support import Support
from assembler.words import Text, say


def reasons(
    scene: Scene, paths: Paths, hands: Hands, support: Support, placed: Sequence[Placed]
) -> dict[int, tuple[Text, ...]]:
    """Why each joining stands where it stands, by its place in `placed`, one line each.

    Parameters
    ----------
    scene, paths, hands, support
        The figure and what answers questions about it.
    placed
        All joinings, each bench in its order.
    """
    wholes = units(scene, support)
    return {number: _reasons(scene, paths, hands, support, placed, number, wholes) for number in range(len(placed))}


def _reasons(
    scene: Scene,
    paths: Paths,
    hands: Hands,
    support: Support,
    placed: Sequence[Placed],
    number: int,
    wholes: Sequence[PartSet],
) -> tuple[Text, ...]:
    item = placed[number]
    moving, standing = item.joining.moving, item.joining.standing
    later = [
        other.joining.moving
        for other in placed[number + 1 :]
        if other.bench == item.bench and other.target == item.target
    ]
    lines: list[Text] = [
        *_needs(support, item),
        *_shuts_way(scene, paths, moving, standing, later),
        *_shuts_bolts(scene, hands, item, later),
        *_pinned(scene, moving, standing),
        *_not_as_one(scene, paths, hands, wholes, item),
    ]
    if moving.bit_count() > 1:
        lines.append(say("why.joined_apart", names=scene.names(moving)))
    lines += _closes(scene, hands, item, placed[:number])
    if not lines:
        lines.append(say("why.free"))
    return tuple(lines)


def _needs(support: Support, item: Placed) -> list[Text]:
    carriers, scene = 0, support.scene
    for joint in scene.joints_between(item.joining.moving, item.joining.standing):
        lower = support.lower(joint, item.up)
        if lower is not None and item.joining.standing >> lower & 1:
            carriers |= 1 << lower
    return [say("why.stands_on", names=tuple(scene.names(carriers)))] if carriers else []


def _shuts_way(scene: Scene, paths: Paths, moving: PartSet, standing: PartSet, later: Sequence[PartSet]) -> list[Text]:
    """The first later arrival that would leave no straight way in."""
    there = standing
    for arrival in later:
        there |= arrival
        if not paths.directions_out(moving, there):
            return [say("why.shuts_way", names=tuple(scene.names(arrival)))]
    return []


def _shuts_bolts(scene: Scene, hands: Hands, item: Placed, later: Sequence[PartSet]) -> list[Text]:
    """The first later arrival known to shut bolts that are closed in this step."""
    moving, standing = item.joining.moving, item.joining.standing
    bolts = scene.bolts_closed(moving, standing)
    there = moving | standing
    for arrival in later:
        there |= arrival
        floor = None if item.is_raised else scene.floor(there, item.up)
        shut = [bolt.id for bolt in bolts if hands.is_known_shut(bolt, there, floor=floor)]
        if shut:
            named = tuple(sorted(shut, key=natural_key)[:3])
            bolts_shut = say("why.and_others", first=named) if len(shut) > 3 else named
            return [say("why.shuts_bolts", names=scene.names(arrival), bolts=bolts_shut)]
    return []


def _closes(scene: Scene, hands: Hands, item: Placed, earlier: Sequence[Placed]) -> list[Text]:
    """Joints of earlier steps whose bolts nobody reaches any more once this has arrived."""
    whole, standing = item.joining.moving | item.joining.standing, item.joining.standing
    bolts = {
        bolt.id: bolt
        for other in earlier
        for bolt in scene.bolts_closed(other.joining.moving, other.joining.standing)
        if (other.joining.moving | other.joining.standing) & standing
    }
    floor = None if item.is_raised else scene.floor(whole, item.up)
    shut = {
        joint.id
        for joint in scene.joints
        for bolt in joint.bolts
        if bolt.id in bolts
        and hands.is_known_shut(bolt, whole, floor=floor)
        and not hands.is_known_shut(bolt, standing, floor=floor)
    }
    joints = sorted(shut, key=natural_key)
    return [say("why.closes_off", joints=tuple(joints))] if joints else []


def _not_as_one(scene: Scene, paths: Paths, hands: Hands, wholes: Sequence[PartSet], item: Placed) -> list[Text]:
    """What forbids that a ring or limb, of which a part arrives, is built apart and goes on as one."""
    moving, standing = item.joining.moving, item.joining.standing
    lines: list[Text] = []
    for unit in wholes:
        rest = standing & ~unit
        if moving & unit != moving or moving == unit or not rest:
            continue
        lift = team_lift(scene, unit)
        if lift.people == 0:
            why: Text = lift.rule
        elif not paths.ways_out(unit, rest, Depth.ALL):
            why = say("why.not_together")
        elif not all(hands.is_closable(bolt, unit | rest, floor=None) for bolt in scene.bolts_closed(unit, rest)):
            why = say("why.bolts_shut")
        else:
            why = say("why.other_order")
        lines.append(say("why.not_as_one", names=tuple(scene.names(unit)), why=why))
    return lines


def _pinned(scene: Scene, moving: PartSet, standing: PartSet) -> list[Text]:
    found: list[Text] = []
    for after, before in scene.settings.pins.after:
        if scene.set_of((after,)) & moving and scene.set_of((before,)) & standing:
            found.append(say("why.pinned_after", after=after, before=before))
    for group in scene.settings.pins.apart:
        if scene.set_of(group) & moving == scene.set_of(group) and moving.bit_count() > 1:
            found.append(say("why.pinned_apart", parts=tuple(group)))
    return found
