"""Which order? The finished figure is taken apart on paper, cheapest way first; read backwards, that is the build."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assembler.engineering.lifting import lift_for
from assembler.figure.ids import BoltId
from assembler.figure.joints import Bolt, Place
from assembler.figure.parts import Vector
from assembler.planning.access import Hands
from assembler.planning.blocking import Depth, Paths
from assembler.planning.guide import Guide
from assembler.planning.onbolts import carried_on_bolts
from assembler.planning.pieces import apart_sets, is_fixed, pin_sets
from assembler.planning.scene import PartSet, Scene, members
from assembler.planning.support import SAFE_DEG, Support, goes_under, prop_reason

STEP_MIN = 6.0
"""To fetch, clean and place what moves (common practice, no source)."""
BENCH_MIN = 10.0
"""To set up a bench of its own and clear it."""
WIPED_MIN = 20.0
"""For each bonded face that the movement slides along instead of meeting."""
WIPED_COSINE = 0.17
"""A face is wiped where the movement lies within 10 degrees of it."""
SLANT_MIN = 4.0
FACES_MIN = 4.0
"""For each face beyond the first that has to be met in another direction at the same time."""
SIDEWAYS_MIN = 1.0
PROP_MIN = 15.0
BED_MIN = 5.0
"""To bed a piece on sandbags or in a cradle on its own bench (common practice, no source)."""
SCAFFOLD_MIN = 45.0
"""To hold up by scaffold or sling what would fall over as a whole (common practice, no source)."""
UNDER_MIN = 30.0
"""To hold up what stands while a part that is to carry it goes in under it (common practice, no source)."""
TURN_MIN = 10.0
"""To turn what stands on a bench another way up, besides the people or the hoist (common practice, no source)."""
TWO_PEOPLE_MIN = 3.0
HOIST_MIN = 60.0
BLIND_MIN = 1.0
BLIND_MM = 250.0
UNREACHABLE_MIN = 5_000.0
NO_PATH_MIN = 1_000_000.0
NO_PATH, UNREACHABLE = "no path", "unreachable bolts"
IMPOSSIBLE = (NO_PATH, UNREACHABLE)
"""Costs that are no work but keep the search off: weights, never to be shown as minutes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldWeights:
    """How the search counts holds, which it cannot lay on a calendar while the order is not known.

    Parameters
    ----------
    side
        Share of a hold on another bench: work goes on meanwhile.
    is_level_shared
        Whether parts of one level, counted in steps from the ground, share one hold: they cure side by side.
    """

    side: float
    is_level_shared: bool


WEIGHTS = (HoldWeights(side=0.25, is_level_shared=False), HoldWeights(side=0.5, is_level_shared=True))
"""Each gives an order; the real calendar decides between them."""


SMALL = 7
"""Parts up to which all orders are weighed."""

ENOUGH = 3
"""Sets that have to be found free in two legs before the search goes on with them, in a large figure."""

LEG_MIN = 5.0
"""For every turn of direction on the way in (common practice, no source)."""


def depth_for(moving: PartSet) -> Depth:
    """How far ways of a set are looked for while others may be free: pieces built apart come in straight."""
    return Depth.LEGS if moving.bit_count() == 1 else Depth.ALL


