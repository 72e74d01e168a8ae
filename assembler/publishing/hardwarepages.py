"""Hardware, adhesive and finish: what to buy, and what goes into the bag of each joint."""

from __future__ import annotations

import math
from collections.abc import Iterable

from assembler.engineering.bonding import PURGE_ML, sessions, working_life_min
from assembler.engineering.finishing import FinishQuantity, finish_quantities
from assembler.figure.hardware import HardwareLine
from assembler.figure.ids import JointId, natural_key
from assembler.publishing import quantities
from assembler.publishing.pages import AmountRow, BagRow, BuyRow, HardwarePage, PieceRow, TemperatureRow
from assembler.publishing.source import Source, step_anchor
from assembler.publishing.wording import ranges
from assembler.words import Words

KINDS = ("screw", "washer", "nut")


def hardware_page(source: Source) -> HardwarePage:
    """Everything to buy, bags, amounts and the adhesive's times at the temperatures given."""
    words, choice = source.words, source.settings.hardware
    notes = [
        words("hardware.spares", percent=f"{choice.spares_percent:g}", least=choice.spares_least),
        words("hardware.class", name=choice.property_class),
        *([words("hardware.surface", corrosion=choice.corrosion)] if choice.corrosion else []),
        *([words("hardware.locking", locking=choice.locking)] if choice.locking else []),
        *_nozzles(source),
    ]
    return HardwarePage(
        buy=tuple(
            BuyRow(
                item=words.text(row.item),
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


def _nozzles(source: Source) -> list[str]:
    """Nozzles to fill and purge, by when the steps are glued."""
    glued = [step for step in source.plan.steps if step.adhesive]
    if not glued:
        return []
    adhesive = source.settings.adhesive
    life_min = min(working_life_min(row, adhesive) for step in glued for row in step.adhesive)
    count = sessions([source.shifts[step.number].start for step in glued], life_min)
    return [source.words("hardware.nozzles", count=count, volume=quantities.volume(count * PURGE_ML))]


def sorted_lines(lines: Iterable[HardwareLine]) -> list[HardwareLine]:
    """Hardware lines by joint, then screws, washers, nuts."""

    def key(line: HardwareLine) -> tuple[object, ...]:
        kind = KINDS.index(line.kind) if line.kind in KINDS else len(KINDS)
        return (natural_key(line.joint), kind, natural_key(str(line.item)), line.length_mm, line.torque_nm)

    return sorted(lines, key=key)


def piece_rows(words: Words, lines: Iterable[HardwareLine]) -> tuple[PieceRow, ...]:
    """Hardware lines as printed in the bag list."""
    return tuple(
        PieceRow(count=str(line.count), name=piece_name(words, line), item=words.text(line.item))
        for line in sorted_lines(lines)
    )


def piece_name(words: Words, line: HardwareLine) -> str:
    """What a piece is called at the bench: kind, size and length."""
    kind = words.count(f"piece.{line.kind}", line.count) if words.has(f"piece.{line.kind}.one") else line.kind
    size = f"{line.size} × {line.length_mm:g}" if line.length_mm else line.size
    return f"{kind} {size}".replace(" × ", f"{quantities.NO_BREAK}×{quantities.NO_BREAK}")


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
                pieces=piece_rows(source.words, (line for line in source.hardware if line.joint == joint)),
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
                use=words("hardware.for_joints", joints=ranges(joints)),
                amount=quantities.volume(volume),
                buy=buy,
                wait=words("hardware.handling", time=_longest_handling(source, name)),
            )
        )
    return tuple(rows)


def _longest_handling(source: Source, name: str) -> str:
    return quantities.duration(max(row.handling_min for row in source.bondings if row.name == name))


def finish_of(source: Source) -> tuple[FinishQuantity, ...]:
    """Work, product and wait of each operation of the route."""
    seam_mm = sum(joint.seam_mm for joint in source.plan.joints)
    return finish_quantities(source.settings.finish, seam_mm, source.skin_mm2)


def finish_amounts(source: Source) -> tuple[AmountRow, ...]:
    """Products of the finish route, with the amount for all coats."""
    words = source.words
    rows = []
    for quantity, operation in zip(finish_of(source), source.settings.finish, strict=True):
        if quantity.product_l <= 0:
            continue
        wait = words("hardware.coat_wait", time=quantities.duration(operation.wait_min)) if operation.wait_min else ""
        rows.append(
            AmountRow(
                name=quantity.name,
                use=words.count("hardware.coats", quantity.coats),
                amount=quantities.litres(quantity.product_l),
                buy="",
                wait=wait,
            )
        )
    return tuple(rows)


def temperature_rows(source: Source) -> tuple[TemperatureRow, ...]:
    """Times of the adhesive, coldest first."""
    return tuple(
        TemperatureRow(
            temperature=source.units.temperature(row.temp_c),
            open=quantities.span(row.open_min),
            working_life=quantities.span(row.working_life_min),
            handling=quantities.duration(row.handling_min),
            full_cure=quantities.duration(row.full_cure_min),
        )
        for row in sorted(source.temperatures, key=lambda row: row.temp_c)
    )
