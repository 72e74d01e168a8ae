"""Into which sections is a figure divided for its way? Parts, joints, settings in; a `Division` and joints out.

The joints between sections come back as site joints: from there on planning builds each section in the shop, fits
neighbours dry, and joins them on site, with the proofs that every step has.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembler.cache import Answers
from assembler.figure.division import Division, SectionWay
from assembler.figure.findings import Finding, Level
from assembler.figure.hardware import Stack
from assembler.figure.ids import JointId, PartId
from assembler.figure.joints import Joint, Place
from assembler.figure.mesh import Mesh
from assembler.figure.parts import Part
from assembler.figure.settings import Settings
from assembler.geometry.sweeps import frame_of
from assembler.planning.access import Hands
from assembler.planning.boltends import with_seats
from assembler.planning.scene import PartSet, Scene, members, scene_of
from assembler.planning.sectioncuts import blocked_joints, out_of_reach, remedy_for, units_of
from assembler.planning.sectionfit import Fit
from assembler.planning.sectionsets import fewest, grown_sets, slabs
from assembler.words import Said, say

SECTION, BLOCKED = 10_000, 10_000_000
"""What a section costs beside one bolt that is closed on site, and a joint that first has to be changed."""

ROUNDS = 25
"""How often sections are chosen anew after bolts between two of them were out of reach."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Divided:
    """Joints with their places, the division behind them (None: none was asked for or found), and findings."""

    joints: tuple[Joint, ...]
    division: Division | None = None
    findings: tuple[Finding, ...] = ()


def divided(
    *,
    parts: Sequence[Part],
    meshes: Mapping[PartId, Mesh],
    joints: Sequence[Joint],
    stacks: Sequence[Stack],
    settings: Settings,
    answers: Answers | None = None,
    progress: Callable[[str], None] | None = None,
) -> Divided:
    """The fewest sections that pass the way which figure.toml states, or those that it names.

    Parameters
    ----------
    parts, meshes, joints, stacks, settings, answers
        As for `plan_build`.
    progress
        Takes a line of text.
    """
    if not settings.has_way:
        return Divided(joints=tuple(joints))
    if progress is not None:
        progress("dividing the figure into sections for its way to the site")
    scene = scene_of(parts, meshes, with_seats(joints, meshes), stacks, (), settings)
    asked = _Asked(scene, Hands(scene, answers=answers))
    if settings.own_sections:
        return asked.stated(tuple(joints))
    return asked.found(tuple(joints))


