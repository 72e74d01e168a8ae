"""Which bolts nobody reaches any more once a step is done, and through which opening they were reached.

Asked once, of the order that was chosen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from assembler.figure.ids import BoltId, natural_key
from assembler.figure.joints import Seat
from assembler.figure.plan import Access
from assembler.planning.access import Hands
from assembler.planning.benches import Placed
from assembler.planning.scene import Floor, Scene
from assembler.words import Text, say


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


def through_openings(
    scene: Scene,
    hands: Hands,
    placed: Sequence[Placed],
    accesses: Mapping[int, tuple[Access, ...]],
    shut: Mapping[int, tuple[BoltId, ...]],
) -> dict[int, tuple[Access, ...]]:
    """Access with the opening named through which alone a hand comes in: the place of what shuts the bolt later.

    Parameters
    ----------
    scene, hands
        The figure, and what answers questions about it.
    placed
        All joinings.
    accesses
        By place in `placed`.
    shut
        From `shut_bolts`.
    """
    shutting = {bolt: number for number, bolts in shut.items() for bolt in bolts}
    return {
        number: tuple(
            _named(scene, hands, placed[number], row, placed[shutting[row.bolt]]) if row.bolt in shutting else row
            for row in rows
        )
        for number, rows in accesses.items()
    }


def _named(scene: Scene, hands: Hands, item: Placed, row: Access, later: Placed) -> Access:
    whole, floor = item.joining.moving | item.joining.standing, item.floor(scene)
    lid = later.joining.standing if whole & later.joining.moving else later.joining.moving
    rest = (later.joining.moving | later.joining.standing) & ~lid
    met = [part for number in scene.joints_between(lid, rest) for part in scene.pairs[number]]
    parts = scene.names(lid & sum(1 << part for part in set(met)))

    def way(text: Text, which: int) -> Text:
        end = hands.ends[row.bolt][which]
        is_inside = end.kind is Seat.OPEN and hands.reach(end, whole, floor).way_mm > 0.0
        if not is_inside or not row.is_reachable or hands.reach(end, whole | lid, floor).is_reached:
            return text
        return say("way.through", way=text, parts=parts)

    return replace(row, head=way(row.head, row.head_end), nut=way(row.nut, 1 - row.head_end))
