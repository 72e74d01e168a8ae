"""Hardware, adhesive and finish: what to buy, and what goes into the bag of each joint."""

from __future__ import annotations

import math
from collections.abc import Iterable

from assembler.figure.hardware import HardwareLine
from assembler.figure.ids import JointId, natural_key
from assembler.figure.settings import FinishOperation
from assembler.publishing import quantities
from assembler.publishing.pages import AmountRow, BagRow, BuyRow, HardwarePage, PieceRow, TemperatureRow
from assembler.publishing.source import Source, step_anchor

KINDS = ("screw", "washer", "nut")


def hardware_page(source: Source) -> HardwarePage:
    """Everything to buy, bags, amounts and the adhesive's times at the temperatures given."""
    words, choice = source.words, source.settings.hardware
    notes = [
        words("hardware.spares", percent=f"{choice.spares_percent:g}", least=choice.spares_least),
        words("hardware.class", name=choice.property_class),
    ]
    return HardwarePage(
        buy=tuple(
            BuyRow(
                item=row.item,
                count=str(row.count),
                spares=str(row.spares),
                total=str(row.count + row.spares),
                packs=words("hardware.packs_value", packs=row.packs, pack=row.pack),
            )
            for row in source.buy
        ),
        bags=bag_rows(source),
        adhesives=adhesive_rows(source),
        finishes=finish_amounts(source),
        notes=tuple(notes),
        temperatures=temperature_rows(source),
    )


def piece_rows(lines: Iterable[HardwareLine]) -> tuple[PieceRow, ...]:
    """Hardware lines as printed: screws, then washers, then nuts."""

    def key(line: HardwareLine) -> tuple[object, ...]:
        kind = KINDS.index(line.kind) if line.kind in KINDS else len(KINDS)
        return (natural_key(line.joint), kind, natural_key(line.item), line.length_mm, line.torque_nm)

    return tuple(
        PieceRow(
            count=str(line.count),
            item=line.item,
            size=f"{line.size} × {line.length_mm:g}" if line.length_mm else line.size,
            torque=quantities.torque(line.torque_nm) if line.torque_nm else "",
        )
        for line in sorted(lines, key=key)
    )


def bag_rows(source: Source) -> tuple[BagRow, ...]:
    """The bag of each joint that has hardware, with the step that opens it."""
    joints = sorted({line.joint for line in source.hardware if line.joint}, key=natural_key)
    rows = []
    for joint in joints:
        step = source.closing(JointId(joint))
        rows.append(
            BagRow(
                joint=joint,
                step=step.number if step else "",
                step_anchor=step_anchor(step.number) if step else "",
                pieces=piece_rows(line for line in source.hardware if line.joint == joint),
            )
        )
    return tuple(rows)


def adhesive_rows(source: Source) -> tuple[AmountRow, ...]:
    """Adhesives by name: joints, volume with waste, cartridges of the stated size."""
    words, adhesive = source.words, source.settings.adhesive
    rows = []
    for name in sorted({row.name for row in source.bondings}):
        mine = [row for row in source.bondings if row.name == name]
        volume = sum(row.volume_ml for row in mine)
        buy = ""
        if name == adhesive.name and adhesive.cartridge_ml > 0:
            count = math.ceil(volume / adhesive.cartridge_ml)
            buy = words("hardware.cartridges", count=count, size=quantities.volume(adhesive.cartridge_ml))
        joints = sorted({row.joint for row in mine}, key=natural_key)
        rows.append(
            AmountRow(
                name=name,
                use=words("hardware.for_joints", joints=", ".join(joints)),
                amount=quantities.volume(volume),
                buy=buy,
                wait=words("hardware.handling", time=_longest_handling(source, name)),
            )
        )
    return tuple(rows)


def _longest_handling(source: Source, name: str) -> str:
    return quantities.duration(max(row.handling_min for row in source.bondings if row.name == name))


def finish_volume_l(source: Source, operation: FinishOperation) -> float:
    """Litres of one operation for all its coats; 0 when the operation uses no product that the settings describe.

    On seams: length of all visible seams times the filled cross-section. On the surface: the outer skin is taken as half
    of the surface of the printed hollow parts, less their mating faces; an estimate that the page calls one.
    """
    plan = source.plan
    if operation.on == "seams":
        if operation.groove_mm2 <= 0:
            return 0.0
        return sum(joint.seam_mm for joint in plan.joints) * operation.groove_mm2 * operation.coats / 1e6
    if operation.coverage_m2_l <= 0:
        return 0.0
    return skin_m2(source) * operation.coats / operation.coverage_m2_l


def skin_m2(source: Source) -> float:
    """Estimate of the outer skin, square metres; never negative."""
    printed = {part.id: part.area_mm2 for part in source.plan.parts if part.is_printed}
    mating = sum(joint.bond_area_mm2 for joint in source.plan.joints for name in joint.parts if name in printed)
    return max(sum(printed.values()) - mating, 0.0) / 2 / 1e6


def finish_amounts(source: Source) -> tuple[AmountRow, ...]:
    """Products of the finish route, with the amount for all coats."""
    words = source.words
    rows = []
    for operation in source.settings.finish:
        litres = finish_volume_l(source, operation)
        if litres <= 0:
            continue
        wait = words("hardware.coat_wait", time=quantities.duration(operation.wait_min)) if operation.wait_min else ""
        rows.append(
            AmountRow(
                name=operation.name,
                use=words.count("hardware.coats", operation.coats),
                amount=quantities.litres(litres),
                buy="",
                wait=wait,
            )
        )
    return tuple(rows)


def temperature_rows(source: Source) -> tuple[TemperatureRow, ...]:
    """Times of the adhesive, coldest first."""
    return tuple(
        TemperatureRow(
            temperature=quantities.temperature(row.temperature_c),
            open=quantities.span(row.open_min),
            fixture=quantities.duration(row.fixture_min),
            handling=quantities.duration(row.handling_min),
            full_cure=quantities.duration(row.full_cure_min),
            is_allowed=row.is_allowed,
        )
        for row in sorted(source.temperatures, key=lambda row: row.temperature_c)
    )