class _Asked:
    def __init__(self, scene: Scene, hands: Hands) -> None:
        self.scene, self.hands = scene, hands
        self.fit = Fit(scene)
        self.blocked = blocked_joints(scene)
        self.is_complete = True

    def stated(self, joints: tuple[Joint, ...]) -> Divided:
        """The sections that the shop names, held against everything."""
        scene = self.scene
        own = scene.settings.own_sections
        sets = [scene.set_of(one.parts) for one in own]
        findings = []
        for rule, chosen in zip(own, sets, strict=True):
            if not scene.is_connected(chosen):
                findings.append(_finding("section-apart", scene.names(chosen), name=rule.name))
            failing = self.fit.failing(chosen)
            if failing:
                size = _size(self.fit.least_box_mm(chosen))
                found = _finding("section-stuck", scene.names(chosen), name=rule.name, places=failing, size=size)
                findings.append(found)
        cuts = self._cuts(sets)
        for joint in cuts:
            reason = self.blocked.get(joint.id) or self._unreached(joint, sets)
            if reason is not None:
                findings.append(_finding("section-cut", (joint.id,), reason=reason, help=remedy_for(reason, joint.id)))
        names = {chosen: rule.name for rule, chosen in zip(own, sets, strict=True)}
        if any(finding.code == "section-stuck" for finding in findings):
            return Divided(joints=_on_site(joints, cuts), findings=tuple(findings))
        division = self._division(sets, cuts, names=names)
        return Divided(joints=_on_site(joints, cuts), division=division, findings=tuple(findings))

    def found(self, joints: tuple[Joint, ...]) -> Divided:
        """The fewest sections; a finding with what would have to change where there are none."""
        scene = self.scene
        small = [number for number in range(len(scene.parts)) if not self.fit.fits(1 << number)]
        if small:
            return Divided(joints=joints, findings=tuple(self._too_large(number) for number in small))
        sets = self._chosen()
        if sets is None:
            return Divided(joints=joints, findings=self._impossible())
        cuts = self._cuts(sets)
        return Divided(joints=_on_site(joints, cuts), division=self._division(sets, cuts))

    def _too_large(self, number: int) -> Finding:
        one = 1 << number
        size = _size(self.fit.least_box_mm(one))
        part = self.scene.parts[number].id
        return _finding("part-stuck", (part,), part=part, size=size, places=self.fit.failing(one))

    def _chosen(self) -> list[PartSet] | None:
        """Sections whose joints can all be closed past both neighbours; joints that never can are no cuts any more."""
        blocked = dict(self.blocked)
        for _ in range(len(self.scene.joints) + 1):
            units = units_of(self.scene, blocked)
            found, fault = self._reachable(units)
            if fault is None:
                self.blocked = blocked
                return found
            blocked[fault[0]] = fault[1]
        return None

    def _reachable(self, units: Sequence[PartSet]) -> tuple[list[PartSet] | None, tuple[JointId, Said] | None]:
        """Sections made of units; or the joint that could not be closed in any choice."""
        sets = self._pool(units)
        pool = [_parts_of(one, units) for one in sets]
        cost = [SECTION + self._bolts_round(one) for one in pool]
        apart: list[tuple[int, int]] = []
        fault: tuple[JointId, Said] | None = None
        for _ in range(ROUNDS):
            best = fewest(sets, len(units), cost, apart)
            if best is None:
                return None, fault
            chosen = [_parts_of(one, units) for one in best]
            bad = self._first_unreached(chosen)
            if bad is None:
                return chosen, None
            joint, first, second, reason = bad
            fault = (joint.id, reason)
            alone = out_of_reach(self.scene, self.hands, joint, self.scene.set_of(joint.parts))
            if alone is not None:
                # Past the two parts alone: past any two sections as well.
                return None, (joint.id, alone)
            apart += _together(pool, self.scene.set_of(joint.parts), first | second)
        return None, fault

    def _pool(self, units: Sequence[PartSet]) -> list[int]:
        joined = self._joined(units)

        def fits(chosen: int) -> bool:
            return self.fit.fits(_parts_of(chosen, units))

        sets, self.is_complete = grown_sets(joined, fits)
        if self.is_complete:
            return sets
        centres = np.array([self.scene.centre_mm(unit) for unit in units])
        axes = np.linalg.svd(centres - centres.mean(axis=0), full_matrices=False)[2]
        wider = slabs(joined, fits, centres, [*frame_of(self.scene.up), *axes])
        return list(dict.fromkeys([*sets, *wider]))

    def _joined(self, units: Sequence[PartSet]) -> list[int]:
        """For each unit those with which it may travel: joined by a shop joint."""
        joined = [0] * len(units)
        for joint, (a, b) in zip(self.scene.joints, self.scene.pairs, strict=True):
            if joint.made is Place.SITE:
                continue
            first, second = (next(k for k, unit in enumerate(units) if unit >> part & 1) for part in (a, b))
            if first != second:
                joined[first] |= 1 << second
                joined[second] |= 1 << first
        return joined

    def _bolts_round(self, chosen: PartSet) -> int:
        rest = self.scene.everything & ~chosen
        return sum(len(self.scene.joints[number].bolts) for number in self.scene.joints_between(chosen, rest))

    def _first_unreached(self, sets: Sequence[PartSet]) -> tuple[Joint, PartSet, PartSet, Said] | None:
        for joint in self._cuts(sets):
            if joint.made is Place.SITE:
                # The shop closes it there already, whatever is said of sections.
                continue
            reason = self._unreached(joint, sets)
            if reason is not None:
                first, second = self._sides(joint, sets)
                return joint, first, second, reason
        return None

    def _unreached(self, joint: Joint, sets: Sequence[PartSet]) -> Said | None:
        first, second = self._sides(joint, sets)
        return out_of_reach(self.scene, self.hands, joint, first | second)

    def _sides(self, joint: Joint, sets: Sequence[PartSet]) -> tuple[PartSet, PartSet]:
        a, b = (self.scene.set_of((part,)) for part in joint.parts)
        return next(one for one in sets if one & a), next(one for one in sets if one & b)

    def _cuts(self, sets: Sequence[PartSet]) -> tuple[Joint, ...]:
        pairs = zip(self.scene.joints, self.scene.pairs, strict=True)
        return tuple(joint for joint, (a, b) in pairs if not any(one >> a & 1 and one >> b & 1 for one in sets))

    def _division(
        self, sets: Sequence[PartSet], cuts: Sequence[Joint], names: Mapping[PartSet, str] | None = None
    ) -> Division:
        scene = self.scene
        ordered = sorted(sets, key=lambda one: (round(scene.lowest_mm(one, scene.up)), -scene.mass_kg(one), one))
        ways = tuple(
            SectionWay(
                parts=scene.names(one),
                name=(names or {}).get(one, ""),
                mass_kg=scene.mass_kg(one),
                passings=self.fit.passings(one),
            )
            for one in ordered
        )
        least = (
            len(ways) if names or self.is_complete else math.ceil(scene.mass_kg(scene.everything) / self.fit.limit_kg)
        )
        return Division(
            sections=ways,
            cuts=tuple(joint.id for joint in cuts),
            weighed=self.fit.weighed,
            least=max(1, least),
            is_stated=bool(names),
            blocked=tuple(self.blocked.items()),
        )

    def _impossible(self) -> tuple[Finding, ...]:
        """What is too large although no site joint parts it, and the joints that would have to change."""
        scene = self.scene
        units = [1 << number for number in range(len(scene.parts))]
        sets = self._pool(units)
        forbidden = {number for number, joint in enumerate(scene.joints) if joint.id in self.blocked}
        cost = [
            SECTION
            + BLOCKED * sum(number in forbidden for number in scene.joints_between(one, scene.everything & ~one))
            for one in sets
        ]
        best = fewest(sets, len(units), cost)
        if best is None:
            raise AssertionError("every part passes alone: they make the whole")
        changed = [joint for joint in self._cuts(best) if joint.id in self.blocked]
        found = []
        for joint in changed:
            piece = next(one for one in units_of(scene, self.blocked) if one & scene.set_of(joint.parts))
            reason = self.blocked[joint.id]
            found.append(
                _finding(
                    "no-sections",
                    (joint.id, *joint.parts),
                    parts=scene.names(piece),
                    places=self.fit.failing(piece) or self.fit.failing(scene.everything),
                    joint=joint.id,
                    reason=reason,
                    help=remedy_for(reason, joint.id),
                )
            )
        return tuple(found)


