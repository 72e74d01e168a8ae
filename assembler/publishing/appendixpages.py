"""The appendix: totals that must agree, calculations, sources, the log to fill in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from assembler.catalogue import tables
from assembler.engineering.provenance import provenance_rows
from assembler.figure.hardware import HardwareLine
from assembler.figure.ids import natural_key
from assembler.publishing import quantities
from assembler.publishing.pages import (
    AppendixPage,
    CloseUp,
    LogRow,
    Pair,
    SheetRow,
    TotalRow,
    Worksheet,
)
from assembler.publishing.source import Source
from assembler.words import Text, Words


def appendix_page(source: Source, close_ups: tuple[CloseUp, ...]) -> AppendixPage:
    """The appendix, with the close-ups that found no room in their steps."""
    text = source.words.text
    return AppendixPage(
        totals=total_rows(source),
        sheets=_worksheets(source),
        sources=tuple((number, text(named)) for named, number in _source_numbers(source).items()),
        materials=_materials(source),
        adhesive=_adhesive(source),
        certainty=tuple(
            (text(name), text(rule), text(inputs), text(note))
            for name, rule, inputs, note in provenance_rows(source.settings)
        ),
        references=reference_rows(source.words),
        close_ups=close_ups,
        log=tuple(LogRow(step=step.number, joints=", ".join(step.joints)) for step in source.plan.steps),
    )


def total_rows(source: Source) -> tuple[TotalRow, ...]:
    """Pieces of each kind: summed over the steps, over the bags, and as bought without spares."""
    in_steps = _counted(line for step in source.plan.steps for line in step.hardware)
    in_bags = _counted(source.hardware)
    in_list = Counter({row.item: row.count for row in source.buy})
    items = sorted({*in_steps, *in_bags, *in_list}, key=lambda item: natural_key(str(item)))
    return tuple(
        TotalRow(
            item=source.words.text(item),
            in_steps=str(in_steps[item]),
            in_bags=str(in_bags[item]),
            in_list=str(in_list[item]),
            agrees=in_steps[item] == in_bags[item] == in_list[item],
        )
        for item in items
    )


def _counted(lines: Iterable[HardwareLine]) -> Counter[Text]:
    counts: Counter[Text] = Counter()
    for line in lines:
        counts[line.item] += line.count
    return counts


def _worksheets(source: Source) -> tuple[Worksheet, ...]:
    words = source.words
    numbers = _source_numbers(source)
    return tuple(
        Worksheet(
            joint=joint,
            title=words("appendix.sheet", joint=joint, parts=words.listed(source.joint(joint).parts)),
            rows=tuple(
                SheetRow(
                    quantity=words.text(row.quantity),
                    formula=words.text(row.formula),
                    inputs=words.text(row.inputs),
                    result=f"{words.text(row.result)} {row.unit}".strip(),
                    source=numbers[row.source],
                )
                for row in source.worksheets[joint]
            ),
        )
        for joint in sorted(source.worksheets, key=natural_key)
    )


def _source_numbers(source: Source) -> dict[Text, str]:
    """Each source with its number, in the order in which the calculations name them."""
    joints = sorted(source.worksheets, key=natural_key)
    texts = dict.fromkeys(row.source for joint in joints for row in source.worksheets[joint])
    return {text: str(number) for number, text in enumerate(texts, start=1)}


def reference_rows(words: Words) -> tuple[tuple[str, str, str, str], ...]:
    """What tables and rules were taken from: who and what, where it can be read, how sure."""
    rows = []
    for row in tables.references():
        what = ", ".join(text for text in (row.author, row.title) if text) or row.text
        when = f"{row.address} ({row.read})" if row.address and row.read else row.address
        rows.append((what, row.place, when, words.text(row.how.label)))
    return tuple(rows)


def _materials(source: Source) -> tuple[tuple[str, str, str, str], ...]:
    used = {part.material for part in source.plan.parts}
    return tuple(
        (row.name, f"{row.density_kg_m3:.0f} kg/m³", f"{row.bearing_mpa:g} MPa", row.source)
        for name, row in sorted(source.settings.materials.items())
        if name in used
    )


def _adhesive(source: Source) -> tuple[Pair, ...]:
    words, row = source.words, source.settings.adhesive
    if not source.bondings:
        return ()
    pairs = [
        (words("adhesive.name"), row.name),
        (words("adhesive.bond_line"), f"{row.bond_line_mm:g} mm"),
        (words("adhesive.waste"), f"{row.waste * 100:.0f} %"),
        (words("adhesive.sheet"), source.units.temperature(row.sheet_c)),
        (words("adhesive.open"), quantities.span(row.open_min)),
        (words("adhesive.handling"), quantities.duration(row.handling_min)),
        (words("adhesive.full_cure"), quantities.duration(row.full_cure_min)),
        (
            words("adhesive.range"),
            words(
                "adhesive.range_value",
                low=source.units.temperature(row.lowest_c),
                high=source.units.temperature(row.highest_c),
            ),
        ),
        (words("adhesive.source"), row.source),
    ]
    return tuple(pairs)
