"""On which bench, and which way up? From the tree of joinings to a line of them, and how the work lies at each.

Upright is the rule. The work lies or stands on its head where a bolt, a way in or a stand asks for it, and where that
costs less than propping it upright; every change is a turn that takes its time.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assembler.figure.parts import Vector
from assembler.planning.gravity import EXCHANGED, Side, lifted_side
from assembler.planning.joining import Joining
from assembler.planning.pieces import is_fixed, ways_up
from assembler.planning.scene import Floor, PartSet, Scene
from assembler.planning.search import Search
from assembler.planning.support import SAFE_DEG


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A joining with its bench and how the work lies there.

    Parameters
    ----------
    joining
        What arrives at what.
    bench
        Number of the bench, 1 for the main one.
    target
        What this bench makes.
    direction
        Number of the way out; -1 where there is none.
    up
        What is up on the bench, in the frame of the figure.
    is_raised
        Whether hands have to come from below, between blocks under the work.
    leaves_up
        What is up when the bench is finished, where this is its last joining; else None.
    side
        What leaves the ground.
    rise_mm
        How far what stands is lifted where something goes in under it.
    instead
        What the search could have chosen here next best; None where there was nothing else.
    """

    joining: Joining
    bench: int
    target: PartSet
    direction: int
    up: Vector
    is_raised: bool = False
    leaves_up: Vector | None = None
    side: Side = Side.ARRIVING
    rise_mm: float = 0.0
    instead: Joining | None = None

    @property
    def lifted(self) -> PartSet:
        """What leaves the ground."""
        return self.onto if self.side is Side.RAISED else self.moves

    @property
    def moves(self) -> PartSet:
        """What moves in, in the words of the step."""
        return self.joining.standing if self.side in EXCHANGED else self.joining.moving

    @property
    def onto(self) -> PartSet:
        """What stands meanwhile, in the words of the step."""
        return self.joining.moving if self.side in EXCHANGED else self.joining.standing

    def floor(self, scene: Scene) -> Floor | None:
        """The ground under the work, where it keeps hands out."""
        if self.is_raised or self.side is Side.RAISED:
            return None
        return scene.floor(self.joining.moving | self.joining.standing, self.up)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lie:
    """One way up for one joining: its minutes, props and lifts of what stands among them, the way in, blocks."""

    up: Vector
    cost_min: float
    direction: int
    is_raised: bool = False
    props_min: float = 0.0


def benches(search: Search, whole: PartSet) -> tuple[Placed, ...]:
    """All joinings of the tree: side benches before the step that brings their piece in, a late base last."""
    scene = search.scene
    counter = iter(range(2, 10_000))
    late = 1 << scene.base if scene.base is not None and not scene.is_base_first else 0
    figure = whole & ~late
    found = list(_bench(search, figure, 1, scene.up, counter))
    if late and scene.joints_between(figure, late):
        ways = search.paths.directions_out(figure, late)
        joining = search.joining(figure, late, whole, True, ways)
        found.append(Placed(joining=joining, bench=1, target=whole, direction=joining.direction, up=scene.up))
    return tuple(found)


def _bench(search: Search, target: PartSet, bench: int, leaves_up: Vector, counter: Iterator[int]) -> Iterator[Placed]:
    build = search.build(target, is_main=bench == 1)
    joinings = tuple(search.off_the_glue(joining, target, is_main=bench == 1) for joining in build.joinings)
    lies = lying(search, joinings, leaves_up, is_main=bench == 1)
    last = len(lies) - 1
    for number, (joining, lie) in enumerate(zip(joinings, lies, strict=True)):
        if joining.moving.bit_count() > 1:
            yield from _bench(search, joining.moving, next(counter), lie.up, counter)
        side, rise_mm = _side(search, joining, lie, is_main=bench == 1)
        yield Placed(
            joining=joining,
            bench=bench,
            target=target,
            direction=lie.direction,
            up=lie.up,
            is_raised=lie.is_raised,
            leaves_up=leaves_up if number == last else None,
            side=side,
            rise_mm=rise_mm,
            instead=search.instead_of(joining, target),
        )


def _side(search: Search, joining: Joining, lie: Lie, *, is_main: bool) -> tuple[Side, float]:
    moving, standing = joining.moving, joining.standing
    is_held = is_fixed(search.scene, standing, is_main=is_main) or search.scene.is_on_site(moving, standing)
    closing, below_mm = None, 0.0
    if lie.direction >= 0:
        closing = search.paths.path(lie.direction, moving, standing).assembly[-1].direction
        floor = search.scene.floor(moving | standing, lie.up)
        below_mm = search.paths.below_mm(lie.direction, moving, standing, floor)
    return lifted_side(
        search.scene, moving, standing, lie.up, closing, below_mm=below_mm, is_held=is_held, is_main=is_main
    )


