"""Do the numbers of a plan agree with each other? plan.json in, refutations out; no meshes and no planner needed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

from assembler.figure.findings import Finding, Level

Record = Mapping[str, Any]

_ROUNDING_MIN = 0.11
"""Minutes in plan.json are rounded to a tenth."""


def recount(plan: Record) -> list[Finding]:
    """Every number of a plan that its own steps, joints and parts refute."""
    checks: tuple[Callable[[Record], list[Finding]], ...] = (
        _standing,
        _joints_once,
        _bolts_once,
        _hardware,
        _clock,
        _holds,
        _on_bolts,
        _ways_up,
        _sums,
    )
    return [finding for check in checks for finding in check(plan)]


def _refuted(code: str, about: tuple[str, ...], message: str) -> Finding:
    return Finding(
        level=Level.STOP,
        code=code,
        about=about,
        message=message,
        remedy="the plan is wrong here: report it with the project folder",
    )


def _number(step: Record) -> str:
    return f"step {step['number']}"


def _builds(plan: Record) -> list[Record]:
    """Steps in which something is joined for good."""
    return [step for step in plan["steps"] if step["kind"] in ("join", "base")]


def _standing(plan: Record) -> list[Finding]:
    """What each step says stands must be what earlier steps left on its bench; every part ends in one piece."""
    piece: dict[str, frozenset[str]] = {}
    moved: Counter[str] = Counter()
    found = []
    for step in _builds(plan):
        moves, onto = frozenset(step["moves"]), frozenset(step["onto"])
        for name, chosen in (("moves", moves), ("onto", onto)):
            whole = frozenset().union(*(piece.get(part, frozenset((part,))) for part in chosen)) if chosen else chosen
            if whole != chosen or len({piece.get(part, frozenset((part,))) for part in chosen}) > 1:
                found.append(
                    _refuted("order-refuted", (_number(step),), f"{_number(step)}: '{name}' is not one piece as built")
                )
        if moves & onto:
            found.append(_refuted("order-refuted", (_number(step),), f"{_number(step)} moves what it is joined to"))
        joined = moves | onto
        piece |= {part: joined for part in joined}
        if len(moves) == 1:
            moved.update(moves)
    found += [
        _refuted("order-refuted", (part,), f"{part} is put in place {count} times")
        for part, count in sorted(moved.items())
        if count > 1
    ]
    return found


def _joints_once(plan: Record) -> list[Finding]:
    closed = Counter(joint for step in _builds(plan) for joint in step["joints"])
    found = []
    for joint in plan["joints"]:
        if closed[joint["id"]] != 1:
            found.append(
                _refuted("joint-refuted", (joint["id"],), f"{joint['id']} is closed {closed[joint['id']]} times")
            )
    pairs = {joint["id"]: joint["parts"] for joint in plan["joints"]}
    for step in _builds(plan):
        for joint in step["joints"]:
            first, second = pairs[joint]
            sides = {(first in step["moves"], second in step["onto"]), (second in step["moves"], first in step["onto"])}
            if (True, True) not in sides:
                found.append(
                    _refuted(
                        "joint-refuted",
                        (_number(step), joint),
                        f"{_number(step)} closes {joint}, whose parts do not meet in it",
                    )
                )
    return found


def _bolts_once(plan: Record) -> list[Finding]:
    through = {bolt["id"]: set(bolt["through"]) for joint in plan["joints"] for bolt in joint["bolt"]}
    fitted = Counter(access["bolt"] for step in _builds(plan) for access in step["access"])
    found = [
        _refuted("bolt-refuted", (bolt,), f"{bolt} is tightened {fitted[bolt]} times")
        for bolt in through
        if fitted[bolt] != 1
    ]
    reported = {name for finding in plan["findings"] for name in finding["about"]}
    for step in _builds(plan):
        there = {*step["moves"], *step["onto"]}
        for access in step["access"]:
            parts = through.get(access["bolt"], set())
            if not parts <= there or not parts & set(step["moves"]) or not parts & set(step["onto"]):
                found.append(
                    _refuted(
                        "bolt-refuted",
                        (_number(step), access["bolt"]),
                        f"{_number(step)} tightens {access['bolt']}, whose last part does not arrive in it",
                    )
                )
            if not access["ok"] and access["bolt"] not in reported:
                found.append(
                    _refuted(
                        "bolt-refuted", (access["bolt"],), f"{access['bolt']} is out of reach, and no finding says so"
                    )
                )
    return found


def _hardware(plan: Record) -> list[Finding]:
    found = []
    for step in _builds(plan):
        screws = Counter[str]()
        for line in step["hardware"]:
            if line["kind"] == "screw":
                screws[line["joint"]] += line["count"]
        stacks = Counter(stack["joint"] for stack in step["stacks"])
        if screws != stacks:
            found.append(
                _refuted(
                    "hardware-refuted",
                    (_number(step),),
                    f"{_number(step)}: {screws.total()} screws listed, {stacks.total()} axes to fill",
                )
            )
        bolts = {access["bolt"] for access in step["access"]}
        if {stack["bolt"] for stack in step["stacks"]} - bolts:
            found.append(
                _refuted("hardware-refuted", (_number(step),), f"{_number(step)}: hardware for bolts it does not close")
            )
    return found


def _clock(plan: Record) -> list[Finding]:
    """Steps come after what they name, and one crew works on one step at a time."""
    by_number = {step["number"]: step for step in plan["steps"]}
    found = []
    for step in plan["steps"]:
        for number in step["after"]:
            if by_number[number]["end_minutes"] > step["start_minutes"] + _ROUNDING_MIN:
                found.append(
                    _refuted("order-refuted", (_number(step),), f"{_number(step)} starts before step {number} ends")
                )
    ordered = sorted(plan["steps"], key=lambda step: (step["start_minutes"], step["end_minutes"]))
    for earlier, later in zip(ordered, ordered[1:], strict=False):
        if later["start_minutes"] < earlier["end_minutes"] - _ROUNDING_MIN:
            found.append(
                _refuted(
                    "order-refuted",
                    (_number(later),),
                    f"{_number(later)} starts while the crew is still at {_number(earlier)}",
                )
            )
    return found


def _holds(plan: Record) -> list[Finding]:
    """No fresh bond may be loaded or lifted before its time, whatever the gates say."""
    joints = {joint["id"]: joint for joint in plan["joints"]}
    free_at: dict[str, tuple[float, str]] = {}
    for step in _builds(plan):
        for glue in step["adhesive"]:
            free_at[glue["joint"]] = (step["end_minutes"] + glue["handling_minutes"], step["number"])
    found = []
    for step in plan["steps"]:
        there = {*step["moves"], *step["onto"]}
        moves = set(step["moves"])
        below = _standing_on(plan, step)
        for name, (minute, closer) in free_at.items():
            is_late = minute <= step["start_minutes"] + _ROUNDING_MIN
            if is_late or closer == step["number"] or not set(joints[name]["parts"]) <= there:
                continue
            if by_start(plan, closer) > step["start_minutes"]:
                continue
            if step["kind"] != "turn" and name in {row["joint"] for row in step.get("on_bolts", ())}:
                continue
            if step["kind"] == "turn" or set(joints[name]["parts"]) <= moves or _carries(below, name, step):
                found.append(
                    _refuted(
                        "hold-refuted",
                        (_number(step), name),
                        f"{_number(step)} starts at minute {step['start_minutes']:.0f} and loads {name}, "
                        f"which is free at minute {minute:.0f}",
                    )
                )
    return found


def _on_bolts(plan: Record) -> list[Finding]:
    """Bolts that a plan says carry a fresh joint alone must at least hold its load by friction, shared equally.

    Friction 0.1 (wet with adhesive), half the preload T / (0.2 d) left, safety 2 (common practice, no source). The load
    is what moves: a lower bound, so that this refutes and never excuses.
    """
    mass = {part["id"]: part["mass_kg"] for part in plan["parts"]}
    joints = {joint["id"]: joint for joint in plan["joints"]}
    stacks: dict[str, list[Record]] = {}
    for step in _builds(plan):
        for stack in step["stacks"]:
            stacks.setdefault(stack["joint"], []).append(stack)
    found = []
    for step in _builds(plan):
        for row in step.get("on_bolts", ()):
            friction_n = math.fsum(
                0.1 * 0.5 * 1000.0 * stack["torque_nm"] / (0.2 * float(stack["size"].removeprefix("M")))
                for stack in stacks.get(row["joint"], ())
            )
            normal = joints[row["joint"]]["normal"]
            rise = abs(sum(a * b for a, b in zip(normal, step["up"], strict=True)))
            along_n = 9.80665 * math.fsum(mass[part] for part in step["moves"]) * math.sqrt(max(0.0, 1.0 - rise**2))
            safeties = [row[name] for name in ("slip_safety", "gap_safety") if row[name] is not None]
            if friction_n < 2.0 * along_n or not stacks.get(row["joint"]) or min(safeties, default=2.0) < 2.0:
                found.append(
                    _refuted(
                        "hold-refuted",
                        (_number(step), row["joint"]),
                        f"{_number(step)} works on the bolts of {row['joint']}, which hold {friction_n:.0f} N by "
                        f"friction against {along_n:.0f} N: twice that is asked",
                    )
                )
    return found


def _ways_up(plan: Record) -> list[Finding]:
    """What is up on a bench changes only in a turn, and a piece arrives the way up that its bench left it."""
    lies: dict[str, list[float]] = {}
    piece: dict[frozenset[str], tuple[str, list[float]]] = {}
    found = []
    for step in plan["steps"]:
        if step["kind"] not in ("join", "base", "turn"):
            continue
        there = frozenset((*step["moves"], *step["onto"]))
        was = lies.get(step["bench"], step["up"])
        if step["kind"] != "turn" and not _is_same_way(was, step["up"]):
            found.append(
                _refuted("turn-refuted", (_number(step),), f"{_number(step)}: the work lies another way up, unturned")
            )
        bench, lay = piece.get(frozenset(step["moves"]), (step["bench"], step["up"]))
        if len(step["moves"]) > 1 and bench != step["bench"] and not _is_same_way(lay, step["up"]):
            found.append(
                _refuted(
                    "turn-refuted", (_number(step),), f"{_number(step)}: what arrives lies another way up on {bench}"
                )
            )
        lies[step["bench"]] = step["up"]
        piece[there] = (step["bench"], step["up"])
    return found


def _is_same_way(first: list[float], second: list[float]) -> bool:
    return sum(a * b for a, b in zip(first, second, strict=True)) > 0.999


def by_start(plan: Record, number: str) -> float:
    """Start of a step, minutes."""
    return next(float(step["start_minutes"]) for step in plan["steps"] if step["number"] == number)


def _standing_on(plan: Record, step: Record) -> dict[str, set[tuple[str, str]]]:
    """For each part that is there at a step: the parts that it stands on through upright joints, and these joints."""
    up = step["up"]
    below: dict[str, set[tuple[str, str]]] = {}
    for joint in plan["joints"]:
        rise = sum(a * b for a, b in zip(joint["normal"], up, strict=True))
        first, second = joint["parts"]
        if not {first, second} <= {*step["moves"], *step["onto"]} or abs(rise) < 0.7:
            continue
        lower, upper = (first, second) if rise > 0 else (second, first)
        below.setdefault(upper, set()).add((lower, joint["id"]))
    return below


def _carries(below: dict[str, set[tuple[str, str]]], fresh: str, step: Record) -> bool:
    """Whether what arrives stands, through upright joints only, on the upper part of a fresh joint."""
    edge, seen = list(step["moves"]), set(step["moves"])
    while edge:
        for lower, joint_id in sorted(below.get(edge.pop(), ())):
            if joint_id == fresh:
                return True
            if lower not in seen:
                seen.add(lower)
                edge.append(lower)
    return False


def _sums(plan: Record) -> list[Finding]:
    figure = plan["figure"]
    counted = {
        "parts": len(plan["parts"]),
        "joints": len(plan["joints"]),
        "bolts": sum(len(joint["bolt"]) for joint in plan["joints"]),
    }
    found = [
        _refuted("sum-refuted", (), f"{name}: {figure[name]} on the cover, {count} listed")
        for name, count in counted.items()
        if figure[name] != count
    ]
    mass = {part["id"]: part["mass_kg"] for part in plan["parts"]}
    total = math.fsum(mass.values())
    # Each mass is rounded to a gram.
    if abs(total - figure["mass_kg"]) > 0.0006 * (len(mass) + 1):
        found.append(_refuted("sum-refuted", (), f"mass: {figure['mass_kg']} kg on the cover, {total:.3f} kg listed"))
    for step in plan["steps"]:
        if step["lift"] and step["moves"]:
            moved = math.fsum(mass[part] for part in step["moves"])
            if abs(moved - step["lift"]["mass_kg"]) > 0.0006 * (len(step["moves"]) + 1):
                found.append(
                    _refuted(
                        "sum-refuted",
                        (_number(step),),
                        f"{_number(step)}: {step['lift']['mass_kg']} kg to lift, its parts weigh {moved:.3f} kg",
                    )
                )
    return found
