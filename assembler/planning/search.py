"""Which order? The finished figure is taken apart on paper, cheapest way first; read backwards, that is the build."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from assembler.figure.plan import OtherOrder
from assembler.planning.access import Hands
from assembler.planning.blocking import Depth, Paths
from assembler.planning.candidates import Candidates
from assembler.planning.closable import Closing
from assembler.planning.guide import Guide
from assembler.planning.joining import Build, Costs, Joining
from assembler.planning.pieces import is_fixed
from assembler.planning.scene import Floor, PartSet, Scene, members
from assembler.planning.support import Support
from assembler.planning.weights import EMPHASES, NO_PATH, UNREACHABLE, Emphasis, weigh
from assembler.progress import Counted

SMALL = 7
"""Parts up to which all orders are weighed."""

ENOUGH = 3
"""Sets that have to be found free in two legs before the search goes on with them, in a large figure."""


def depth_for(moving: PartSet) -> Depth:
    """How far ways of a set are looked for while others may be free: pieces built apart come in straight."""
    return Depth.LEGS if moving.bit_count() == 1 else Depth.ALL


def beam_for(parts: int) -> int | None:
    """States kept for each number of parts left: all of a small figure, fewer of larger ones: time stays in bounds."""
    if parts <= SMALL:
        return None
    return max(2, min(5, 160 // max(parts, 1)))


class Search:
    """Cheapest order found, with a memory.

    Parameters
    ----------
    scene, paths, hands, support
        The figure and what answers questions about it.
    groups
        Sets worth building apart.
    beam
        States kept for each number of parts left; None: all (exhaustive).
    emphasis
        What counts in another way than in the next search.
    progress
        Takes a line of text.
    guide
        By a set of known parts, what was taken off it in the issued plan (see `guide`): tried first, and left only
        where it cannot be carried out any more.
    """

    def __init__(
        self,
        scene: Scene,
        paths: Paths,
        hands: Hands | None,
        support: Support,
        groups: tuple[PartSet, ...],
        *,
        beam: int | None = None,
        emphasis: Emphasis = EMPHASES[0],
        progress: Callable[[str], None] | None = None,
        guide: Guide | None = None,
    ) -> None:
        self.scene = scene
        self.paths = paths
        self.hands = hands
        self.support = support
        self.beam = beam
        self.progress = progress or (lambda _: None)
        self.guide = guide or Guide()
        self._builds: dict[PartSet, Build] = {}
        self._options: dict[tuple[PartSet, PartSet], list[Joining]] = {}
        self._least: dict[int, float] = {}
        self.broken_pins = False
        self.is_small = len(scene.parts) <= SMALL
        self.costs = Costs(scene, paths, support, emphasis)
        self._closing = Closing(scene, hands, is_small=self.is_small)
        self._candidates = Candidates(scene, support, groups, self.is_buildable)

    def build(self, whole: PartSet, *, is_main: bool) -> Build:
        """Cheapest way found to put a set together."""
        if whole not in self._builds:
            build = self._search(whole, is_main)
            if build is None:
                # Without pins there is always a part whose removal leaves the rest connected.
                self.broken_pins = True
                self._candidates.drop_pins()
                self._options.clear()
                build = self._search(whole, is_main)
            assert build is not None
            self._builds[whole] = build
        return self._builds[whole]

    @property
    def built(self) -> Mapping[PartSet, Build]:
        """What has been found so far, by set."""
        return self._builds

    def settle(self, whole: PartSet, build: Build) -> None:
        """Take this way to put a set together from now on."""
        self._builds[whole] = build

    def tried(self, moving: PartSet, standing: PartSet, target: PartSet, *, is_main: bool) -> Joining | None:
        """The step in which a set arrives at another; None where it may not, has no way in, or a bolt stays open."""
        if not self._candidates.allowed(moving | standing, [moving], is_main):
            return None
        ways = self.ways_out(moving, standing, Depth.LEGS if self.is_small else Depth.SUGGESTED, is_main=is_main)
        if not ways or not self._closing.is_closable(moving, moving | standing, is_main=is_main):
            return None
        return self.joining(moving, standing, target, is_main, ways)

    def is_buildable(self, whole: PartSet) -> bool:
        """Whether the pins let a set be put together by itself."""
        if whole not in self._builds:
            build = self._search(whole, is_main=False)
            if build is None:
                return False
            self._builds[whole] = build
        return True

    def forget(self) -> None:
        """Drop what was found, after a path was refuted."""
        self._builds.clear()
        self._options.clear()
        self._least.clear()

    def _search(self, whole: PartSet, is_main: bool) -> Build | None:
        if whole.bit_count() == 1:
            return Build(first=whole, joinings=(), cost_min=0.0)
        found = [self._sweep(whole, is_main, {})]
        if found[0] is not None and self.beam is not None and whole.bit_count() > self.beam:
            # A narrow beam favours what puts dear parts off. The second sweep knows what each part costs at least.
            found.append(self._sweep(whole, is_main, dict(self._least)))
        built = [build for build in found if build is not None]
        return min(built, key=lambda build: (build.cost_min, build.first, _way_key(build.joinings)), default=None)

    def _sweep(self, whole: PartSet, is_main: bool, least: dict[int, float]) -> Build | None:
        """One pass over all numbers of parts left, the cheapest states of each kept."""
        layers: dict[int, dict[PartSet, tuple[float, tuple[Joining, ...]]]] = {whole.bit_count(): {whole: (0.0, ())}}
        for count in range(whole.bit_count(), 1, -1):
            states = sorted(
                layers.pop(count, {}).items(),
                key=lambda item: (round(item[1][0] + _still_to_come(item[0], least), 6), item[0]),
            )
            if is_main and states and count % 5 == 0:
                text, all_parts = f"planning: {count} parts left to take out", whole.bit_count()
                self.progress(Counted(text, stage="looking for an order", done=all_parts - count, total=all_parts))
            for standing, (cost, way) in states[: self.beam]:
                for joining in self.options(standing, whole, is_main):
                    total = cost + joining.cost_min
                    layer = layers.setdefault(joining.standing.bit_count(), {})
                    known = layer.get(joining.standing)
                    if known is None or (total, _way_key((*way, joining))) < (known[0], _way_key(known[1])):
                        layer[joining.standing] = (total, (*way, joining))
        if not layers.get(1):
            return None
        first, (cost, way) = min(layers[1].items(), key=lambda item: (item[1][0], item[0]))
        joinings = tuple(reversed(way))
        ready = {one.moving: self._builds[one.moving].ready_min for one in joinings if one.moving in self._builds}
        return Build(first=first, joinings=joinings, cost_min=cost, ready_min=self.costs.ready_min(joinings, ready))

    def options(self, whole: PartSet, target: PartSet, is_main: bool) -> list[Joining]:
        """Ways to take something off a set; where nothing can be, the ways with the least harm."""
        key = (whole, target)
        if key not in self._options:
            self._options[key] = self._weighed(whole, target, is_main)
            for joining in self._options[key]:
                share = joining.cost_min / joining.moving.bit_count()
                for part in members(joining.moving):
                    self._least[part] = min(share, self._least.get(part, share))
        return self._options[key]

    def instead_of(self, joining: Joining, target: PartSet) -> Joining | None:
        """The next best choice that the search had at the place of a joining; None where there was no other."""
        known = self._options.get((joining.moving | joining.standing, target), [])
        others = [one for one in known if one.moving != joining.moving and one.direction >= 0 and not one.unreachable]
        return min(others, key=lambda one: (one.cost_min, one.moving), default=None)

    def other_order(self, joining: Joining, target: PartSet) -> OtherOrder:
        """The cheapest order of a bench without a joining, among all states that the search looked at.

        Nothing new is asked, so it costs no time; a search that is told to do without it might find a cheaper one.
        """
        layers: dict[int, dict[PartSet, float]] = {target.bit_count(): {target: 0.0}}
        for count in range(target.bit_count(), 1, -1):
            for whole, cost in layers.pop(count, {}).items():
                for one in self._options.get((whole, target), ()):
                    if (one.moving, one.standing) != (joining.moving, joining.standing):
                        layer = layers.setdefault(one.standing.bit_count(), {})
                        layer[one.standing] = min(cost + one.cost_min, layer.get(one.standing, math.inf))
        found = layers.get(1, {}).values()
        return OtherOrder(dearer_min=min(found) - self._builds[target].cost_min if found else None)

    def _weighed(self, whole: PartSet, target: PartSet, is_main: bool) -> list[Joining]:
        for sets in self.guide.off(whole):
            guided = self._candidates.allowed(whole, sets, is_main)
            ways = {m: self.ways_out(m, whole & ~m, Depth.LEGS, is_main=is_main) for m in guided}
            closable = [m for m in guided if ways[m] and self._closing.is_closable(m, whole, is_main=is_main)]
            if closable:
                return [self.joining(moving, whole & ~moving, target, is_main, ways[moving]) for moving in closable]
        ways = self._ways(whole, is_main)
        free = [moving for moving in ways if ways[moving]]
        closable = [moving for moving in free if self._closing.is_closable(moving, whole, is_main=is_main)]
        # A piece that goes on well is no way round bolts that stay out of reach inside it.
        is_open = any(not self._has_dead_bolts(moving) for moving in closable)
        chosen = (closable if is_open else free) or list(ways)
        return [self.joining(moving, whole & ~moving, target, is_main, ways[moving]) for moving in chosen]

    def _has_dead_bolts(self, piece: PartSet) -> bool:
        """Whether bolts stay out of reach while a piece is built apart."""
        return piece.bit_count() > 1 and any(
            one.unreachable or self._has_dead_bolts(one.moving) for one in self.build(piece, is_main=False).joinings
        )

    def _ways(self, whole: PartSet, is_main: bool) -> dict[PartSet, tuple[int, ...]]:
        """Sets that may be taken off, with their free ways; looked for deeper only as long as nothing is free.

        Of a small figure every single part is looked at to the full depth: the choice among orders is exhaustive there.
        """
        sets = self._candidates.found(whole, is_main)
        deep = Depth.LEGS if self.is_small else Depth.SUGGESTED
        ways = {m: self.ways_out(m, whole & ~m, min(deep, depth_for(m)), is_main=is_main) for m in sets}
        if not any(ways.values()):
            sets += [
                m
                for m in self._candidates.allowed(whole, self.paths.obstacles.locked_sets(whole), is_main)
                if m not in ways
            ]
            ways = {m: self.ways_out(m, whole & ~m, Depth.ALL, is_main=is_main) for m in sets}
        if not any(ways.values()):
            for moving in sets:
                ways[moving] = self.ways_out(moving, whole & ~moving, Depth.LEGS, is_main=is_main)
                if not self.is_small and sum(map(bool, ways.values())) >= ENOUGH:
                    break
        return ways

    def ways_out(self, moving: PartSet, standing: PartSet, depth: Depth, *, is_main: bool) -> tuple[int, ...]:
        """Numbers of the ways that take a set off; off a base on the ground none that leads below the ground."""
        return self.paths.ways_out(moving, standing, depth, self._ground(standing, is_main=is_main))

    def _ground(self, standing: PartSet, *, is_main: bool) -> Floor | None:
        """The ground that no way leads below; None where what stands can be turned."""
        is_held = is_fixed(self.scene, standing, is_main=is_main)
        return self.scene.floor(standing, self.scene.up) if is_held else None

    def off_the_glue(self, joining: Joining, target: PartSet, *, is_main: bool) -> Joining:
        """The joining of a part, along a way that ends square to its glue where every way known slides along it.

        Looked for in the order found only: in a search it would cost more than it changes.
        """
        moving, standing, ways = joining.moving, joining.standing, joining.ways
        is_wiped = all(self.costs.is_wiping(way, moving, standing) for way in ways)
        if not ways or not is_wiped or moving.bit_count() > 1:
            return joining
        found = self.paths.ways_off(moving, standing, self._ground(standing, is_main=is_main))
        return self.joining(moving, standing, target, is_main, (*ways, *found)) if found else joining

    def joining(
        self, moving: PartSet, standing: PartSet, target: PartSet, is_main: bool, directions: tuple[int, ...]
    ) -> Joining:
        """The step in which a set arrives at another, along the best of the given directions, with its costs.

        Parameters
        ----------
        moving, standing
            The sets.
        target
            What the bench makes.
        is_main
            Whether it is the main bench.
        directions
            Free ones; empty: there is none, and the step says so.
        """
        costs: dict[str, float] = {"handling": self.scene.settings.crew.fetch_min}
        whole, up, direction = moving | standing, self.scene.up, -1
        upright = self.costs.ways_above(directions, moving, standing, up)
        if directions:
            direction, care = self.costs.best_way(upright or directions, moving, standing, up)
            costs |= care
        else:
            costs[NO_PATH] = weigh(NO_PATH)
        costs |= self.costs.standing_costs(moving, standing, target, is_main)
        bolts = self.scene.bolts_closed(moving, standing)
        is_held = is_fixed(self.scene, standing, is_main=is_main)
        missed = [b for b in bolts if not self._closing.is_reached(b, whole, is_upright=True, is_held=is_held)]
        unreachable = tuple(
            b.id for b in missed if not self._closing.is_reached(b, whole, is_upright=False, is_held=is_held)
        )
        costs[UNREACHABLE] = weigh(UNREACHABLE) * len(unreachable)
        is_from_below = bool(directions) and not upright
        if is_from_below and self.scene.is_on_site(moving, standing):
            # Nothing is turned there: what stands is lifted, and what arrives goes in under it.
            costs["lifts of what stands"] = self.costs.lifting_min(standing, is_main=is_main)
        elif len(missed) > len(unreachable) or is_from_below:
            # There and back.
            costs["turns"] = 2.0 * self.costs.turn_min(standing)
        if moving.bit_count() > 1:
            costs["side bench"] = self.costs.side_min(self.build(moving, is_main=False), standing)
        return Joining(
            moving=moving,
            standing=standing,
            ways=directions,
            direction=direction,
            cost_min=sum(costs.values()),
            parts_of_cost=tuple(sorted((name, value) for name, value in costs.items() if value)),
            unreachable=unreachable,
        )


def _still_to_come(standing: PartSet, least: Mapping[int, float]) -> float:
    """What the parts of a state cost at least: all but the one that lies there at the start, the dearest if it can."""
    costs = [least.get(part, 0.0) for part in members(standing)]
    return sum(costs) - max(costs, default=0.0)


def _way_key(way: tuple[Joining, ...]) -> tuple[tuple[int, int], ...]:
    return tuple((joining.moving, joining.direction) for joining in way)