def _finding(code: str, about: Sequence[str], **values: object) -> Finding:
    """A stop of the way: message and remedy share their values."""
    help_ = values.pop("help", None)
    remedy = help_ if isinstance(help_, Said) else say(f"remedy.{code}")
    return Finding(
        level=Level.STOP,
        code=code,
        about=tuple(about),
        message=say(f"finding.{code}", **values),  # type: ignore[arg-type]
        remedy=remedy,
    )


def _size(size_mm: tuple[float, float, float]) -> str:
    return " x ".join(f"{edge:.0f}" for edge in size_mm)


def _parts_of(chosen: int, units: Sequence[PartSet]) -> PartSet:
    return sum(units[unit] for unit in members(chosen))


def _together(pool: Sequence[PartSet], pair: PartSet, shut: PartSet) -> list[tuple[int, int]]:
    """Pairs of sets that meet at a joint and together have all that shuts it."""
    first, second = (1 << number for number in members(pair))
    ones = [k for k, one in enumerate(pool) if one & first and not one & second]
    others = [k for k, one in enumerate(pool) if one & second and not one & first]
    return [(a, b) for a in ones for b in others if not pool[a] & pool[b] and (pool[a] | pool[b]) & shut == shut]


def _on_site(joints: tuple[Joint, ...], cuts: Sequence[Joint]) -> tuple[Joint, ...]:
    names = {joint.id for joint in cuts}
    return tuple(replace(joint, made=Place.SITE) if joint.id in names else joint for joint in joints)
