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


def reasons(
    scene: Scene, paths: Paths, hands: Hands, support: Support, placed: Sequence[Placed]
) -> dict[int, tuple[str, ...]]:
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
) -> tuple[str, ...]:
    item = placed[number]
    moving, standing = item.joining.moving, item.joining.standing
    later = [
        other.joining.moving
        for other in placed[number + 1 :]
        if other.bench == item.bench and other.target == item.target
    ]
    lines = [
        *_needs(support, item),
        *_shuts_way(scene, paths, moving, standing, later),
        *_shuts_bolts(scene, hands, item, later),
        *_pinned(scene, moving, standing),
        *_not_as_one(scene, paths, hands, wholes, item),
    ]
    if moving.bit_count() > 1:
        names = ", ".join(scene.names(moving))
        lines.append(f"{names} are joined apart first: their holds run while work goes on elsewhere")
    lines += _closes(scene, hands, item, placed[:number])
    if not lines:
        lines.append("nothing forces this place: chosen for the least time, props and slanted movements")
    return tuple(lines)


def _needs(support: Support, item: Placed) -> list[str]:
    carriers, scene = 0, support.scene
    for joint in scene.joints_between(item.joining.moving, item.joining.standing):
        lower = support.lower(joint, item.up)
        if lower is not None and item.joining.standing >> lower & 1:
            carriers |= 1 << lower
    return [f"it stands on {', '.join(scene.names(carriers))}"] if carriers else []


def _shuts_way(scene: Scene, paths: Paths, moving: PartSet, standing: PartSet, later: Sequence[PartSet]) -> list[str]:
    """The first later arrival that would leave no straight way in."""
    there = standing
    for arrival in later:
        there |= arrival
        if not paths.directions_out(moving, there):
            return [f"once {', '.join(scene.names(arrival))} is there, no straight way in is left"]
    return []


def _shuts_bolts(scene: Scene, hands: Hands, item: Placed, later: Sequence[PartSet]) -> list[str]:
    """The first later arrival known to shut bolts that are closed in this step."""
    moving, standing = item.joining.moving, item.joining.standing
    bolts = scene.bolts_closed(moving, standing)
    there = moving | standing
    for arrival in later:
        there |= arrival
        floor = None if item.is_raised else scene.floor(there, item.up)
        shut = [bolt.id for bolt in bolts if hands.is_known_shut(bolt, there, floor=floor)]
        if shut:
            named = ", ".join(sorted(shut, key=natural_key)[:3]) + (" and others" if len(shut) > 3 else "")
            return [f"with {', '.join(scene.names(arrival))} in place, {named} could no longer be reached"]
    return []


def _closes(scene: Scene, hands: Hands, item: Placed, earlier: Sequence[Placed]) -> list[str]:
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
    return [f"after this nobody reaches {', '.join(sorted(shut, key=natural_key))} any more"] if shut else []


def _not_as_one(scene: Scene, paths: Paths, hands: Hands, wholes: Sequence[PartSet], item: Placed) -> list[str]:
    """What forbids that a ring or limb, of which a part arrives, is built apart and goes on as one."""
    moving, standing = item.joining.moving, item.joining.standing
    lines = []
    for unit in wholes:
        rest = standing & ~unit
        if moving & unit != moving or moving == unit or not rest:
            continue
        lift = team_lift(scene, unit)
        if lift.people == 0:
            why = f"{lift.rule}"
        elif not paths.ways_out(unit, rest, Depth.ALL):
            why = "no straight way brings them in together"
        elif not all(hands.is_closable(bolt, unit | rest, floor=None) for bolt in scene.bolts_closed(unit, rest)):
            why = "their bolts to the rest are not reached then"
        else:
            why = "a bolt, a way in or a pin inside them asks for another order"
        lines.append(f"{', '.join(scene.names(unit))} do not go on as one: {why}")
    return lines


def _pinned(scene: Scene, moving: PartSet, standing: PartSet) -> list[str]:
    found = []
    for after, before in scene.settings.pins.after:
        if scene.set_of((after,)) & moving and scene.set_of((before,)) & standing:
            found.append(f"figure.toml says {after} after {before}")
    for group in scene.settings.pins.apart:
        if scene.set_of(group) & moving == scene.set_of(group) and moving.bit_count() > 1:
            found.append(f"figure.toml says to build {', '.join(group)} apart")
    return found
