"""Is everything carried, and nothing loaded too early? plan.json in, refutations out; no meshes and no planner needed.

The rules are applied from the record alone, by boxes, masses, centres and normals. At every moment everything stands
on the ground, a bench, a bed, stands, or is lifted by somebody. What is lifted loads the joints inside it; what is set
down on something loads the joints under it; what hangs loads what it hangs on.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from assembler.figure.findings import Finding, Level

Record = Mapping[str, Any]

_ROUNDING_MIN = 0.11
"""Minutes in plan.json are rounded to a tenth."""

_FEET_MM = 4.0
"""Lower ends that differ by less stand on one ground: 3 mm, and the rounding."""

_BED_MM = 250.0
"""A piece on a bench of its own may lie in a bed as high as this (common practice, no source)."""

_PERSON_KG = 25.0
"""No rule lets one person lift more: 23 kg is the constant of the lifting equation, 25 kg that of ISO 11228-1."""

_LEVEL, _STEEP = 0.7, 0.45
"""Cosines: a face nearer to level than 45 degrees surely carries what is on it; one steeper than 63 surely does not."""

_G = 9.80665


def refuted(code: str, about: tuple[str, ...], message: str) -> Finding:
    """A finding that stops: the plan says something that its own numbers deny."""
    return Finding(
        level=Level.STOP,
        code=code,
        about=about,
        message=message,
        remedy="the plan is wrong here: report it with the project folder",
    )


def number_of(step: Record) -> str:
    """The step in words."""
    return f"step {step['number']}"


def cured_min(calendar: Record, place: str, since: float, until: float) -> float:
    """Minutes of the data sheet that pass between two moments at a place: hours of work and the rest, one by one."""
    shares = next(row for row in calendar["cure"] if row["place"] == place)
    worked = math.fsum(max(0.0, min(until, closes) - max(since, opens)) for opens, closes in calendar["hours"])
    return float(shares["day_share"] * worked + shares["night_share"] * (until - since - worked))


def carried(plan: Record) -> list[Finding]:
    """Everything that floats, falls, is lifted by nobody or loads a joint too early."""
    ground = Ground(plan)
    return [finding for step in plan["steps"] for finding in ground.refutations(step)]


class Ground:
    """A plan with boxes, masses and joints at hand.

    Parameters
    ----------
    plan
        Content of plan.json.
    """

    def __init__(self, plan: Record) -> None:
        self.plan = plan
        self.parts = {part["id"]: part for part in plan["parts"]}
        self.joints = {joint["id"]: joint for joint in plan["joints"]}
        self.up = plan["figure"].get("up", [0.0, 0.0, 1.0])
        self.calendar: Record | None = plan.get("calendar")
        self.base: Record | None = plan["figure"].get("base")
        self.set_in = next((place for place, step in enumerate(plan["steps"]) if self._sets_base(step)), None)
        self.closed_in: dict[str, Record] = {}
        for step in plan["steps"]:
            if step["kind"] in ("join", "base"):
                self.closed_in |= {glue["joint"]: step for glue in step["adhesive"]}

    def refutations(self, step: Record) -> Iterator[Finding]:
        """What the record itself denies of one step."""
        if step["kind"] == "base" and not step["moves"]:
            yield from self._grounding(step)
        elif step["kind"] in ("join", "base", "turn", "dry fit"):
            yield from self._lift(step)
        if step["moves"] and step["onto"] and step["kind"] in ("join", "base", "dry fit"):
            yield from self._unset(step)
            yield from self._floats(step)
            yield from self._stands(step)
            yield from self._falls(step)
        if step["kind"] in ("join", "base"):
            yield from self._hangs(step)
        yield from self._too_early(step)

    def low_mm(self, chosen: Collection[str], up: list[float]) -> float:
        """Height of the lowest point of some parts by their boxes; exact where up is an axis."""
        lows: list[float] = [
            sum(min(way * low, way * high) for way, low, high in zip(up, mark["low_mm"], mark["high_mm"], strict=True))
            for mark in (self.parts[part]["fingerprint"] for part in chosen)
        ]
        return min(lows)

    def _mass_kg(self, chosen: Collection[str]) -> float:
        return math.fsum(self.parts[part]["mass_kg"] for part in chosen)

    def _sets_base(self, step: Record) -> bool:
        """Whether a step sets a base without a mesh under what stands, or what is fixed to it at its place."""
        is_still = step["kind"] == "base" and not step["moves"]
        return self.base is not None and is_still and step.get("carried_by") == "base"

    def _is_on_base(self, step: Record) -> bool:
        """Whether what stands in a step stands on a base without a mesh, as it was set earlier."""
        place = self.plan["steps"].index(step)
        is_set = self.set_in is not None and self.set_in <= place
        return is_set and step["bench"] == "B1" and step.get("carried_by") == "base"

    def _has_set(self, step: Record) -> bool:
        """Whether a step before this one set down the base with a mesh that is in what stands."""
        earlier = self.plan["steps"][: self.plan["steps"].index(step)]
        return any(
            one["kind"] == "base" and not one["moves"] and set(one["onto"]) <= set(step["onto"]) for one in earlier
        )

    def _grounding(self, step: Record) -> Iterator[Finding]:
        """A base without a mesh is lifted too; what leaves the ground is the heavier of the two."""
        lift = step["lift"]
        if not self._sets_base(step) or not lift or lift.get("parts"):
            yield from self._lift(step)
            return
        assert self.base is not None
        mass, own = self.base["mass_kg"], self._mass_kg(step["onto"])
        if abs(mass - lift["mass_kg"]) > 0.0011 or own > mass + 0.0006 * (len(step["onto"]) + 1):
            yield refuted(
                "lift-refuted",
                (number_of(step),),
                f"{number_of(step)}: {lift['mass_kg']} kg to lift; the base weighs {mass:.3f} kg, what stands on it "
                f"{own:.3f} kg",
            )
        yield from self._carriers(step, mass)

    def _unset(self, step: Record) -> Iterator[Finding]:
        """Nothing stands on a base that no step has set down."""
        is_set = self._is_on_base(step) if self.base is not None else self._has_set(step)
        if step.get("carried_by") == "base" and not is_set:
            yield refuted(
                "floats-refuted",
                (number_of(step), *step["onto"]),
                f"{number_of(step)}: what stands is said to stand on the base, and no step before it sets that down",
            )

    def _lift(self, step: Record) -> Iterator[Finding]:
        lift = step["lift"]
        if not lift or not lift.get("parts"):
            # A book of before lifts were told apart.
            return
        lifted = set(lift["parts"])
        is_raised = lift["by"] == "stands" or self._hangs_over(step)
        expected = set(step["onto"]) if is_raised or not step["moves"] else set(step["moves"])
        if lifted != expected:
            yield refuted(
                "lift-refuted",
                (number_of(step),),
                f"{number_of(step)} lifts {', '.join(sorted(lifted))}; what leaves the ground is "
                f"{', '.join(sorted(expected))}",
            )
        mass = self._mass_kg(lifted) + self._base_along_kg(step)
        # Each mass is rounded to a gram.
        if abs(mass - lift["mass_kg"]) > 0.0006 * (len(lifted) + 1):
            yield refuted(
                "lift-refuted",
                (number_of(step),),
                f"{number_of(step)}: {lift['mass_kg']} kg to lift, not {mass:.3f} kg",
            )
        yield from self._carriers(step, mass)
        place = self.low_mm(lifted, step["up"]) - self.low_mm({*step["moves"], *step["onto"]}, step["up"])
        if self._is_axis(step["up"]) and lift["height_mm"] < place - _FEET_MM:
            yield refuted(
                "lift-refuted",
                (number_of(step),),
                f"{number_of(step)} lifts by {lift['height_mm']:.0f} mm what ends {place:.0f} mm above the ground",
            )

    def _base_along_kg(self, step: Record) -> float:
        """Mass of a base without a mesh that goes along with what was fixed to it before."""
        place = self.plan["steps"].index(step)
        is_fixed = self.base is not None and self.set_in is not None and self.set_in < place
        return float(self.base["mass_kg"]) if self.base is not None and is_fixed and self._sets_base(step) else 0.0

    def _carriers(self, step: Record, mass: float) -> Iterator[Finding]:
        """Enough people, or a hoist."""
        lift = step["lift"]
        is_own = "the shop's own limit" in lift.get("rule", "")
        if (lift["by"] == "hands") != (lift["people"] > 0) and lift["by"] != "stands":
            yield refuted(
                "lift-refuted", (number_of(step),), f"{number_of(step)}: no people, no hoist, yet it is lifted"
            )
        if lift["people"] and mass / lift["people"] > _PERSON_KG and not is_own:
            yield refuted(
                "lift-refuted",
                (number_of(step),),
                f"{number_of(step)}: {mass:.1f} kg by {lift['people']}: more than {_PERSON_KG:g} kg each",
            )

    def _floats(self, step: Record) -> Iterator[Finding]:
        """What stands keeps its place only where nothing that arrives reaches below it."""
        if not self._is_axis(step["up"]) or "carried_by" not in step:
            return
        ground = self.low_mm({*step["moves"], *step["onto"]}, step["up"])
        rise = self.low_mm(step["onto"], step["up"]) - ground
        below = ground - self.low_mm(step["moves"], step["up"]) - self._deepest_mm(step)
        if max(rise, below) <= _FEET_MM:
            return
        lift, by = step["lift"] or {}, step["carried_by"]
        is_up = self._hangs_over(step) or (by == "stands" and lift.get("by") == "stands")
        is_lifted = is_up and lift["height_mm"] >= max(rise, below) - _FEET_MM
        is_bedded = by == "bed" and step["bench"] != "B1" and rise <= _BED_MM + _FEET_MM
        if below > max(rise, 0.0) + _FEET_MM and not is_lifted:
            yield refuted(
                "floats-refuted",
                (number_of(step), *step["moves"]),
                f"{number_of(step)}: {', '.join(step['moves'])} come in from {below:.0f} mm below the ground, and what "
                "stands there is not lifted as high",
            )
        elif not is_lifted and not is_bedded:
            yield refuted(
                "floats-refuted",
                (number_of(step), *step["onto"]),
                f"{number_of(step)}: {', '.join(step['moves'])} reach {rise:.0f} mm below what stands, "
                f"{self._mass_kg(step['onto']):.1f} kg, and nothing that is named holds it up",
            )

    def _hangs_over(self, step: Record) -> bool:
        """Whether a hoist holds up what stands while something goes in under it."""
        lift = step["lift"] or {}
        return step.get("carried_by") == lift.get("by") == "hoist" and set(lift["parts"]) == set(step["onto"])

    def _deepest_mm(self, step: Record) -> float:
        """Lowest place of what arrives on its way, against its own place; 0 or less."""
        legs = step.get("path") or [{"direction": step["direction"] or step["up"], "travel_mm": step["travel_mm"]}]
        place = deepest = 0.0
        for leg in reversed(legs):
            place -= leg["travel_mm"] * sum(a * b for a, b in zip(leg["direction"], step["up"], strict=True))
            deepest = min(deepest, place)
        return deepest

    def _stands(self, step: Record) -> Iterator[Finding]:
        """Stands reach from the ground to the underside of what is on them, and its centre of mass is between them."""
        if step.get("carried_by") != "stands" or not self._is_axis(step["up"]):
            return
        lift, stands, up = step["lift"], step.get("stands", []), step["up"]
        low = self.low_mm(lift["parts"], up)
        marks = [self.parts[part]["fingerprint"] for part in lift["parts"]]
        level = [axis for axis in range(3) if abs(up[axis]) < 0.5]
        wrong = [
            place
            for place, stand in enumerate(stands, 1)
            if abs(sum(a * b for a, b in zip(stand["at_mm"], up, strict=True)) - low) > _FEET_MM
            or abs(stand["height_mm"] - lift["height_mm"]) > _FEET_MM
            or not any(
                all(m["low_mm"][axis] - 1.0 <= stand["at_mm"][axis] <= m["high_mm"][axis] + 1.0 for axis in level)
                for m in marks
            )
        ]
        if wrong:
            words = ", ".join(map(str, wrong))
            yield refuted(
                "stands-refuted",
                (number_of(step),),
                f"{number_of(step)}: stand {words} does not reach from the ground to what it is to carry",
            )
        if self._falls_off(lift["parts"], [stand["at_mm"] for stand in stands], level):
            yield refuted(
                "stands-refuted",
                (number_of(step),),
                f"{number_of(step)}: what is lifted falls off its {len(stands)} stands: its centre of mass is not "
                "between them",
            )

    def _falls_off(self, lifted: Collection[str], places: list[list[float]], level: list[int]) -> bool:
        """Whether some side of a centre of mass has no support in half a circle."""
        mass = self._mass_kg(lifted)
        bearings = []
        for place in places:
            x, y = (
                place[axis]
                - math.fsum(self.parts[p]["mass_kg"] * self.parts[p]["centre_mm"][axis] for p in lifted) / mass
                for axis in level
            )
            bearings.append(math.atan2(y, x))
        bearings.sort()
        around = [*bearings, *(first + math.tau for first in bearings[:1])]
        return len(places) < 3 or max(after - before for before, after in itertools.pairwise(around)) > math.pi

    def _falls(self, step: Record) -> Iterator[Finding]:
        """A centre of mass outside everything that touches the ground falls, whatever the plan says."""
        stability = step["stability"]
        if not stability or step["bench"] != "B1" or not self._is_axis(step["up"]):
            return
        there = {*step["moves"], *step["onto"]}
        base = self.base if self._is_on_base(step) else None
        outside = self._outside_mm(there, step["up"], base)
        falls = stability["tip_deg"] < 0.0
        if outside > 1.0 and not falls:
            yield refuted(
                "falls-refuted",
                (number_of(step),),
                f"{number_of(step)}: the centre of mass lies {outside:.0f} mm beside everything on the ground",
            )
        if falls and "moment_nm" in stability:
            mass = self._mass_kg(there) + (base["mass_kg"] if base and min(base["size_mm"][:2]) else 0.0)
            yield from self._fall_said(step, stability, mass)

    def _fall_said(self, step: Record, stability: Record, mass_kg: float) -> Iterator[Finding]:
        name = number_of(step)
        is_said = any(
            finding["code"] == "falls" and finding["level"] == "stop" and name in finding["about"]
            for finding in self.plan["findings"]
        )
        if not is_said or not stability["needs_prop"]:
            yield refuted("falls-refuted", (name,), f"{name}: what stands falls, and no stop or no prop says so")
        moment = mass_kg * _G * stability["overhang_mm"] / 1000.0
        # Half of the last digit of the overhang, 0.1 mm.
        if abs(moment - stability["moment_nm"]) > 0.001 + mass_kg * _G * 0.00006:
            yield refuted(
                "falls-refuted", (name,), f"{name}: it falls with {moment:.2f} N m, not {stability['moment_nm']}"
            )

    def _outside_mm(self, there: set[str], up: list[float], base: Record | None) -> float:
        """How far the centre of mass lies outside the box around all boxes that touch the ground, or the base."""
        low = self.low_mm(there, up)
        feet = [self.parts[part]["fingerprint"] for part in there if self.low_mm({part}, up) <= low + _FEET_MM]
        mass = self._mass_kg(there)
        if mass <= 0.0:
            # Less than the record's last digit: nothing that could fall on somebody.
            return 0.0
        outside = 0.0
        for axis in (axis for axis in range(3) if abs(up[axis]) < 0.5):
            centre = math.fsum(self.parts[p]["mass_kg"] * self.parts[p]["centre_mm"][axis] for p in there) / mass
            least, most = min(f["low_mm"][axis] for f in feet), max(f["high_mm"][axis] for f in feet)
            if base and min(base["size_mm"][:2]):
                middle, half = base["top_mm"][axis], max(base["size_mm"][:2]) / 2.0
                centre = (centre * mass + middle * base["mass_kg"]) / (mass + base["mass_kg"])
                least, most = middle - half, middle + half
            outside = max(outside, least - centre, centre - most)
        return outside

    def _hangs(self, step: Record) -> Iterator[Finding]:
        """What hangs on fresh glue alone is held by somebody until it cures."""
        stability = step["stability"]
        glued = [self.joints[glue["joint"]] for glue in step["adhesive"]]
        if not stability or stability["needs_prop"] or not glued or step["bench"] != "B1":
            return
        if len(glued) != len(step["joints"]) or any(joint["bolt"] for joint in glued) or len(glued) > 1:
            return
        ends_low = self.low_mm(step["moves"], step["up"]) <= self.low_mm(step["onto"], step["up"]) + _FEET_MM
        rise = sum(a * b for a, b in zip(glued[0]["normal"], step["up"], strict=True))
        lower = glued[0]["parts"][0] if rise > 0 else glued[0]["parts"][1]
        if self._is_axis(step["up"]) and not ends_low and (abs(rise) < _STEEP or lower in step["moves"]):
            yield refuted(
                "prop-refuted",
                (number_of(step), glued[0]["id"]),
                f"{number_of(step)}: what arrives hangs on the wet glue of {glued[0]['id']}, and nobody holds it",
            )

    def _too_early(self, step: Record) -> Iterator[Finding]:
        """No fresh bond is loaded or lifted before its time, whatever the gates say; and the gates have to say it."""
        gated = {row["joint"] for row in (*step["gates"], *step.get("on_bolts", ()))}
        excused = set() if step["kind"] == "turn" else {row["joint"] for row in step.get("on_bolts", ())}
        for name in sorted(self.loaded(step)):
            closing = self.closed_in.get(name)
            if closing is None or closing["number"] == step["number"]:
                continue
            if closing["start_minutes"] > step["start_minutes"]:
                continue
            free = self._free_min(closing, name, step["start_minutes"])
            if free > step["start_minutes"] + _ROUNDING_MIN and name not in excused:
                yield refuted(
                    "hold-refuted",
                    (number_of(step), name),
                    f"{number_of(step)} starts at minute {step['start_minutes']:.0f} and loads {name}, "
                    + (
                        "which is not cured so far by then"
                        if math.isinf(free)
                        else f"which is free at minute {free:.0f}"
                    ),
                )
            elif name not in gated and step["kind"] in ("join", "base", "turn"):
                yield refuted(
                    "hold-refuted",
                    (number_of(step), name),
                    f"{number_of(step)} loads {name}, and no gate of the step says when it may",
                )

    def _free_min(self, closing: Record, name: str, asked: float) -> float:
        """When a joint is free; by a calendar's day and night the moment asked for, if it is by then, or never."""
        cure = next(glue["handling_minutes"] for glue in closing["adhesive"] if glue["joint"] == name)
        if self.calendar is None:
            return float(closing["end_minutes"] + cure)
        cured = cured_min(self.calendar, closing["place"], closing["end_minutes"], asked)
        return asked if cured >= self.calendar["handling_minutes"] - 0.01 else math.inf

    def loaded(self, step: Record) -> set[str]:
        """Joints closed before that a step loads: inside what is lifted or turned, under or above what arrives."""
        there = {*step["moves"], *step["onto"]}
        inside = [set(step["moves"])]
        if step["kind"] == "turn" or (step["kind"] == "base" and not step["moves"] and step["lift"]):
            inside.append(there)
        if step["lift"] and "parts" in step["lift"] and step["kind"] != "turn":
            inside.append(set(step["lift"]["parts"]))
        found = {name for name, joint in self.joints.items() if any(set(joint["parts"]) <= lifted for lifted in inside)}
        if step["kind"] in ("join", "base", "dry fit"):
            found |= self._under(step, there)
        return found - set(step["joints"])

    def _under(self, step: Record, there: set[str]) -> set[str]:
        """Joints on the way of what arrives to the ground, through what is there at that moment.

        Down through level faces; what hangs puts its load on what it is joined to now. A part that hung before is not
        followed: boxes do not tell on which of its joints.
        """
        found: set[str] = set()
        edge, seen = sorted(step["moves"]), set(step["moves"])
        while edge:
            part = edge.pop()
            ways = list(self._below(part, there, step["up"]))
            found |= {name for name, _ in ways}
            following = {other for _, other in ways}
            if not ways and part in step["moves"] and _cosine(step["up"], self.up) > 0.999:
                following = {
                    other
                    for name in step["joints"]
                    for other in self.joints[name]["parts"]
                    if part in self.joints[name]["parts"] and other in step["onto"]
                }
            edge += sorted(following - seen)
            seen |= following
        return found

    def _below(self, part: str, there: set[str], up: list[float]) -> Iterator[tuple[str, str]]:
        for name, joint in self.joints.items():
            if part not in joint["parts"] or not set(joint["parts"]) <= there:
                continue
            rise = _cosine(joint["normal"], up)
            lower = joint["parts"][0] if rise > 0 else joint["parts"][1]
            if abs(rise) >= _LEVEL and lower != part:
                yield name, lower

    def _is_axis(self, up: list[float]) -> bool:
        """Whether boxes tell heights exactly."""
        return max(abs(value) for value in up) > 0.999


def _cosine(first: list[float], second: list[float]) -> float:
    return sum(a * b for a, b in zip(first, second, strict=True))
