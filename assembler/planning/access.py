"""Can hands and tools close a bolt past what stands at that moment? Answers for single bolts, with the way in words.

Fewer parts leave more room: what can be reached past a set can be reached past each of its subsets. The memory here
rests on that.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from assembler.cache import Answers
from assembler.figure.hardware import Stack
from assembler.figure.ids import BoltId
from assembler.figure.joints import Bolt, Seat
from assembler.figure.mesh import mesh_digest
from assembler.figure.parts import Vector
from assembler.figure.plan import Access
from assembler.geometry.freespace import point_tree, surface_points
from assembler.planning.boltends import End, ends_of
from assembler.planning.handroom import HandRoom
from assembler.planning.scene import Floor, PartSet, Scene, members
from assembler.planning.toolroom import Tools
from assembler.words import Said, said_of, said_record, say

CELL_MM = 10.0

BEYOND_MM = 25.0
"""Where on the axis beyond the seat a hand holds head or nut (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Whether and how one end is reached.

    Parameters
    ----------
    is_reached
        By a hand.
    way_mm
        Length of its way inside the hollow.
    is_flat
        Whether only a flat hand passes the opening, to the wrist.
    is_by_tool
        Whether fingers do not come to the end itself, in a bore, and hold the tool on its axis instead.
    is_tight
        Whether the upper arm would have to enter, and does not pass.
    """

    is_reached: bool
    way_mm: float
    is_flat: bool = False
    is_by_tool: bool = False
    is_tight: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Access to one bolt past one set of parts, and what is missing.

    Parameters
    ----------
    access
        For the plan.
    missing
        'head', 'nut', 'head tool', 'nut tool' or 'second arm'; empty when it can be closed.
    in_the_way
        Parts that the tool meets.
    is_shut
        Whether no opening at all is left, however long the arm.
    """

    access: Access
    missing: str
    in_the_way: PartSet
    is_shut: bool


class Hands:
    """Room for hands and tools past what stands, with a memory.

    Parameters
    ----------
    scene
        The figure.
    cell_mm
        Grid for hands.
    answers
        Verdicts of earlier runs, by the solids that stand.
    """

    def __init__(self, scene: Scene, cell_mm: float = CELL_MM, answers: Answers | None = None) -> None:
        self.scene = scene
        self._answers = answers or Answers()
        self._solids = [mesh_digest(mesh) for mesh in scene.meshes]
        spacing_mm = 0.45 * cell_mm
        points = [point_tree(surface_points(mesh, spacing_mm)) for mesh in scene.meshes]
        self.room = HandRoom(scene, points, cell_mm, self._answers)
        self.tools = Tools(scene, points, spacing_mm, self._answers)
        self.ends = {bolt.id: ends_of(scene, bolt) for joint in scene.joints for bolt in joint.bolts}
        self.bolts = {bolt.id: bolt for joint in scene.joints for bolt in joint.bolts}
        self._near = {
            name: self.room.near(ends[0].point(BEYOND_MM)) | self.room.near(ends[1].point(BEYOND_MM))
            for name, ends in self.ends.items()
        }
        self._reaches: dict[tuple[Vector, PartSet, Floor | None], Reach] = {}
        self._good: dict[tuple[BoltId, Floor | None], list[PartSet]] = {}
        self._bad: dict[tuple[BoltId, Floor | None], list[PartSet]] = {}

    def is_closable(self, bolt: Bolt, standing: PartSet, *, floor: Floor | None) -> bool:
        """Whether a bolt can be closed past what stands; answered from memory where a super- or subset is known."""
        key = (bolt.id, floor)
        standing &= self._near[bolt.id]
        # A floor only takes room: what is shut without one is shut, what is open with one is open.
        free = (bolt.id, None)
        if any(standing & good == standing for good in self._good.get(key, ())):
            return True
        if any(standing & bad == bad for name in {key, free} for bad in self._bad.get(name, ())):
            return False
        return not self.verdict(bolt, standing, floor=floor).missing

    def is_known_shut(self, bolt: Bolt, standing: PartSet, *, floor: Floor | None) -> bool:
        """Whether it is remembered that a bolt cannot be closed past this set or a part of it."""
        standing &= self._near[bolt.id]
        return any(standing & bad == bad for bad in self._bad.get((bolt.id, floor), ()))

    def verdict(self, bolt: Bolt, standing: PartSet, *, floor: Floor | None) -> Verdict:
        """Access to a bolt past what stands, the better end for the head chosen."""
        standing &= self._near[bolt.id]
        asked = self._question(bolt, standing, floor)
        if not self._answers.has(asked):
            self._answers.put(asked, self._record(self._judged(bolt, standing, floor)))
        # Also what was judged just now comes out of its record: the same numbers, whether remembered or not.
        best = self._verdict_of(self._answers.get(asked))
        key = (bolt.id, floor)
        (self._bad if best.missing else self._good).setdefault(key, []).append(standing)
        if not best.missing and floor is not None:
            self._good.setdefault((bolt.id, None), []).append(standing)
        return best

    def final(self, bolt: Bolt, standing: PartSet, *, floor: Floor | None) -> Verdict:
        """The verdict, and where no way was found the reason looked for farther than a search needs to know it."""
        found = self.verdict(bolt, standing, floor=floor)
        if not found.is_shut:
            return found
        head = found.access.head_end
        end = self.ends[bolt.id][head if found.missing == "head" else 1 - head]
        if not self.reach(end, 1 << end.part, None).is_reached:
            words = say("way.no_hand", part=self.scene.parts[end.part].id)
        else:
            way = self.room.far_way_mm(end.point(BEYOND_MM), standing, floor)
            if not math.isfinite(way):
                return found
            words = _words(Reach(is_reached=False, way_mm=way), False, self.room)
        is_head = found.missing == "head"
        access = replace(found.access, head=words) if is_head else replace(found.access, nut=words)
        return replace(found, access=access, is_shut=False)

    def _judged(self, bolt: Bolt, standing: PartSet, floor: Floor | None) -> Verdict:
        ends = self.ends[bolt.id]
        heads = [k for k in (0, 1) if ends[k].kind is Seat.OPEN] or [0]
        found = [self._with_head(bolt, ends, k, standing, floor) for k in heads]
        return min(found, key=lambda verdict: (bool(verdict.missing), verdict.access.reach_mm, verdict.access.head_end))

    def _question(self, bolt: Bolt, standing: PartSet, floor: Floor | None) -> str:
        """Key over all that the verdict on a bolt depends on."""
        stack = self.scene.stacks.get(bolt.id)
        ends = [{**asdict(end), "part": self.scene.parts[end.part].id} for end in self.ends[bolt.id]]
        solids = [(self.scene.parts[number].id, self._solids[number]) for number in members(standing)]
        return self._answers.key("access", self.room.frame(), bolt.id, ends, stack and asdict(stack), solids, floor)

    def _record(self, verdict: Verdict) -> dict[str, Any]:
        access = verdict.access
        said = {name: said_record(getattr(access, name)) for name in ("tool", "head", "nut")}
        return {
            **asdict(verdict),
            "access": {**asdict(access), **said},
            "in_the_way": list(self.scene.names(verdict.in_the_way)),
        }

    def _verdict_of(self, record: Mapping[str, Any]) -> Verdict:
        access = record["access"]
        return Verdict(
            access=Access(**{**access, **{name: said_of(access[name]) for name in ("tool", "head", "nut")}}),
            missing=record["missing"],
            in_the_way=self.scene.set_of(record["in_the_way"]),
            is_shut=record["is_shut"],
        )

    def seated_otherwise(self, bolt: Bolt, head: int, standing: PartSet, floor: Floor | None) -> Verdict:
        """Access to a bolt whose head is driven at one end, with a captive nut at the other, whatever it has now."""
        first, second = self.ends[bolt.id]
        kinds = (Seat.OPEN, Seat.CAPTIVE) if head == 0 else (Seat.CAPTIVE, Seat.OPEN)
        ends = (replace(first, kind=kinds[0]), replace(second, kind=kinds[1]))
        return self._with_head(bolt, ends, head, standing, floor)

    def _with_head(
        self, bolt: Bolt, ends: tuple[End, ...], head: int, standing: PartSet, floor: Floor | None
    ) -> Verdict:
        stack = self.scene.stacks.get(bolt.id)
        nut_end = ends[1 - head]
        is_nut_open = nut_end.kind is Seat.OPEN
        missing, in_the_way, tool = "", 0, stack.tool if stack else say("tool.any")
        reaches = [self._held(ends[head], head, "head", stack, standing, floor)]
        if is_nut_open:
            reaches.append(self._held(nut_end, 1 - head, "nut", stack, standing, floor))
        missing = next(
            (name for name, reach in zip(("head", "nut"), reaches, strict=False) if not reach.is_reached), ""
        )
        if not missing and len(reaches) == 2 and all(reach.way_mm > 0.0 for reach in reaches):
            missing = "" if self._passes_two(ends, standing, floor) else "second arm"
        if stack is not None and not missing:
            way, tool = self.tools.obstacles(ends[head], head, "head", stack, standing)
            missing, in_the_way = ("head tool", way) if way else ("", 0)
            if not missing and is_nut_open:
                way, _ = self.tools.obstacles(nut_end, 1 - head, "nut", stack, standing)
                missing, in_the_way = ("nut tool", way) if way else ("", 0)
        ways = [reach.way_mm for reach in reaches if math.isfinite(reach.way_mm)]
        access = Access(
            bolt=bolt.id,
            head_part=self.scene.parts[ends[head].part].id,
            nut_part=self.scene.parts[nut_end.part].id,
            head_end=head,
            tool=tool,
            head=_words(reaches[0], missing.startswith("head"), self.room),
            nut=_words(reaches[-1], missing.startswith("nut"), self.room)
            if is_nut_open
            else (say("way.captive") if nut_end.kind is Seat.CAPTIVE else say("way.insert")),
            reach_mm=max(ways, default=0.0),
            is_reachable=not missing,
        )
        is_shut = missing in ("head", "nut") and not all(math.isfinite(reach.way_mm) for reach in reaches)
        return Verdict(access=access, missing=missing, in_the_way=in_the_way, is_shut=is_shut)

    def _held(
        self, end: End, which: int, role: str, stack: Stack | None, standing: PartSet, floor: Floor | None
    ) -> Reach:
        """Way of a hand to an end, or to the tool on its axis where the end lies in a bore too narrow for fingers."""
        found = self.reach(end, standing, floor)
        if found.is_reached or stack is None:
            return found
        point = self.tools.held_beyond_bore(end, which, role, stack, standing)
        if point is None:
            return found
        held = self._reach_to(point, standing, floor)
        return replace(held, is_by_tool=True) if held.is_reached else found

    def reach(self, end: End, standing: PartSet, floor: Floor | None) -> Reach:
        """Way of a hand from outside to an end."""
        return self._reach_to(end.point(BEYOND_MM), standing, floor)

    def _reach_to(self, point: Vector, standing: PartSet, floor: Floor | None) -> Reach:
        key = (point, standing & self.room.near(point), floor)
        if key not in self._reaches:
            self._reaches[key] = self._reach(point, standing, floor)
        return self._reaches[key]

    def _reach(self, point: Vector, standing: PartSet, floor: Floor | None) -> Reach:
        limit = self.scene.settings.crew.reach_mm
        way = self.room.way(point, standing, floor, is_pair=False)
        # Where the forearm comes in but not far enough, a flat hand gains nothing worth its time.
        is_flat = not math.isfinite(way.mm)
        if is_flat:
            way = self.room.flat_way(point, standing, floor)
        is_near = way.mm <= limit
        is_reached = is_near and way.is_wide
        return Reach(
            is_reached=is_reached, way_mm=way.mm, is_flat=is_flat and is_near, is_tight=is_near and not way.is_wide
        )

    def _passes_two(self, ends: tuple[End, ...], standing: PartSet, floor: Floor | None) -> bool:
        """Whether one of two ends inside is reached through openings wide enough for two arms."""
        limit = self.scene.settings.crew.reach_mm
        ways = (self.room.way(end.point(BEYOND_MM), standing, floor, is_pair=True) for end in ends)
        return any(way.mm <= limit and way.is_wide for way in ways)


def _words(reach: Reach, is_tool_missing: bool, room: HandRoom) -> Said:
    if reach.is_tight:
        return say("way.too_tight", way_mm=reach.way_mm, forearm_mm=room.forearm_mm, upper_arm_mm=room.upper_arm_mm)
    if not reach.is_reached:
        return (
            say("way.too_far", way_mm=reach.way_mm, reach_mm=room.scene.settings.crew.reach_mm)
            if math.isfinite(reach.way_mm)
            else say("way.no_opening")
        )
    if is_tool_missing:
        return say("way.no_room")
    if reach.way_mm == 0.0:
        way = say("way.outside")
    else:
        way = say("way.flat_hand" if reach.is_flat else "way.inside", way_mm=reach.way_mm)
    return say("way.by_tool", way=way) if reach.is_by_tool else way
