"""Which bolts does nobody reach any more once a step is done? Asked once, of the order that was chosen."""

from __future__ import annotations

from collections.abc import Sequence

from assembler.figure.ids import BoltId, natural_key
from assembler.planning.access import Hands
from assembler.planning.benches import Placed
from assembler.planning.scene import Floor, Scene


def shut_bolts(scene: Scene, hands: Hands, placed: Sequence[Placed]) -> dict[int, tuple[BoltId, ...]]:
    """Bolts of earlier steps that each joining shuts for good, by its place in `placed`.

    A bolt counts as shut where head and nut cannot be held at once. What stands on a side bench can still be turned:
    there the ground shuts nothing. A bolt that is out of reach in its own step is shut by none: a finding says so.

    Parameters
    ----------
    scene, hands
        The figure, and what answers questions about it.
    placed
        All joinings, each bench in its order, benches before the step that brings their piece in.
    """
    found: dict[int, tuple[BoltId, ...]] = {}
    gone: set[BoltId] = set()
    for number, item in enumerate(placed):
        whole, floor = item.joining.moving | item.joining.standing, _lasting_floor(scene, item)
        now = scene.bolts_closed(item.joining.moving, item.joining.standing)
        gone |= {bolt.id for bolt in now if not hands.is_closable(bolt, whole, floor=item.floor(scene))}
        own = {bolt.id for bolt in now}
        shut = [
            bolt.id
            for joint in scene.joints
            for bolt in joint.bolts
            if bolt.id not in own | gone
            and scene.set_of(bolt.through) & ~whole == 0
            and not hands.is_closable(bolt, whole, floor=floor)
        ]
        found[number] = tuple(sorted(shut, key=natural_key))
        gone |= set(shut)
    return found


def _lasting_floor(scene: Scene, item: Placed) -> Floor | None:
    """The ground under the work, where the work stays as it stands."""
    return item.floor(scene) if item.bench == 1 and item.up == scene.up else None
