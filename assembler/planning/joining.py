"""How is a set put together, and what does each step cost? In minutes, by the weights of `weights`."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assembler.engineering.worktimes import lift_minutes
from assembler.figure.ids import BoltId
from assembler.figure.parts import Vector
from assembler.planning.blocking import Paths
from assembler.planning.directions import leaving_normals
from assembler.planning.gravity import BED_MM, rise_mm, team_lift
from assembler.planning.onbolts import carried_on_bolts
from assembler.planning.pieces import is_fixed, units
from assembler.planning.scene import FLOOR_MM, PartSet, Scene, members, on_the_ground
from assembler.planning.support import SAFE_DEG, Support, goes_under, prop_reason, stated_base
from assembler.planning.weights import Emphasis, weigh

WIPED_COSINE = 0.17
"""A face is wiped where the movement lies within 10 degrees of it."""


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
    ready_min
        Waits, one after the other, until it can be lifted: holds that run side by side count once.
    """

    first: PartSet
    joinings: tuple[Joining, ...]
    cost_min: float
    ready_min: float = 0.0

    @property
    def work_min(self) -> float:
        """The sum without holds."""
        return self.cost_min - sum(
            value for one in self.joinings for name, value in one.parts_of_cost if name == "holds"
        )


class Costs:
    """What it takes to bring a set to what stands, as far as it follows from these two and what is still to come.

    Parameters
    ----------
    scene, paths, support
        The figure and what answers questions about it.
    emphasis
        What counts in another way than in the next search.

    Attributes
    ----------
    units
        Rings and limbs that the crew can lift as one, and rings that stand on the ground.
    """

    def __init__(self, scene: Scene, paths: Paths, support: Support, emphasis: Emphasis) -> None:
        self.scene = scene
        self.paths = paths
        self.support = support
        self.emphasis = emphasis
        base = stated_base(support) if scene.base is None and scene.based else None
        self._on_base = support if base is None else Support(scene, base)
        in_place = on_the_ground(scene)
        self.units = tuple(u for u in units(scene, support) if not u & ~in_place or team_lift(scene, u).people)
        self._on_level = Counter(support.rank)

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
        return self.scene.settings.crew.turn_min + self._lift_min(standing)

    def is_wiping(self, number: int, moving: PartSet, standing: PartSet) -> bool:
        """Whether a way slides along a bonded face."""
        return self._wiped(number, moving, standing) > 0

    def _wiped(self, number: int, moving: PartSet, standing: PartSet) -> int:
        """Number of bonded faces that a way slides along."""
        out = np.asarray(self.paths.leaving(number))
        joints = (self.scene.joints[joint] for joint in self.scene.joints_between(moving, standing))
        return sum(joint.method.is_bonded and abs(float(np.dot(joint.normal, out))) < WIPED_COSINE for joint in joints)

    def _care(self, number: int, moving: PartSet, standing: PartSet, up: Vector) -> tuple[float, float, float]:
        """Minutes for faces that are wiped, for a movement slanted to its faces or to the vertical, for two legs."""
        out = np.asarray(self.paths.leaving(number))
        slant = 0.0
        faces = len(leaving_normals(self.scene, moving, standing))
        for joint_number in self.scene.joints_between(moving, standing):
            joint = self.scene.joints[joint_number]
            slant = max(slant, 1.0 - abs(float(np.dot(joint.normal, out))))
        wiped = weigh("wiped faces") * self._wiped(number, moving, standing)
        sideways = (
            weigh("slant") * slant
            + weigh("faces") * max(0, faces - 1)
            + weigh("sideways") * (1.0 - float(out @ np.asarray(up)))
        )
        return wiped, sideways, weigh("legs") * self.paths.is_bent(number)

    def standing_costs(self, moving: PartSet, standing: PartSet, target: PartSet, is_main: bool) -> dict[str, float]:
        """Minutes, by name, for the hold, the lift and the props; the target says what is still to come."""
        scene = self.scene
        lifted = self._lifted(moving, standing, is_main=is_main)
        return {
            "hoists": 0.0 if team_lift(scene, lifted).people else weigh("hoist called"),
            "holds": self._hold_min(moving, standing, target & ~moving & ~standing, is_main),
            "by measure": 0.0 if scene.joints_between(moving, standing) else weigh("by measure"),
            "lifts": lift_minutes(team_lift(scene, lifted).people, scene.settings.crew),
            "carrying": weigh("carrying") * scene.mass_kg(lifted),
            "lifts of what stands": self.raise_min(moving, standing, scene.up, is_main=is_main),
            "props": self._props_or_turn_min(moving, standing, is_main=is_main),
            "units taken apart": weigh("loose") * self.is_loose(moving, standing),
        }

    def raise_min(self, moving: PartSet, standing: PartSet, up: Vector, *, is_main: bool) -> float:
        """Minutes to take what stands off its place because what arrives reaches below it.

        A single part has only been laid down: the two change places in words, and nothing that stood is lifted.
        """
        rise = rise_mm(self.scene, moving, standing, up)
        if not rise or standing.bit_count() == 1 or (not is_main and rise <= BED_MM):
            return 0.0
        return self.lifting_min(standing, is_main=is_main)

    def lifting_min(self, standing: PartSet, *, is_main: bool) -> float:
        """Minutes to take what stands off its place."""
        kind = "raised by hand" if team_lift(self.scene, standing).people else "raised on stands"
        return weigh(kind) + self.emphasis.lift_min * is_main

    def is_loose(self, moving: PartSet, standing: PartSet) -> bool:
        """Whether part of a ring or limb, which could come as one, is fitted to something else."""
        there = moving | standing
        return any(moving & unit == moving and moving != unit and there & ~unit for unit in self.units)

    def props_min(self, moving: PartSet, standing: PartSet, up: Vector, *, is_main: bool) -> float:
        """Minutes to hold up what arrives, the whole where it does not stand, and what it goes in under.

        On a bench of its own a piece lies in a bed, whatever hangs on it.
        """
        is_based = is_fixed(self.scene, moving | standing, is_main=is_main) and up == self.scene.up
        tip = (self._on_base if is_based else self.support).tip_deg(moving | standing, up)
        rise = rise_mm(self.scene, moving, standing, up)
        if rise:
            # What reaches lower stands; the other is set down on it.
            moving, standing = standing, moving
        hangs = bool(prop_reason(self.support, moving, standing, up))
        if not is_main:
            is_bedded = 0.0 < rise <= BED_MM
            return weigh("bed") if hangs or tip < SAFE_DEG or is_bedded else 0.0
        whole = 0.0 if tip >= SAFE_DEG else self.scene.settings.crew.prop_min if tip >= 0.0 else weigh("scaffold")
        under = weigh("under") if goes_under(self.support, moving, standing, up) else 0.0
        return whole + under + (self.scene.settings.crew.prop_min if hangs else 0.0)

    def _props_or_turn_min(self, moving: PartSet, standing: PartSet, *, is_main: bool) -> float:
        """Minutes for props with the work upright, or on its head and back where it can be turned and stands so.

        Nothing is turned to bring in late what carries it when it is finished.
        """
        scene, (x, y, z) = self.scene, self.scene.up
        upright = self.props_min(moving, standing, scene.up, is_main=is_main)
        on_head = (0.0 - x, 0.0 - y, 0.0 - z)
        crossed = {number for part in members(standing) for number in self.support.crossed[part]}
        is_late = bool(crossed.intersection(scene.joints_between(moving, standing)))
        if (
            not upright
            or is_late
            or is_fixed(scene, standing, is_main=is_main)
            or self.support.tip_deg(moving | standing, on_head) < SAFE_DEG
        ):
            return upright
        return min(upright, 2.0 * self.turn_min(moving | standing))

    def _hold_min(self, moving: PartSet, standing: PartSet, later: PartSet, is_main: bool) -> float:
        """Minutes of a hold that something still has to wait for; of a side bench only a share of them.

        What arrives later loads a joint, on it or under it: from below everything that stands is lifted.
        """
        scene, waits = self.scene, 0.0
        there = moving | standing
        lifted_later = bool(later) and (scene.lowest_mm(later, scene.up) < scene.lowest_mm(there, scene.up) - FLOOR_MM)
        for number in scene.joints_between(moving, standing):
            loads = sum(1 << part for part in members(later) if number in self.support.crossed[part])
            if lifted_later:
                loads |= there
            if loads or not is_main:
                waits = max(waits, self._cure_min(number, loads | moving))
        if not is_main:
            return waits * self.emphasis.side
        level = self.support.rank[min(members(moving), key=lambda part: (self.support.rank[part], part))]
        return waits / (self._on_level[level] if self.emphasis.is_level_shared else 1)

    def ready_min(self, joinings: Sequence[Joining], ready: Mapping[PartSet, float]) -> float:
        """Waits, one after the other, until everything that joinings close can be lifted.

        Parameters
        ----------
        joinings
            Of one bench, in their order.
        ready
            The same for the pieces that arrive, by set.
        """
        now, free_at = 0.0, dict[int, float]()
        for joining in joinings:
            moving, standing = joining.moving, joining.standing
            is_lifted = rise_mm(self.scene, moving, standing, self.scene.up) > BED_MM
            loaded = {number for part in members(moving) for number in self.support.crossed[part]}
            waits = [free for number, free in free_at.items() if is_lifted or number in loaded]
            now = max(now, ready.get(moving, 0.0), *waits) if waits else max(now, ready.get(moving, 0.0))
            for number in self.scene.joints_between(moving, standing):
                free_at[number] = now + self._cure_min(number, moving)
        return max(free_at.values(), default=0.0)

    def _cure_min(self, number: int, loads: PartSet) -> float:
        """Minutes until a joint may be loaded; 0 where its bolts carry that alone."""
        joint = self.scene.joints[number]
        bonding = self.scene.bondings.get(joint.id)
        if not joint.method.is_bonded or bonding is None or carried_on_bolts(self.scene, number, loads, self.scene.up):
            return 0.0
        return bonding.handling_min

    def side_min(self, build: Build, standing: PartSet) -> float:
        """Minutes for a piece built on a bench of its own: work, and the waits that no work elsewhere covers.

        Where a single part waits for it, nothing has been done there meanwhile.
        """
        if standing.bit_count() == 1:
            return weigh("side bench") + build.work_min + build.ready_min
        holds = [value for one in build.joinings for name, value in one.parts_of_cost if name == "holds"]
        longest = max(holds, default=0.0) / self.emphasis.side
        covered = min(build.ready_min, longest)
        return weigh("side bench") + build.work_min + self.emphasis.side * covered + build.ready_min - covered

    def _lifted(self, moving: PartSet, standing: PartSet, *, is_main: bool) -> PartSet:
        """Which of the two leaves the ground, the work upright."""
        rise = rise_mm(self.scene, moving, standing, self.scene.up)
        return standing if rise > (0.0 if is_main else BED_MM) else moving

    def _lift_min(self, lifted: PartSet) -> float:
        lift = team_lift(self.scene, lifted)
        return lift_minutes(lift.people, self.scene.settings.crew) + weigh("carrying") * lift.mass_kg
