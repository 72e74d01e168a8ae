"""One page for each step: what it waits for, the picture, the orders, the hardware, the clocks, the checks."""

from __future__ import annotations

from assembler.figure.hardware import Bonding
from assembler.figure.ids import JointId, natural_key
from assembler.figure.plan import Access, Step
from assembler.publishing import quantities
from assembler.publishing.cautions import step_cautions
from assembler.publishing.frontpages import touched_steps
from assembler.publishing.hardwarepages import piece_rows
from assembler.publishing.moments import clock_text, day_and_hour
from assembler.publishing.pages import (
    AccessRow,
    AdhesiveCard,
    CheckRow,
    GateLine,
    Pair,
    PictureBox,
    StepPage,
    TighteningCard,
)
from assembler.publishing.partpages import part_row
from assembler.publishing.source import Source, picture_box, step_anchor
from assembler.publishing.stepwords import orders
from assembler.publishing.tightening import tightening_order

BOLTS_A_STRIP = 10
TAB_FIRST_MM, TAB_LAST_MM = 4.0, 236.0
TURNED_DEG = 5.0
"""A view turned by less than this needs no words."""


def step_pages(source: Source) -> tuple[StepPage, ...]:
    """All steps in the order of the plan."""
    steps = source.plan.steps
    return tuple(_step_page(source, step, place, len(steps)) for place, step in enumerate(steps))


def _step_page(source: Source, step: Step, place: int, count: int) -> StepPage:
    words = source.words
    pictures = source.pictures.steps.get(step.number, ())
    hold = step.hold
    return StepPage(
        number=step.number,
        anchor=step_anchor(step.number),
        title=step.title,
        kind=words(f"step.kind.{step.kind.replace(' ', '_')}"),
        tab_top=f"{TAB_FIRST_MM + (TAB_LAST_MM - TAB_FIRST_MM) * place / max(count - 1, 1):.1f}mm",
        gates=_gates(source, step),
        cells=_cells(source, step),
        picture=_main_picture(source, step),
        details=tuple(box for picture in pictures[1:] if (box := picture_box(picture, picture.alt))),
        view_note=_view_note(source, step),
        changed=source.changes.get(step.number, ""),
        orders=orders(source, step),
        parts=tuple(part_row(source, source.part(name)) for name in sorted(step.moves, key=natural_key)),
        pieces=piece_rows(step.hardware),
        cautions=step_cautions(source, step),
        cards=tuple(_tightening(source, step, name) for name in step.joints if _bolts_of(source, step, name)),
        access=_access_rows(source, step),
        adhesives=tuple(_adhesive(source, row) for row in step.adhesive),
        hold=words(
            "step.hold",
            joints=words.listed(hold.joints),
            time=quantities.duration(hold.minutes),
            reason=hold.reason,
        )
        if hold
        else "",
        hold_blocks=_blocks(source, step),
        checks=_checks(source, step),
        findings=tuple(
            words("step.finding", level=words(f"findings.level.{row.level}"), message=row.message)
            for row in source.plan.findings
            if row.remedy and step.number in {number for _, number in touched_steps(source, row)}
        ),
        why=step.why,
        signs=tuple(words(f"step.sign.{name}") for name in ("done", "checked", "when")),
    )


def _gates(source: Source, step: Step) -> tuple[GateLine, ...]:
    ordered = sorted(step.gates, key=lambda gate: (natural_key(gate.step), natural_key(gate.joint)))
    return tuple(
        GateLine(text=source.words("gate.line", joint=gate.joint, step=gate.step), anchor=step_anchor(gate.step))
        for gate in ordered
    )


def _cells(source: Source, step: Step) -> tuple[Pair, ...]:
    words = source.words
    day, hour = day_and_hour(step.start_min, source.settings.crew.day_start_h)
    cells = [
        (words("cell.place"), words(f"cell.place_value.{step.place}")),
        (words("cell.bench"), str(step.bench)),
        (words("cell.section"), str(step.section)),
        (words("cell.planned"), words("cell.planned_value", day=day, clock=clock_text(hour))),
        (words("cell.work"), quantities.duration(step.minutes)),
    ]
    if step.lift and step.moves:
        value = (
            words("cell.hoist", mass=quantities.mass(step.lift.mass_kg))
            if step.lift.people == 0
            else words.count("cell.people", step.lift.people, mass=quantities.mass(step.lift.mass_kg))
        )
        cells.append((words("cell.lift"), value))
    if step.after:
        cells.append((words("cell.after"), ", ".join(step.after)))
    return tuple(cells)


def _main_picture(source: Source, step: Step) -> PictureBox | None:
    pictures = source.pictures.steps.get(step.number, ())
    return picture_box(pictures[0]) if pictures else None


