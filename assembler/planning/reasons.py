"""What forced the place of a step? Later parts that would shut its way or its bolts, what carries it, what waits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assembler.figure.ids import BoltId, natural_key
from assembler.planning.access import Hands
from assembler.planning.benches import Placed
from assembler.planning.blocking import Depth, Paths
from assembler.planning.gravity import team_lift
from assembler.planning.pieces import units
from assembler.planning.scene import PartSet, Scene
from assembler.planning.support import Support
from assembler.words import Text, Value, say


def reasons(
    scene: Scene,
    paths: Paths,
    hands: Hands,
    support: Support,
    placed: Sequence[Placed],
    shut: Mapping[int, tuple[BoltId, ...]],
) -> dict[int, tuple[Text, ...]]:
    """Why each joining stands where it stands, by its place in `placed`, one line each.

    Parameters
    ----------
    scene, paths, hands, support
        The figure and what answers questions about it.
    placed
        All joinings, each bench in its order.
    shut
        Bolts that each of them shuts for good, from `shut_bolts`.
    """
    wholes = units(scene, support)
    return {
        number: _reasons(scene, paths, hands, support, placed, number, wholes, shut) for number in range(len(placed))
    }


def _reasons(
    scene: Scene,
    paths: Paths,
    hands: Hands,
    support: Support,
    placed: Sequence[Placed],
    number: int,
    wholes: Sequence[PartSet],
    shut: Mapping[int, tuple[BoltId, ...]],
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
        *_shuts_bolts(scene, placed, number, shut),
        *_pinned(scene, moving, standing),
        *_not_as_one(scene, paths, hands, wholes, item),
    ]
    if moving.bit_count() > 1:
        lines.append(say("why.joined_apart", names=scene.names(moving)))
    lines += _closes(scene, shut.get(number, ()))
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


def _shuts_bolts(
    scene: Scene, placed: Sequence[Placed], number: int, shut: Mapping[int, tuple[BoltId, ...]]
) -> list[Text]:
    """The first later arrival that shuts bolts that are closed in this step."""
    item = placed[number]
    own = {bolt.id for bolt in scene.bolts_closed(item.joining.moving, item.joining.standing)}
    for later in range(number + 1, len(placed)):
        lost = own & set(shut.get(later, ()))
        if lost:
            first = tuple(sorted(lost, key=natural_key)[:3])
            bolts_shut: Value = say("why.and_others", first=first) if len(lost) > 3 else first
            return [say("why.shuts_bolts", names=scene.names(placed[later].joining.moving), bolts=bolts_shut)]
    return []


def _closes(scene: Scene, shut: Sequence[BoltId]) -> list[Text]:
    """What nobody reaches any more once this has arrived: whole joints by their id, of others the bolts."""
    lost, names = set(shut), list[str]()
    for joint in scene.joints:
        bolts = [bolt.id for bolt in joint.bolts]
        names += [joint.id] if bolts and lost >= set(bolts) else [bolt for bolt in bolts if bolt in lost]
    ordered: tuple[str, ...] = tuple(sorted(names, key=natural_key))
    return [say("why.closes_off", joints=ordered)] if ordered else []


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
