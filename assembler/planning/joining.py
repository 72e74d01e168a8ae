"""How is a set put together, and what does each step cost? Open weights, in minutes, for what makes it awkward."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from assembler.engineering.lifting import lift_for
from assembler.engineering.worktimes import PROP_MIN, lift_minutes
from assembler.figure.ids import BoltId
from assembler.figure.parts import Vector
from assembler.planning.blocking import Paths
from assembler.planning.directions import leaving_normals
from assembler.planning.onbolts import carried_on_bolts
from assembler.planning.scene import PartSet, Scene, members
from assembler.planning.support import SAFE_DEG, Support, goes_under, prop_reason

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
BED_MIN = 5.0
"""To bed a piece on sandbags or in a cradle on its own bench (common practice, no source)."""
SCAFFOLD_MIN = 45.0
"""To hold up by scaffold or sling what would fall over as a whole (common practice, no source)."""
UNDER_MIN = 30.0
"""To hold up what stands while a part that is to carry it goes in under it (common practice, no source)."""
TURN_MIN = 10.0
"""To turn what stands on a bench another way up, besides the people or the hoist (common practice, no source)."""
BLIND_MIN = 1.0
BLIND_MM = 250.0
UNREACHABLE_MIN = 5_000.0
LEG_MIN = 5.0
"""For every turn of direction on the way in (common practice, no source)."""

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


class Costs:
    """What it takes to bring a set to what stands, as far as it follows from these two and what is still to come.

    Parameters
    ----------
    scene, paths, support
        The figure and what answers questions about it.
    weights
        How holds count.
    """

    def __init__(self, scene: Scene, paths: Paths, support: Support, weights: HoldWeights) -> None:
        self.scene = scene
        self.paths = paths
        self.support = support
        self.weights = weights
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
        return TURN_MIN + self._lift_min(standing)

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
        wiped = WIPED_MIN * self._wiped(number, moving, standing)
        sideways = (
            SLANT_MIN * slant + FACES_MIN * max(0, faces - 1) + SIDEWAYS_MIN * (1.0 - float(out @ np.asarray(up)))
        )
        return wiped, sideways, LEG_MIN * self.paths.is_bent(number)

    def standing_costs(self, moving: PartSet, standing: PartSet, target: PartSet, is_main: bool) -> dict[str, float]:
        """Minutes, by name, for the hold, the lift and the props; the target says what is still to come."""
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
        return lift_minutes(people)
