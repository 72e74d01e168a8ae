"""All that is bought, in which bag it goes and which step opens it: one kind of row for tables, labels and lists.

A row is so many of one item for one purpose: the pieces in the bag of a joint, the adhesive of a joint, a coat, or the
spares of an item. Spares and packs stand on the row of the spares alone, so every column can be summed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from assembler.engineering.bonding import PURGE_ML, sessions, working_life_min
from assembler.engineering.finishing import FinishQuantity, finish_quantities
from assembler.figure.hardware import HardwareLine, Stack
from assembler.figure.ids import JointId, StepNumber, natural_key
from assembler.publishing.source import Source, sorted_lines

SPARES = "spares"
"""In the place of a bag: pieces that lie apart."""
PIECES, MILLILITRES, METRES, LITRES = "pieces", "ml", "m", "l"
TAPE_SIDES = 2
"""A seam is masked on both sides (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """So many of one item for one purpose.

    Parameters
    ----------
    item, standard, size, length_mm, grade, coating
        What it is; `grade` is the class on its head. Empty, or 0, where it has none.
    unit, count
        How much of it goes into the figure.
    spare, packs
        To buy beyond that, and packs that hold both; on the row of the spares only.
    bag, step, joint
        Where it lies, and what it is for.
    tool, torque_nm
        Of screws.
    """

    item: str
    standard: str = ""
    size: str = ""
    length_mm: float = 0.0
    grade: str = ""
    coating: str = ""
    unit: str = PIECES
    count: float = 0.0
    spare: float = 0.0
    packs: int = 0
    bag: str = ""
    step: str = ""
    joint: str = ""
    tool: str = ""
    torque_nm: float = 0.0


def supply_rows(source: Source) -> tuple[Supply, ...]:
    """Every row: bags in the order of their joints, spares, adhesive, what is used up, finish, fixings of the base."""
    return (*_bags(source), *_spares(source), *_adhesive(source), *_finish(source), *_fixings(source))


def _bags(source: Source) -> Iterator[Supply]:
    for line in sorted_lines(line for line in source.hardware if line.joint):
        step = source.closing(line.joint)
        stacks = [row for row in source.stacks if row.joint == line.joint and row.size == line.size]
        yield _piece(
            source,
            line,
            count=line.count,
            bag=line.joint,
            joint=line.joint,
            step=step.number if step else StepNumber(""),
            tool=_tool(line, stacks),
        )


def _tool(line: HardwareLine, stacks: Sequence[Stack]) -> str:
    if line.kind == "screw":
        return next((row.tool for row in stacks if row.length_mm == line.length_mm), "")
    return next((row.nut_tool for row in stacks if row.nut), "") if line.kind == "nut" else ""


def _piece(source: Source, line: HardwareLine, **more: object) -> Supply:
    """A piece of hardware, its designation taken apart."""
    item, standard, grade = designation(source, line.item)
    return Supply(
        item=item,
        standard=standard,
        size=line.size,
        length_mm=line.length_mm,
        grade=grade,
        coating=source.settings.hardware.corrosion,
        torque_nm=line.torque_nm,
        **more,  # type: ignore[arg-type]
    )


def designation(source: Source, text: str) -> tuple[str, str, str]:
    """Name, standard and class of 'Hexagon head screw ISO 4017 - M8 x 35 - 8.8'."""
    names = {name for row in source.stacks for name in (row.screw, row.nut, row.washer)} - {""}
    standard = next((name for name in sorted(names, key=len, reverse=True) if name in text), "")
    name = text[: text.index(standard)].strip() if standard else text.partition(" - ")[0]
    return name, standard, text.rpartition(" - ")[2] if " - " in text else ""


def _spares(source: Source) -> Iterator[Supply]:
    lines = {line.item: line for line in sorted_lines(source.hardware)}
    for row in source.buy:
        item, standard, grade = designation(source, row.item)
        line = lines.get(row.item)
        yield Supply(
            item=item,
            standard=standard,
            size=line.size if line else "",
            length_mm=line.length_mm if line else 0.0,
            grade=grade,
            coating=source.settings.hardware.corrosion,
            spare=row.spares,
            packs=row.packs,
            bag=SPARES,
        )


def _adhesive(source: Source) -> Iterator[Supply]:
    words, adhesive = source.words, source.settings.adhesive
    for row in sorted(source.bondings, key=lambda row: natural_key(row.joint)):
        step = source.closing(JointId(row.joint))
        yield Supply(
            item=row.name,
            unit=MILLILITRES,
            count=math.ceil(row.volume_ml),
            joint=row.joint,
            step=step.number if step else "",
        )
    if not source.bondings:
        return
    nozzles = nozzle_count(source)
    volume_ml = sum(math.ceil(row.volume_ml) for row in source.bondings)
    purge_ml = nozzles * PURGE_ML
    packs = math.ceil((volume_ml + purge_ml) / adhesive.cartridge_ml) if adhesive.cartridge_ml > 0 else 0
    yield Supply(item=adhesive.name, unit=MILLILITRES, spare=purge_ml, packs=packs, bag=SPARES)
    yield Supply(item=words("supply.nozzle"), count=nozzles)
    joints = {row.joint for row in source.bondings}
    seam_m = sum(joint.seam_mm for joint in source.plan.joints if joint.id in joints) / 1000.0
    yield Supply(item=words("supply.tape"), unit=METRES, count=math.ceil(TAPE_SIDES * seam_m))
    yield Supply(item=words("supply.abrasive"))
    yield Supply(item=words("supply.degreaser"))
    if adhesive.spacer:
        yield Supply(item=adhesive.spacer)


def nozzle_count(source: Source) -> int:
    """Mixing nozzles: one each time the gun has rested longer than the working life."""
    glued = [step for step in source.plan.steps if step.adhesive]
    if not glued:
        return 0
    life_min = min(working_life_min(row, source.settings.adhesive) for step in glued for row in step.adhesive)
    return sessions([source.shifts[step.number].start for step in glued], life_min)


def finish_of(source: Source) -> tuple[FinishQuantity, ...]:
    """Work, product and wait of each operation of the route."""
    seam_mm = sum(joint.seam_mm for joint in source.plan.joints)
    return finish_quantities(source.settings.finish, seam_mm, source.skin_mm2)


def _finish(source: Source) -> Iterator[Supply]:
    for row in finish_of(source):
        if row.product_l > 0:
            yield Supply(item=row.name, unit=LITRES, count=math.ceil(row.product_l * 10.0) / 10.0)


def _fixings(source: Source) -> Iterator[Supply]:
    base = source.settings.base
    if base.anchors:
        yield Supply(item=source.words("supply.anchor"), size=base.anchor_size, count=base.anchors)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bought:
    """All rows of one item together: what is ordered."""

    first: Supply
    count: float
    spare: float
    packs: int


def to_buy(rows: Iterable[Supply]) -> tuple[Bought, ...]:
    """Totals by item, size, length, class and unit, in the order in which items come up."""
    groups: dict[tuple[object, ...], list[Supply]] = {}
    for row in rows:
        key = (row.item, row.standard, row.size, row.length_mm, row.grade, row.unit)
        groups.setdefault(key, []).append(row)
    return tuple(
        Bought(
            first=group[0],
            count=sum(row.count for row in group),
            spare=sum(row.spare for row in group),
            packs=sum(row.packs for row in group),
        )
        for group in groups.values()
    )
