"""Which order? The finished figure is taken apart on paper, cheapest way first; read backwards, that is the build."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import networkx as nx
import numpy as np

from assembler.engineering.lifting import lift_for
from assembler.figure.findings import Finding, Level
from assembler.figure.ids import BoltId, natural_key
from assembler.planning.access import Hands
from assembler.planning.blocking import Paths
from assembler.planning.scene import PartSet, Scene, members
from assembler.planning.support import SAFE_DEG, Support, prop_reason, tip_deg

STEP_MIN = 6.0
"""To fetch, clean and place what moves (common practice, no source)."""
BENCH_MIN = 10.0
"""To set up a bench of its own and clear it."""
WIPED_MIN = 10.0
"""For each bonded face that the movement slides along instead of meeting."""
WIPED_COSINE = 0.17
"""A face is wiped where the movement lies within 10 degrees of it."""
SLANT_MIN = 4.0
FACES_MIN = 4.0
"""For each face beyond the first that has to be met in another direction at the same time."""
SIDEWAYS_MIN = 1.0
PROP_MIN = 15.0
TWO_PEOPLE_MIN = 3.0
HOIST_MIN = 60.0
BLIND_MIN = 1.0
BLIND_MM = 250.0
UNREACHABLE_MIN = 5_000.0
NO_PATH_MIN = 1_000_000.0
SIDE_HOLD = 0.25
"""Share of a hold on another bench that counts: work goes on meanwhile."""

BRANCH_JOINTS = 4
"""A set that this many joints or fewer hold to the rest is a branch."""

LARGEST_GROUP = 8
"""Larger pieces are built apart only where the user or a site joint asks for it: heavy, and the search grows."""


def beam_for(parts: int) -> int:
    """States kept for each number of parts left: fewer for larger figures, so that time stays in bounds."""
    return max(2, min(5, 160 // max(parts, 1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """One step of the build: a set arrives at what stands.

    Parameters
    ----------
    moving, standing
        Sets; `standing` without the moving.
    direction
        Number of the direction of taking out; -1 where none is free.
    cost_min
        Of this step.
    parts_of_cost
        The same, by name.
    unreachable
        Bolts that cannot be closed.
    """

    moving: PartSet
    standing: PartSet
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
    progress
        Takes a line of text.
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
        progress: Callable[[str], None] | None = None,
    ) -> None:
        self.scene = scene
        self.paths = paths
        self.hands = hands
        self.support = support
        self.groups = groups
        self.beam = beam
        self.progress = progress or (lambda _: None)
        self._builds: dict[PartSet, Build] = {}
        self._options: dict[tuple[PartSet, PartSet], list[Joining]] = {}
        self._least: dict[int, float] = {}
        self.broken_pins = False
        self._after = _pin_sets(scene)
        self._apart = apart_sets(scene)

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
        sets = self._candidates(whole)
        ways = {moving: self.paths.directions_out(moving, whole & ~moving) for moving in sets}
        free = [moving for moving in sets if ways[moving]]
        if not free:
            ways = {m: self.paths.directions_out(m, whole & ~m, is_thorough=True) for m in sets}
            free = [moving for moving in sets if ways[moving]]
        closable = [moving for moving in free if self._is_closable(moving, whole)]
        if closable:
            return [self.joining(moving, whole & ~moving, target, is_main, ways[moving]) for moving in closable]
        return [self.joining(moving, whole & ~moving, target, is_main, ways[moving]) for moving in free or sets]

    def _is_closable(self, moving: PartSet, whole: PartSet) -> bool:
        """Whether every bolt between a set and the rest can be closed past both."""
        standing = whole & ~moving
        return self.hands is None or all(
            self.hands.is_closable(bolt, whole, has_floor=self._has_floor(standing))
            for bolt in self.scene.bolts_closed(moving, standing)
        )

    def _candidates(self, whole: PartSet) -> list[PartSet]:
        keep = 1 << self.scene.root if self.scene.root is not None else 0
        singles = [1 << number for number in members(whole & ~keep)]
        sets = [group for group in self.groups if group & whole == group and group != whole and not group & keep]
        return [
            moving
            for moving in dict.fromkeys(singles + sets)
            if self.scene.is_connected(whole & ~moving)
            and self.scene.joints_between(moving, whole & ~moving)
            and self._is_allowed(moving, whole & ~moving)
            and (moving.bit_count() == 1 or self.is_buildable(moving))
        ]

    def _is_allowed(self, moving: PartSet, standing: PartSet) -> bool:
        """Whether the user's pins let these parts arrive last."""
        if any(earlier & moving and later & standing for later, earlier in self._after):
            return False
        return not any(moving & group and moving & group != group and standing & ~group for group in self._apart)

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
        direction = -1
        if directions:
            direction, wiped, sideways = min(
                ((number, *self._care(number, moving, standing)) for number in directions),
                key=lambda item: (item[1] + item[2], item[0]),
            )
            costs |= {"wiped faces": wiped, "sideways": sideways}
        else:
            costs["no path"] = NO_PATH_MIN
        costs |= self._standing_costs(moving, standing, target, is_main)
        bolts = self.scene.bolts_closed(moving, standing)
        unreachable = tuple(
            bolt.id
            for bolt in bolts
            if self.hands is not None
            and not self.hands.is_closable(bolt, moving | standing, has_floor=self._has_floor(standing))
        )
        costs["unreachable bolts"] = UNREACHABLE_MIN * len(unreachable)
        if moving.bit_count() > 1:
            costs["side bench"] = BENCH_MIN + self.build(moving, is_main=False).cost_min
        return Joining(
            moving=moving,
            standing=standing,
            direction=direction,
            cost_min=sum(costs.values()),
            parts_of_cost=tuple(sorted((name, value) for name, value in costs.items() if value)),
            unreachable=unreachable,
        )

    def _has_floor(self, standing: PartSet) -> bool:
        """The base stands on the ground; a piece on a bench can be raised on blocks or turned."""
        return has_floor(self.scene, standing)

    def _care(self, number: int, moving: PartSet, standing: PartSet) -> tuple[float, float]:
        """Minutes for faces that are wiped, and for a movement that is slanted to its faces or to the vertical."""
        out = np.asarray(self.paths.directions[number])
        wiped, slant = 0.0, 0.0
        faces = len(self.paths.leaving_normals(moving, standing))
        for joint_number in self.scene.joints_between(moving, standing):
            joint = self.scene.joints[joint_number]
            along = abs(float(np.dot(joint.normal, out)))
            slant = max(slant, 1.0 - along)
            if joint.method.is_bonded and along < WIPED_COSINE:
                wiped += WIPED_MIN
        rise = float(out @ np.asarray(self.scene.up))
        return wiped, SLANT_MIN * slant + FACES_MIN * max(0, faces - 1) + SIDEWAYS_MIN * (1.0 - rise)

    def _standing_costs(self, moving: PartSet, standing: PartSet, target: PartSet, is_main: bool) -> dict[str, float]:
        costs: dict[str, float] = {}
        fresh = self.scene.joints_between(moving, standing)
        bonded = [self.scene.joints[n] for n in fresh if self.scene.joints[n].method.is_bonded]
        hold = max((self.scene.bondings[j.id].handling_min for j in bonded if j.id in self.scene.bondings), default=0.0)
        if hold:
            later = target & ~moving & ~standing
            is_loaded = any(self.support.crossed[part] & set(fresh) for part in members(later))
            costs["holds"] = hold * (1.0 if is_main else SIDE_HOLD) if is_loaded or not is_main else 0.0
        scene = self.scene
        people = lift_for(
            scene.mass_kg(moving), scene.stance_mm(moving), scene.size_mm(moving), scene.settings.crew
        ).people
        costs["lifts"] = HOIST_MIN if people == 0 else TWO_PEOPLE_MIN * (people - 1)
        if is_main and prop_reason(self.scene, self.support, moving, standing):
            costs["props"] = PROP_MIN
        if is_main and tip_deg(self.scene, self.support, moving | standing) < SAFE_DEG:
            costs["props"] = costs.get("props", 0.0) + PROP_MIN
        return costs


