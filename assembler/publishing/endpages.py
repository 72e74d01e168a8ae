"""Finish, base and handing over: what happens when the last joint is closed."""

from __future__ import annotations

from assembler.engineering.exposure import ASKED_SAFETY, DRAG, FRICTION, PERSON_PUSH_N
from assembler.figure.exposure import ExposureRow
from assembler.figure.joints import Place
from assembler.publishing import quantities
from assembler.publishing.cautions import base_cautions, finish_cautions
from assembler.publishing.hardwarepages import finish_of
from assembler.publishing.pages import BasePage, CheckRow, FinishPage, FinishRow, Pair, PushRow
from assembler.publishing.source import Source, step_anchor


def _lines(source: Source, key: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in source.words(key).splitlines() if line.strip())


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
        rules=_lines(source, "finish.rules"),
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
        base=_base_facts(source),
        anchors=_lines(source, "base.anchor_rules"),
        pushes=tuple(_push_row(source, row) for row in source.exposure),
        push_notes=_push_notes(source),
        site_joints=tuple(site),
        final_checks=tuple(
            CheckRow(what=words(f"final.{name}.what"), accept=words(f"final.{name}.accept")) for name in names
        ),
        care=_lines(source, "base.care"),
        cautions=base_cautions(words),
        signs=tuple(words(f"base.sign.{name}") for name in ("lead", "client", "when")),
    )


def _push_row(source: Source, row: ExposureRow) -> PushRow:
    words = source.words
    wind = words("push.wind", speed=quantities.speed(row.wind_m_s))
    return PushRow(
        cause=wind if row.wind_m_s else words("push.person"),
        force=quantities.force(row.force_n),
        moment=quantities.moment(row.moment_nm),
        tips=quantities.safety(row.tip_safety),
        slides=quantities.safety(row.slide_safety),
        tension=quantities.force(row.anchor_tension_n) if row.anchor_tension_n is not None else "",
        shear=quantities.force(row.anchor_shear_n) if row.anchor_shear_n is not None else "",
    )


def _push_notes(source: Source) -> tuple[str, ...]:
    """What the table of pushes stands on, and what it is not."""
    if not source.exposure:
        return ()
    words = source.words
    notes = [
        words("push.how", drag=f"{DRAG:g}", friction=f"{FRICTION:g}", asked=f"{ASKED_SAFETY:g}"),
        words("push.person_how", force=quantities.force(PERSON_PUSH_N)),
    ]
    if source.settings.base.anchors and not source.settings.base.anchors_at_mm:
        notes.append(words("push.no_places"))
    return (*notes, words("push.not"))


def _base_facts(source: Source) -> tuple[Pair, ...]:
    words, base = source.words, source.settings.base
    rows = [(words("base.when"), words(f"base.when_value.{base.when.replace(' ', '_')}"))]
    if base.part:
        part = source.part(base.part)
        rows.append((words("base.part"), f"{part.id} · {part.file}"))
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