def beam_for(parts: int) -> int | None:
    """States kept for each number of parts left: all of a small figure, fewer of larger ones: time stays in bounds."""
    if parts <= SMALL:
        return None
    return max(2, min(5, 160 // max(parts, 1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """One step of the build: a set arrives at what stands.

    Parameters
    ----------
    moving, standing
        Sets; `standing` without the moving.
    ways
        Numbers of the free ways of taking out.
    direction
        The best of them; -1 where none is free.
    cost_min
        Of this step.
    parts_of_cost
        The same, by name.
    unreachable
        Bolts that cannot be closed.
    """

    moving: PartSet
    standing: PartSet
    ways: tuple[int, ...]
    direction: int
    cost_min: float
    parts_of_cost: tuple[tuple[str, float], ...]
    unreachable: tuple[BoltId, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """How a set is put together.

    Parameters
    ----------
    first
        What lies there at the start: one part (or one set that comes as it is).
    joinings
        In the order of the build.
    cost_min
        Sum, side benches included.
    """

    first: PartSet
    joinings: tuple[Joining, ...]
    cost_min: float


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
    weights
        How holds count.
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
        weights: HoldWeights = WEIGHTS[0],
        progress: Callable[[str], None] | None = None,
        guide: Guide | None = None,
    ) -> None:
        self.scene = scene
        self.paths = paths
        self.hands = hands
        self.support = support
        self.groups = groups
        self.beam = beam
        self.weights = weights
        self._on_level = Counter(support.rank)
        self.progress = progress or (lambda _: None)
        self.guide = guide or Guide()
        self._builds: dict[PartSet, Build] = {}
        self._options: dict[tuple[PartSet, PartSet], list[Joining]] = {}
        self._least: dict[int, float] = {}
        self.broken_pins = False
        self._after = pin_sets(scene)
        self._apart = apart_sets(scene)
        self._site_pairs = [
            (1 << a, 1 << b)
            for joint, (a, b) in zip(scene.joints, scene.pairs, strict=True)
            if joint.made is Place.SITE
        ]
        self.is_small = len(scene.parts) <= SMALL

    def build(self, whole: PartSet, *, is_main: bool) -> Build:
        """Cheapest way found to put a set together."""
        if whole not in self._builds:
            build = self._search(whole, is_main)
            if build is None:
                # Without pins there is always a part whose removal leaves the rest connected.
                self.broken_pins = True
                self._after, self._apart = (), ()
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
        if not self._allowed(moving | standing, [moving], is_main):
            return None
        ways = self.ways_out(moving, standing, Depth.LEGS if self.is_small else Depth.SUGGESTED)
        if not ways or not self._is_closable(moving, moving | standing):
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
                key=lambda item: (item[1][0] + sum(least.get(part, 0.0) for part in members(item[0])), item[0]),
            )
            if is_main and states and count % 5 == 0:
                self.progress(f"planning: {count} parts left to take out")
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
        return Build(first=first, joinings=tuple(reversed(way)), cost_min=cost)

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

    def _weighed(self, whole: PartSet, target: PartSet, is_main: bool) -> list[Joining]:
        guided = self._allowed(whole, self.guide.off(whole), is_main)
        ways = {m: self.ways_out(m, whole & ~m, Depth.LEGS) for m in guided}
        closable = [moving for moving in guided if ways[moving] and self._is_closable(moving, whole)]
        if closable:
            return [self.joining(moving, whole & ~moving, target, is_main, ways[moving]) for moving in closable]
        ways = self._ways(whole, is_main)
        free = [moving for moving in ways if ways[moving]]
        closable = [moving for moving in free if self._is_closable(moving, whole)]
        chosen = closable or free or list(ways)
        return [self.joining(moving, whole & ~moving, target, is_main, ways[moving]) for moving in chosen]

    def _ways(self, whole: PartSet, is_main: bool) -> dict[PartSet, tuple[int, ...]]:
        """Sets that may be taken off, with their free ways; looked for deeper only as long as nothing is free.

        Of a small figure every single part is looked at to the full depth: the choice among orders is exhaustive there.
        """
        sets = self._candidates(whole, is_main)
        deep = Depth.LEGS if self.is_small else Depth.SUGGESTED
        ways = {m: self.ways_out(m, whole & ~m, min(deep, depth_for(m))) for m in sets}
        if not any(ways.values()):
            sets += [m for m in self._allowed(whole, self.paths.locked_sets(whole), is_main) if m not in ways]
            ways = {m: self.ways_out(m, whole & ~m, Depth.ALL) for m in sets}
        if not any(ways.values()):
            for moving in sets:
                ways[moving] = self.ways_out(moving, whole & ~moving, Depth.LEGS)
                if not self.is_small and sum(map(bool, ways.values())) >= ENOUGH:
                    break
        return ways

    def ways_out(self, moving: PartSet, standing: PartSet, depth: Depth) -> tuple[int, ...]:
        """Numbers of the ways that take a set off; off a base on the ground none that leads below the ground."""
        floor = self.scene.floor(standing, self.scene.up) if is_fixed(self.scene, standing) else None
        return self.paths.ways_out(moving, standing, depth, floor)

    def _is_closable(self, moving: PartSet, whole: PartSet) -> bool:
        """Whether every bolt between a set and the rest can be closed past both, if need be with the work turned."""
        standing = whole & ~moving
        bolts = self.scene.bolts_closed(moving, standing)
        return all(self._is_reached(bolt, whole, standing, is_upright=False) for bolt in bolts)

    def _is_reached(self, bolt: Bolt, whole: PartSet, standing: PartSet, *, is_upright: bool) -> bool:
        """Whether a bolt can be closed past a set that stands upright, or else any way up."""
        if self.hands is None:
            return True
        is_held = is_fixed(self.scene, standing)
        if not self.is_small and not is_held:
            # How the work lies is settled on the bench afterwards: of many states only one question is asked here.
            return self.hands.is_closable(bolt, whole, floor=None)
        if self.hands.is_closable(bolt, whole, floor=self.scene.floor(whole, self.scene.up)):
            return True
        is_stuck = is_upright or is_held
        return not is_stuck and self.hands.is_closable(bolt, whole, floor=None)

    def _candidates(self, whole: PartSet, is_main: bool) -> list[PartSet]:
        keep = 1 << self.scene.root if self.scene.root is not None else 0
        singles = [1 << number for number in members(whole & ~keep)]
        sets = [group for group in self.groups if group & whole == group and group != whole and not group & keep]
        return self._allowed(whole, singles + sets, is_main)

    def _allowed(self, whole: PartSet, sets: Sequence[PartSet], is_main: bool) -> list[PartSet]:
        """Sets that leave the rest in one piece, are joined to it, can be built apart and may arrive last by the pins.

        Without a base, the ground joins what stands on it.
        """
        ground = self.support.ground if is_main else 0
        keep = 1 << self.scene.root if self.scene.root is not None else 0
        return [
            moving
            for moving in dict.fromkeys(sets)
            if not moving & keep
            and moving != whole
            and not self._is_heavier(moving, whole & ~moving)
            and self.scene.is_connected(whole & ~moving, ground)
            and (self.scene.joints_between(moving, whole & ~moving) or (moving & ground and whole & ~moving & ground))
            and self._is_allowed(moving, whole & ~moving)
            and (moving.bit_count() == 1 or self.is_buildable(moving))
        ]

    def _is_heavier(self, moving: PartSet, standing: PartSet) -> bool:
        """Whether a piece built apart weighs more than what it would be brought to: then that one is brought to it."""
        if moving.bit_count() == 1 or is_fixed(self.scene, standing):
            return False
        return self.scene.mass_kg(moving) > 1.001 * self.scene.mass_kg(standing)

    def _is_allowed(self, moving: PartSet, standing: PartSet) -> bool:
        """Whether the user's pins let these parts arrive last, and no shop joint comes after a site joint."""
        if self._is_shop_after_site(moving, standing):
            return False
        if any(earlier & moving and later & standing for later, earlier in self._after):
            return False
        return not any(moving & group and moving & group != group and standing & ~group for group in self._apart)

    def _is_shop_after_site(self, moving: PartSet, standing: PartSet) -> bool:
        places = {self.scene.joints[number].made for number in self.scene.joints_between(moving, standing)}
        return Place.SHOP in places and any(
            a & side and b & side for a, b in self._site_pairs for side in (moving, standing)
        )

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
        costs: dict[str, float] = {"handling": STEP_MIN}
        whole, up, direction = moving | standing, self.scene.up, -1
        upright = self.ways_above(directions, moving, standing, up)
        if directions:
            direction, care = self.best_way(upright or directions, moving, standing, up)
            costs |= care
        else:
            costs[NO_PATH] = NO_PATH_MIN
        costs |= self._standing_costs(moving, standing, target, is_main)
        bolts = self.scene.bolts_closed(moving, standing)
        missed = [bolt for bolt in bolts if not self._is_reached(bolt, whole, standing, is_upright=True)]
        unreachable = tuple(b.id for b in missed if not self._is_reached(b, whole, standing, is_upright=False))
        costs[UNREACHABLE] = UNREACHABLE_MIN * len(unreachable)
        if len(missed) > len(unreachable) or (directions and not upright):
            # There and back.
            costs["turns"] = 2.0 * self.turn_min(standing)
        if moving.bit_count() > 1:
            costs["side bench"] = BENCH_MIN + self.build(moving, is_main=False).cost_min
        return Joining(
            moving=moving,
            standing=standing,
            ways=directions,
            direction=direction,
            cost_min=sum(costs.values()),
            parts_of_cost=tuple(sorted((name, value) for name, value in costs.items() if value)),
            unreachable=unreachable,
        )

    def ways_above(self, ways: tuple[int, ...], moving: PartSet, standing: PartSet, up: Vector) -> tuple[int, ...]:
        """Those of the ways that do not lead below the ground under what stands."""
        floor = self.scene.floor(moving | standing, up)
        return tuple(number for number in ways if self.paths.is_above(number, moving, standing, floor))

    def best_way(
        self, ways: tuple[int, ...], moving: PartSet, standing: PartSet, up: Vector
    ) -> tuple[int, dict[str, float]]:
        """The way that asks for the least care, and the minutes of it by name."""
        found = [(number, *self._care(number, moving, standing, up)) for number in ways]
        number, wiped, sideways, legs = min(found, key=lambda item: (item[1] + item[2] + item[3], item[0]))
        return number, {"wiped faces": wiped, "sideways": sideways, "legs": legs}

    def turn_min(self, standing: PartSet) -> float:
        """Minutes to turn what stands another way up."""
        return TURN_MIN + self._lift_min(standing)

    def _care(self, number: int, moving: PartSet, standing: PartSet, up: Vector) -> tuple[float, float, float]:
        """Minutes for faces that are wiped, for a movement slanted to its faces or to the vertical, for two legs."""
        out = np.asarray(self.paths.leaving(number))
        wiped, slant = 0.0, 0.0
        faces = len(self.paths.leaving_normals(moving, standing))
        for joint_number in self.scene.joints_between(moving, standing):
            joint = self.scene.joints[joint_number]
            along = abs(float(np.dot(joint.normal, out)))
            slant = max(slant, 1.0 - along)
            if joint.method.is_bonded and along < WIPED_COSINE:
                wiped += WIPED_MIN
        sideways = (
            SLANT_MIN * slant + FACES_MIN * max(0, faces - 1) + SIDEWAYS_MIN * (1.0 - float(out @ np.asarray(up)))
        )
        return wiped, sideways, LEG_MIN * self.paths.is_bent(number)

    def _standing_costs(self, moving: PartSet, standing: PartSet, target: PartSet, is_main: bool) -> dict[str, float]:
        costs: dict[str, float] = {}
        hold = self._hold_min(moving, standing, target & ~moving & ~standing, is_main)
        if hold:
            costs["holds"] = hold
        costs["lifts"] = self._lift_min(moving)
        costs["props"] = self.props_min(moving, standing, self.scene.up, is_main=is_main)
        return costs

    def props_min(self, moving: PartSet, standing: PartSet, up: Vector, *, is_main: bool) -> float:
        """Minutes to hold up what arrives, the whole where it does not stand, and what it goes in under.

        On a bench of its own a piece lies in a bed, whatever hangs on it.
        """
        tip = self.support.tip_deg(moving | standing, up)
        hangs = bool(prop_reason(self.support, moving, standing, up))
        if not is_main:
            return BED_MIN if hangs or tip < SAFE_DEG else 0.0
        whole = 0.0 if tip >= SAFE_DEG else PROP_MIN if tip >= 0.0 else SCAFFOLD_MIN
        under = UNDER_MIN if goes_under(self.support, moving, standing, up) else 0.0
        return whole + under + (PROP_MIN if hangs else 0.0)

    def _hold_min(self, moving: PartSet, standing: PartSet, later: PartSet, is_main: bool) -> float:
        """Minutes of a hold that something still has to wait for; of a side bench only a share of them."""
        scene, waits = self.scene, 0.0
        for number in scene.joints_between(moving, standing):
            joint = scene.joints[number]
            bonding = scene.bondings.get(joint.id)
            loads = sum(1 << part for part in members(later) if number in self.support.crossed[part])
            if not joint.method.is_bonded or bonding is None or (is_main and not loads):
                continue
            if not carried_on_bolts(scene, number, loads | moving, scene.up):
                waits = max(waits, bonding.handling_min)
        if not is_main:
            return waits * self.weights.side
        level = self.support.rank[min(members(moving), key=lambda part: (self.support.rank[part], part))]
        return waits / (self._on_level[level] if self.weights.is_level_shared else 1)

    def _lift_min(self, moving: PartSet) -> float:
        scene = self.scene
        people = lift_for(
            scene.mass_kg(moving), scene.stance_mm(moving), scene.size_mm(moving), scene.settings.crew
        ).people
        return HOIST_MIN if people == 0 else TWO_PEOPLE_MIN * (people - 1)


def _way_key(way: tuple[Joining, ...]) -> tuple[tuple[int, int], ...]:
    return tuple((joining.moving, joining.direction) for joining in way)
