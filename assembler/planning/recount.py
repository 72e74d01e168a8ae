"""Do the numbers of a plan agree with each other? plan.json in, refutations out; no meshes and no planner needed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable

from assembler.figure.findings import Finding
from assembler.planning.carried import Record, carried, number_of, refuted
from assembler.planning.oncalendar import on_calendar

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
        carried,
        on_calendar,
        _on_bolts,
        _ways_up,
        _sums,
    )
    return [finding for check in checks for finding in check(plan)]


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
                    refuted(
                        "order-refuted", (number_of(step),), f"{number_of(step)}: '{name}' is not one piece as built"
                    )
                )
        if moves & onto:
            found.append(refuted("order-refuted", (number_of(step),), f"{number_of(step)} moves what it is joined to"))
        joined = moves | onto
        piece |= {part: joined for part in joined}
        if len(moves) == 1:
            moved.update(moves)
    found += [
        refuted("order-refuted", (part,), f"{part} is put in place {count} times")
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
                refuted("joint-refuted", (joint["id"],), f"{joint['id']} is closed {closed[joint['id']]} times")
            )
    pairs = {joint["id"]: joint["parts"] for joint in plan["joints"]}
    for step in _builds(plan):
        for joint in step["joints"]:
            first, second = pairs[joint]
            sides = {(first in step["moves"], second in step["onto"]), (second in step["moves"], first in step["onto"])}
            if (True, True) not in sides:
                found.append(
                    refuted(
                        "joint-refuted",
                        (number_of(step), joint),
                        f"{number_of(step)} closes {joint}, whose parts do not meet in it",
                    )
                )
    return found


def _bolts_once(plan: Record) -> list[Finding]:
    through = {bolt["id"]: set(bolt["through"]) for joint in plan["joints"] for bolt in joint["bolt"]}
    fitted = Counter(access["bolt"] for step in _builds(plan) for access in step["access"])
    found = [
        refuted("bolt-refuted", (bolt,), f"{bolt} is tightened {fitted[bolt]} times")
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
                    refuted(
                        "bolt-refuted",
                        (number_of(step), access["bolt"]),
                        f"{number_of(step)} tightens {access['bolt']}, whose last part does not arrive in it",
                    )
                )
            if not access["ok"] and access["bolt"] not in reported:
                found.append(
                    refuted(
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
                refuted(
                    "hardware-refuted",
                    (number_of(step),),
                    f"{number_of(step)}: {screws.total()} screws listed, {stacks.total()} axes to fill",
                )
            )
        bolts = {access["bolt"] for access in step["access"]}
        if {stack["bolt"] for stack in step["stacks"]} - bolts:
            found.append(
                refuted(
                    "hardware-refuted", (number_of(step),), f"{number_of(step)}: hardware for bolts it does not close"
                )
            )
    return found


def _clock(plan: Record) -> list[Finding]:
    """Steps come after what they name; without a calendar one crew works on one step at a time."""
    by_number = {step["number"]: step for step in plan["steps"]}
    found = []
    for step in plan["steps"]:
        for number in step["after"]:
            if by_number[number]["end_minutes"] > step["start_minutes"] + _ROUNDING_MIN:
                found.append(
                    refuted("order-refuted", (number_of(step),), f"{number_of(step)} starts before step {number} ends")
                )
    if plan.get("calendar"):
        return found
    ordered = sorted(plan["steps"], key=lambda step: (step["start_minutes"], step["end_minutes"]))
    for earlier, later in zip(ordered, ordered[1:], strict=False):
        if later["start_minutes"] < earlier["end_minutes"] - _ROUNDING_MIN:
            found.append(
                refuted(
                    "order-refuted",
                    (number_of(later),),
                    f"{number_of(later)} starts while the crew is still at {number_of(earlier)}",
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
                    refuted(
                        "hold-refuted",
                        (number_of(step), row["joint"]),
                        f"{number_of(step)} works on the bolts of {row['joint']}, which hold {friction_n:.0f} N by "
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
                refuted(
                    "turn-refuted", (number_of(step),), f"{number_of(step)}: the work lies another way up, unturned"
                )
            )
        bench, lay = piece.get(frozenset(step["moves"]), (step["bench"], step["up"]))
        if len(step["moves"]) > 1 and bench != step["bench"] and not _is_same_way(lay, step["up"]):
            found.append(
                refuted(
                    "turn-refuted",
                    (number_of(step),),
                    f"{number_of(step)}: what arrives lies another way up on {bench}",
                )
            )
        lies[step["bench"]] = step["up"]
        piece[there] = (step["bench"], step["up"])
    return found


def _is_same_way(first: list[float], second: list[float]) -> bool:
    return sum(a * b for a, b in zip(first, second, strict=True)) > 0.999


def _sums(plan: Record) -> list[Finding]:
    figure = plan["figure"]
    counted = {
        "parts": len(plan["parts"]),
        "joints": len(plan["joints"]),
        "bolts": sum(len(joint["bolt"]) for joint in plan["joints"]),
    }
    found = [
        refuted("sum-refuted", (), f"{name}: {figure[name]} on the cover, {count} listed")
        for name, count in counted.items()
        if figure[name] != count
    ]
    mass = {part["id"]: part["mass_kg"] for part in plan["parts"]}
    total = math.fsum(mass.values())
    # Each mass is rounded to a gram.
    if abs(total - figure["mass_kg"]) > 0.0006 * (len(mass) + 1):
        found.append(refuted("sum-refuted", (), f"mass: {figure['mass_kg']} kg on the cover, {total:.3f} kg listed"))
    for step in plan["steps"]:
        if step["lift"] and step["moves"] and not step["lift"].get("parts"):
            moved = math.fsum(mass[part] for part in step["moves"])
            if abs(moved - step["lift"]["mass_kg"]) > 0.0006 * (len(step["moves"]) + 1):
                found.append(
                    refuted(
                        "sum-refuted",
                        (number_of(step),),
                        f"{number_of(step)}: {step['lift']['mass_kg']} kg to lift, its parts weigh {moved:.3f} kg",
                    )
                )
    return found