def _view_note(source: Source, step: Step) -> str:
    pictures = source.pictures.steps.get(step.number, ())
    if not pictures or abs(pictures[0].view.turned_deg) < TURNED_DEG:
        return ""
    return source.words("step.view_turned", angle=f"{abs(pictures[0].view.turned_deg):.0f}°")


def _bolts_of(source: Source, step: Step, name: JointId) -> bool:
    return any(row.joint == name for row in step.stacks)


def _tightening(source: Source, step: Step, name: JointId) -> TighteningCard:
    words = source.words
    fitted = {row.bolt for row in step.stacks if row.joint == name}
    bolts = [bolt for joint in source.plan.joints for bolt in joint.bolts if bolt.id in fitted]
    cells = [(str(place), str(bolt.id)) for place, bolt in enumerate(tightening_order(bolts), start=1)]
    torques = sorted({row.torque_nm for row in step.stacks if row.joint == name and row.torque_nm > 0})
    full = " / ".join(quantities.torque(value) for value in torques)
    rounds = [words("tighten.hand"), words("tighten.snug")]
    rounds.append(words("tighten.full", torque=full) if full else words("tighten.firm"))
    return TighteningCard(
        joint=name,
        title=words.count("tighten.title", len(cells), joint=name),
        bolts=tuple(tuple(cells[i : i + BOLTS_A_STRIP]) for i in range(0, len(cells), BOLTS_A_STRIP)),
        rounds=tuple(rounds),
    )


def _access_rows(source: Source, step: Step) -> tuple[AccessRow, ...]:
    """Bolts reached in the same way share a line; the order is that of their first bolts."""
    groups: dict[tuple[str, str, str, float, bool], list[Access]] = {}
    for row in sorted(step.access, key=lambda row: natural_key(row.bolt)):
        groups.setdefault((row.tool, row.head, row.nut, row.reach_mm, row.is_reachable), []).append(row)
    words = source.words
    return tuple(
        AccessRow(
            bolts=", ".join(row.bolt for row in rows),
            head=words("access.head", tool=tool, part=words.listed(sorted({row.head_part for row in rows})), way=head),
            nut=words("access.nut", part=words.listed(sorted({row.nut_part for row in rows})), way=nut),
            reach=quantities.length(reach) if reach > 0 else "",
            is_reachable=is_reachable,
        )
        for (tool, head, nut, reach, is_reachable), rows in groups.items()
    )


def _adhesive(source: Source, row: Bonding) -> AdhesiveCard:
    words, adhesive = source.words, source.settings.adhesive
    facts = [
        (words("glue.at"), quantities.temperature(row.temperature_c)),
        (words("glue.area"), quantities.area(row.area_mm2)),
        (words("glue.close_within"), quantities.span(row.open_min)),
        (words("glue.needed"), quantities.duration(row.needed_min)),
        (words("glue.free_after"), quantities.duration(row.handling_min)),
        (words("glue.full_cure"), quantities.duration(row.full_cure_min)),
    ]
    if adhesive.spacer and row.name == adhesive.name:
        facts.append((words("glue.spacer"), adhesive.spacer))
    return AdhesiveCard(
        joint=row.joint,
        title=words("glue.title", joint=row.joint, name=row.name),
        amount=quantities.volume(row.volume_ml),
        facts=tuple(facts),
        fields=tuple(words(f"glue.field.{name}") for name in ("mixed", "closed", "temperature", "free")),
        warning=words("glue.too_slow", needed=quantities.duration(row.needed_min), open=quantities.span(row.open_min))
        if row.needed_min > row.open_min
        else "",
    )


def _blocks(source: Source, step: Step) -> str:
    if step.hold is None or not step.hold.before:
        return ""
    return source.words("step.hold_blocks", steps=source.words.listed(step.hold.before))


def _checks(source: Source, step: Step) -> tuple[CheckRow, ...]:
    words = source.words
    names = []
    if step.stacks:
        names += ["by_hand", "thread", "torque"]
    if step.joints:
        names += ["seam"]
    if step.adhesive:
        names += ["squeeze", "open_time"]
    if step.stability:
        names += ["stands"]
    tip = quantities.angle(step.stability.tip_deg) if step.stability else ""
    protrusion = min((row.protrusion_mm for row in step.stacks), default=0.0)
    gaps = {"seam": f"{source.settings.tolerances.gap_mm:g}", "tip": tip, "thread": f"{protrusion:.0f}"}
    return tuple(
        CheckRow(what=words(f"check.{name}.what"), accept=words(f"check.{name}.accept", **gaps)) for name in names
    )
