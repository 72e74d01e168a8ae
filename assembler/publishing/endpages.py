"""Finish, base, handing over, log: what happens when the last joint is closed, and what is written down."""

from __future__ import annotations

from assembler.figure.joints import Place
from assembler.publishing import quantities
from assembler.publishing.cautions import base_cautions, finish_cautions
from assembler.publishing.days import errands
from assembler.publishing.frontpages import lines_of
from assembler.publishing.pages import BasePage, CheckRow, FinishPage, FinishRow, LogRow, Pair
from assembler.publishing.rings import clock_ring
from assembler.publishing.source import Source, part_name, step_anchor
from assembler.publishing.supplies import finish_of

LOG_RING_MM = 6.4


def finish_page(source: Source) -> FinishPage | None:
    """The finish route; None when the settings name no operation."""
    words, settings = source.words, source.settings
    if not settings.finish:
        return None
    rows = []
    pairs = zip(finish_of(source), settings.finish, strict=True)
    for number, (quantity, operation) in enumerate(pairs, start=1):
        litres = quantity.product_l
        key = f"finish.on.{operation.on}"
        rows.append(
            FinishRow(
                number=str(number),
                name=operation.name,
                on=words(key) if words.has(key) else operation.on,
                coats=str(operation.coats),
                amount=quantities.litres(litres) if litres > 0 else "",
                wait=quantities.duration(operation.wait_min) if operation.wait_min else "",
                note=operation.note,
            )
        )
    return FinishPage(
        route=settings.finish_route,
        rows=tuple(rows),
        dates=errands(source, is_at_joints=False),
        rules=lines_of(source, "finish.rules"),
        cautions=finish_cautions(words),
    )


def base_page(source: Source) -> BasePage:
    """Base, anchors, joints made on site, final checks and care."""
    words, plan = source.words, source.plan
    site = []
    for joint in plan.joints:
        if joint.made is not Place.SITE:
            continue
        step = source.closing(joint.id)
        site.append(
            (
                joint.id,
                words(f"method.{joint.method.replace(' ', '_')}"),
                source.units.length(joint.seam_mm),
                step_anchor(step.number) if step else "",
            )
        )
    names = ("bolts", "seams", "stands", "anchors", "parts")
    return BasePage(
        base=base_facts(source),
        anchors=lines_of(source, "base.anchor_rules"),
        site_joints=tuple(site),
        final_checks=tuple(
            CheckRow(what=words(f"final.{name}.what"), accept=words(f"final.{name}.accept")) for name in names
        ),
        care=lines_of(source, "base.care"),
        cautions=base_cautions(words),
        signs=tuple(words(f"base.sign.{name}") for name in ("lead", "client", "when")),
    )


def base_facts(source: Source) -> tuple[Pair, ...]:
    """Base, mass, size and anchors as the settings state them."""
    words, base = source.words, source.settings.base
    rows = [(words("base.when"), words(f"base.when_value.{base.when.replace(' ', '_')}"))]
    if base.part:
        part = source.part(base.part)
        rows.append((words("base.part"), f"{part.id} · {part_name(part)}"))
        rows.append((words("base.mass"), source.units.mass(part.mass_kg)))
        rows.append((words("base.size"), source.units.size(part.size_mm)))
    elif base.mass_kg > 0:
        rows.append((words("base.mass"), source.units.mass(base.mass_kg)))
        rows.append((words("base.size"), source.units.size(base.size_mm)))
    else:
        rows.append((words("base.part"), words("base.floor")))
    rows.append((words("base.figure_mass"), source.units.mass(sum(part.mass_kg for part in source.plan.parts))))
    if base.anchors:
        rows.append((words("base.anchors"), words("base.anchors_value", count=base.anchors, size=base.anchor_size)))
    else:
        rows.append((words("base.anchors"), words("base.no_anchors")))
    return tuple(rows)


def log_rows(source: Source) -> tuple[LogRow, ...]:
    """A line of the as-built log for each step, with the clocks of its joints."""
    return tuple(
        LogRow(
            step=step.number,
            anchor=step_anchor(step.number),
            joints=", ".join(step.joints),
            rings=tuple(clock_ring(joint, source.hold_min(joint), LOG_RING_MM, source.words) for joint in step.joints),
        )
        for step in source.plan.steps
    )