def has_floor(scene: Scene, standing: PartSet) -> bool:
    """Whether hands cannot come from below: true on a base that stands on the ground."""
    return scene.base is not None and bool(standing >> scene.base & 1)


def apart_sets(scene: Scene) -> tuple[PartSet, ...]:
    """What has to arrive as one: the user's pins, and sections that travel, without the one everything is built on."""
    keep = 1 << scene.root if scene.root is not None else 0
    sections = scene.sections
    travelling = [one for one in sections if one.bit_count() > 1 and not one & keep] if len(sections) > 1 else []
    if not keep:
        travelling = travelling[1:]
    return (*(scene.set_of(group) for group in scene.settings.pins.apart), *travelling)


def _way_key(way: tuple[Joining, ...]) -> tuple[tuple[int, int], ...]:
    return tuple((joining.moving, joining.direction) for joining in way)


def _pin_sets(scene: Scene) -> tuple[tuple[PartSet, PartSet], ...]:
    """Pins as sets; none where they contradict each other (that is a finding of its own)."""
    if impossible_pins(scene):
        return ()
    return tuple((scene.set_of((later,)), scene.set_of((earlier,))) for later, earlier in scene.settings.pins.after)


def groups_worth_apart(scene: Scene) -> tuple[PartSet, ...]:
    """Sets that may be built apart: branches behind few joints, rings of one level, and what the user pins.

    Branches come from minimum cuts between each part and the ground, weighted by the number of joints.
    """
    graph = nx.Graph()
    for a, b in scene.pairs:
        weight = graph.get_edge_data(a, b, {"capacity": 0})["capacity"] + 1
        graph.add_edge(a, b, capacity=weight)
    found: set[PartSet] = set()
    root = scene.root if scene.root is not None else _heaviest(scene)
    for part in range(len(scene.parts)):
        if part == root or part not in graph or root not in graph or not nx.has_path(graph, part, root):
            continue
        # Asked from the root, the cut gives the smallest set around the part.
        value, (_, side) = nx.minimum_cut(graph, root, part)
        if value <= BRANCH_JOINTS:
            found.add(sum(1 << number for number in side))
    found |= set(_rings(scene))
    most = min(max(len(scene.parts) // 2, 2), LARGEST_GROUP)
    kept = {group for group in found if group.bit_count() <= most} | set(apart_sets(scene))
    kept = {group for group in kept if group.bit_count() > 1 and scene.is_connected(group)}
    return tuple(sorted(kept, key=lambda group: (group.bit_count(), group)))


def _heaviest(scene: Scene) -> int:
    return min(range(len(scene.parts)), key=lambda number: (-scene.parts[number].mass_kg, number))


def _rings(scene: Scene) -> tuple[PartSet, ...]:
    """Parts joined by upright faces only: the pieces of one level."""
    level = nx.Graph()
    level.add_nodes_from(range(len(scene.parts)))
    for joint, pair in zip(scene.joints, scene.pairs, strict=True):
        if abs(float(np.dot(joint.normal, scene.up))) < 0.3:
            level.add_edge(*pair)
    return tuple(sum(1 << number for number in ring) for ring in nx.connected_components(level) if 1 < len(ring) <= 4)


def impossible_pins(scene: Scene) -> list[Finding]:
    """Findings for pins that wait for each other in a circle or name parts that do not hang together."""
    order = nx.DiGraph()
    order.add_edges_from((earlier, later) for later, earlier in scene.settings.pins.after)
    found = []
    if not nx.is_directed_acyclic_graph(order):
        circle = sorted({name for edge in nx.find_cycle(order) for name in edge[:2]}, key=natural_key)
        found.append(
            Finding(
                level=Level.STOP,
                code="pin-impossible",
                about=tuple(circle),
                message="the pins make these parts wait for each other: " + ", ".join(circle),
                remedy="take one of these pins out of figure.toml",
            )
        )
    for group in scene.settings.pins.apart:
        if not scene.is_connected(scene.set_of(group)):
            found.append(
                Finding(
                    level=Level.STOP,
                    code="pin-impossible",
                    about=tuple(group),
                    message="these parts are pinned to be built apart, but no joints connect them all",
                    remedy="name a set that is connected by joints",
                )
            )
    return found
