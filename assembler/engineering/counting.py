"""How many pieces: hardware by bag, in total, and to buy. Everything adds up exactly.

Goes in: stacks. Comes out: hardware lines and buying lines.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

from assembler.figure.hardware import BuyLine, HardwareLine, Stack
from assembler.figure.ids import JointId, natural_key
from assembler.figure.settings import HardwareChoice
from assembler.words import Said, Text, say

_KINDS = ("screw", "washer", "nut")


def screw_designation(stack: Stack, choice: HardwareChoice) -> Said:
    """'Hexagon head screw ISO 4017 - M8 x 35 - 8.8'."""
    return say(
        "item.screw",
        name=say(f"item.name.{stack.screw}"),
        standard=stack.screw,
        size=stack.size,
        length_mm=stack.length_mm,
        grade=choice.property_class,
    )


def nut_designation(stack: Stack, choice: HardwareChoice) -> Said:
    """'Hexagon nut ISO 4032 - M8 - 8'; the class that goes with the screw's."""
    grade = choice.property_class.split(".")[0] if "." in choice.property_class else choice.property_class
    return _piece(stack.nut, stack.size, grade)


def washer_designation(stack: Stack, choice: HardwareChoice) -> Said:
    """'Plain washer ISO 7089 - M8 - 200 HV', of the steel group of the screw if stainless."""
    grade = choice.property_class.split("-")[0] if "-" in choice.property_class else "200 HV"
    return _piece(stack.washer, stack.size, grade)


def _piece(standard: str, size: str, grade: str) -> Said:
    return say("item.piece", name=say(f"item.name.{standard}"), standard=standard, size=size, grade=grade)


def hardware_lines(stacks: Iterable[Stack], choice: HardwareChoice) -> tuple[HardwareLine, ...]:
    """Pieces for each joint's bag, one line for each kind, size, length and torque.

    Parameters
    ----------
    stacks
        Of any number of joints.
    choice
        Property class.

    Returns
    -------
    tuple
        By joint, then screws, washers, nuts, then size and length.
    """
    count: Counter[tuple[JointId, str, Text, str, float, float]] = Counter()
    for stack in stacks:
        screw = screw_designation(stack, choice)
        count[(stack.joint, "screw", screw, stack.size, stack.length_mm, stack.torque_nm)] += 1
        if stack.nut:
            count[(stack.joint, "nut", nut_designation(stack, choice), stack.size, 0.0, 0.0)] += 1
        if stack.washers:
            washer = washer_designation(stack, choice)
            count[(stack.joint, "washer", washer, stack.size, 0.0, 0.0)] += stack.washers
    lines = (
        HardwareLine(joint=joint, item=item, kind=kind, size=size, length_mm=length, count=pieces, torque_nm=torque)
        for (joint, kind, item, size, length, torque), pieces in count.items()
    )
    return tuple(sorted(lines, key=_line_key))


def totals(lines: Iterable[HardwareLine]) -> tuple[HardwareLine, ...]:
    """Pieces over all joints, one line for each item; joint and torque are left empty.

    Parameters
    ----------
    lines
        From `hardware_lines`, of all joints or of some.
    """
    count: Counter[tuple[str, Text, str, float]] = Counter()
    for line in lines:
        count[(line.kind, line.item, line.size, line.length_mm)] += line.count
    summed = (
        HardwareLine(joint=JointId(""), item=item, kind=kind, size=size, length_mm=length, count=pieces, torque_nm=0.0)
        for (kind, item, size, length), pieces in count.items()
    )
    return tuple(sorted(summed, key=_line_key))


def spares(count: int, choice: HardwareChoice) -> int:
    """Spares for a number of pieces: the stated share rounded up, and at least the stated number; none for none."""
    if count == 0:
        return 0
    return max(choice.spares_least, math.ceil(count * choice.spares_percent / 100.0 - 1e-9))


def buy_lines(lines: Sequence[HardwareLine], choice: HardwareChoice) -> tuple[BuyLine, ...]:
    """What to buy: pieces in the figure, spares, and whole packs that hold both.

    Parameters
    ----------
    lines
        From `hardware_lines` or `totals`.
    choice
        Spares rule and pack size.
    """
    bought = []
    for line in totals(lines):
        extra = spares(line.count, choice)
        packs = math.ceil((line.count + extra) / choice.pack)
        bought.append(
            BuyLine(item=line.item, kind=line.kind, count=line.count, spares=extra, packs=packs, pack=choice.pack)
        )
    return tuple(bought)


def _line_key(line: HardwareLine) -> tuple[object, ...]:
    kind, size = _KINDS.index(line.kind), natural_key(line.size)
    return (natural_key(line.joint), kind, size, line.length_mm, str(line.item), line.torque_nm)