def lying(search: Search, joinings: Sequence[Joining], leaves_up: Vector, *, is_main: bool) -> tuple[Lie, ...]:
    """How the work lies at each joining of a bench, turns counted: the cheapest sequence (dynamic programming).

    Where nothing asks for a turn, upright.

    Parameters
    ----------
    search
        What answers questions.
    joinings
        Of one bench, in their order.
    leaves_up
        What has to be up when the bench is finished.
    is_main
        Whether it is the main bench.
    """
    upright = tuple(_lie(search, joining, search.scene.up, is_main) for joining in joinings)
    if leaves_up == search.scene.up and all(lie is not None and not lie.props_min for lie in upright):
        return tuple(lie for lie in upright if lie is not None)
    best: dict[Vector, tuple[float, tuple[Lie, ...]]] = {}
    for joining in joinings:
        turn_min = search.costs.turn_min(joining.standing)
        found: dict[Vector, tuple[float, tuple[Lie, ...]]] = {}
        for lie in _lies(search, joining, is_main):
            before = [
                (cost + (turn_min if up != lie.up else 0.0), number, way)
                for number, (up, (cost, way)) in enumerate(best.items())
            ] or [(0.0, 0, ())]
            cost, _, way = min(before, key=lambda item: (round(item[0], 6), item[1]))
            found[lie.up] = (cost + lie.cost_min, (*way, lie))
        best = found
    if not joinings:
        return ()
    end_min = search.costs.turn_min(joinings[-1].moving | joinings[-1].standing)
    ends = [
        (cost + (end_min if up != leaves_up else 0.0), up != leaves_up, number, way)
        for number, (up, (cost, way)) in enumerate(best.items())
    ]
    return min(ends, key=lambda item: (round(item[0], 6), item[1], item[2]))[3]


def _lies(search: Search, joining: Joining, is_main: bool) -> list[Lie]:
    """Ways up in which a joining can be made; upright on blocks where there is none."""
    scene = search.scene
    if is_fixed(scene, joining.standing, is_main=is_main) or scene.is_on_site(joining.moving, joining.standing):
        return [_upright(search, joining, is_main)]
    found = [lie for up in ways_up(scene.up) if (lie := _lie(search, joining, up, is_main)) is not None]
    return found or [_upright(search, joining, is_main)]


def _upright(search: Search, joining: Joining, is_main: bool) -> Lie:
    scene = search.scene
    is_raised = not is_fixed(scene, joining.standing, is_main=is_main) and not _is_closed_at(search, joining, scene.up)
    return Lie(up=scene.up, cost_min=0.0, direction=joining.direction, is_raised=is_raised)


def _lie(search: Search, joining: Joining, up: Vector, is_main: bool) -> Lie | None:
    """The joining with a direction up; None where a bolt or the way in is shut then."""
    scene = search.scene
    moving, standing = joining.moving, joining.standing
    cost = 0.0
    if is_main and up != scene.up and search.support.tip_deg(moving | standing, up) < SAFE_DEG:
        return None
    ways = search.costs.ways_above(joining.ways, moving, standing, up)
    if joining.ways and not ways:
        return None
    if not _is_closed_at(search, joining, up):
        return None
    direction = joining.direction
    if ways:
        direction, care = search.costs.best_way(ways, moving, standing, up)
        cost += sum(care.values())
    props_min = search.costs.props_min(moving, standing, up, is_main=is_main)
    props_min += search.costs.raise_min(moving, standing, up, is_main=is_main)
    return Lie(up=up, cost_min=cost + props_min, direction=direction, props_min=props_min)


def _is_closed_at(search: Search, joining: Joining, up: Vector) -> bool:
    """Whether every bolt that can be closed at all can be closed with this direction up."""
    whole = joining.moving | joining.standing
    hands = search.hands
    if hands is None:
        return True
    floor = search.scene.floor(whole, up)
    return all(
        bolt.id in joining.unreachable or hands.is_closable(bolt, whole, floor=floor)
        for bolt in search.scene.bolts_closed(joining.moving, joining.standing)
    )


def lean_deg(first: Vector, second: Vector) -> float:
    """Angle of a turn, degrees."""
    cosine = sum(a * b for a, b in zip(first, second, strict=True))
    return math.degrees(math.acos(max(-1.0, min(1.0, cosine))))
