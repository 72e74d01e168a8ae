"""One page for each step: what it waits for, the picture, the orders, the hardware, the clocks, the checks."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TypedDict

from assembler.engineering.boltsalone import preload_n
from assembler.engineering.fastening import LEAST_WRENCH_NM
from assembler.engineering.patterns import TIGHTENING_PASSES, tightening_order
from assembler.engineering.tightening import STRUCTURE_N, rounded_down_nm
from assembler.figure.findings import Finding, Level
from assembler.figure.hardware import Bonding, HardwareLine
from assembler.figure.ids import JointId, StepNumber, natural_key
from assembler.figure.joints import Place
from assembler.figure.plan import Access, Hold, Lift, LiftedBy, Step
from assembler.publishing import quantities
from assembler.publishing.cautions import step_cautions
from assembler.publishing.frontpages import part_row, touched_steps
from assembler.publishing.hardwarepages import piece_name, sorted_lines, temperature_rows
from assembler.publishing.pages import (
    AccessRow,
    GateLine,
    GlueCard,
    GlueRow,
    Pair,
    PictureBox,
    PieceRow,
    StepBag,
    StepLayout,
    StepPage,
    Strip,
)
from assembler.publishing.sheets import SheetSize, sheet_size
from assembler.publishing.source import Source, picture_box, split_gates, step_anchor
from assembler.publishing.stepwords import glue_notes, orders
from assembler.publishing.wording import merged, pattern, ranges
from assembler.publishing.words import Words
from assembler.recut.changes import PagePlace

BOLTS_A_STRIP = 12
CHANGES_TOLD = 4
"""Lines of change on the page of a step; the others are on the change sheet."""
TELLING = 3
"""A finding that touches more steps than these is not printed at each of them."""
USUAL_STAGE_MM = 96.0
TABS = 10
"""Tabs come in tens."""
_NUMBER = re.compile(r"(\d+)(.*)")
_TIMES = f"{quantities.NO_BREAK}x{quantities.NO_BREAK}"
CAPTIVE = "captive"
"""How the words for a nut that needs no spanner begin (`Access.nut`)."""
TURNED_WORD = "turned"
"""A picture whose own words have this says itself that the view has turned."""
TURNED_DEG = 5.0
"""A view turned by less than this needs no words."""


class _Marks(TypedDict):
    changed: str
    changes: tuple[str, ...]
    marked: tuple[str, ...]


def step_pages(source: Source) -> tuple[StepPage, ...]:
    """All steps in the order of the plan."""
    steps = source.plan.steps
    last = max((_place(step.number) for step in steps), default=0.0)
    return tuple(_step_page(source, step, last) for step in steps)


def _place(number: str) -> float:
    """Where a step stands by its number alone: 12a and 12b between 12 and 13, whatever else there is."""
    found = _NUMBER.match(number)
    if found is None:
        raise ValueError(f"{number!r} is no number of a step")
    after = sum((int(one, 36) - 9) / 27.0**at for at, one in enumerate(found[2], start=1) if one.isalpha())
    return int(found[1]) + after


def tab_mm(number: str, last: float, sheet: SheetSize) -> float:
    """How far below the top margin the tab of a step stands.

    Parameters
    ----------
    number
        As printed.
    last
        Place of the last step. The edge is shared out for whole tens of steps, so that the tabs of pages that stay in a
        binder hold still when a few steps come or go.
    sheet
        Where the first and the last tab stand.
    """
    slots = max(math.ceil(last / TABS), 1) * TABS
    share = max(_place(number) - 1.0, 0.0) / (slots - 1.0)
    return sheet.tab_first_mm + (sheet.tab_last_mm - sheet.tab_first_mm) * share


def _step_page(source: Source, step: Step, last: float) -> StepPage:
    words = source.words
    close_ups = close_ups_of(source, step.number)
    gates, access = _gates(source, step), _access_rows(source, step)
    hold = step.hold
    sheet = sheet_size(source.settings.sheet)
    return StepPage(
        number=step.number,
        anchor=step_anchor(step.number),
        title=step.title,
        kind=words(f"step.kind.{step.kind.replace(' ', '_')}"),
        tab_top=f"{tab_mm(step.number, last, sheet):.1f}mm",
        layout=_usual_layout(close_ups, sheet),
        gates=gates,
        kept=_kept(source, step),
        cells=_cells(source, step),
        picture=_main_picture(source, step),
        close_ups=tuple(close_ups),
        view_note=_view_note(source, step),
        revision=source.revisions.get(step.number, source.plan.revision),
        **_marks(source, step),
        orders=orders(source, step),
        parts=tuple(
            part_row(source, source.part(name))
            for name in (*source.first_laid(step), *sorted(step.moves, key=natural_key))
        ),
        bags=_bags(source, step),
        cautions=step_cautions(source, step),
        strips=_strips(source, step),
        limit=_limit(source, step),
        access=access,
        glue=_glue(source, step),
        hold=_hold(source, hold) if hold else "",
        hold_blocks=_blocks(source, step),
        checks=_checks(source, step),
        findings=tuple(
            words("step.finding", level=words(f"findings.level.{row.level}"), message=row.message)
            for row in source.plan.findings
            if row.level is not Level.NOTE and step.number in _told_at(source, row)
        ),
        why=step.why,
        signs=tuple(words(f"step.sign.{name}") for name in ("done", "checked", "when")),
    )


def _hold(source: Source, hold: Hold) -> str:
    """How long, why, and the earliest clock time for three closings: no page hangs on when the step is planned."""
    words = source.words
    line = words(
        "step.hold",
        joints=words.listed(hold.joints),
        time=quantities.duration(hold.minutes),
        reason=hold.reason,
    )
    clocks = "; ".join(words("step.hold_clock", closed=closed, free=free) for closed, free in hold.clocks)
    return f"{line} {clocks[0].upper()}{clocks[1:]}." if clocks else line


def _marks(source: Source, step: Step) -> _Marks:
    """How the pages differ from those of an earlier issue, and where."""
    mark = source.marks.get(step.number)
    if mark is None:
        return _Marks(changed="", changes=(), marked=())
    words, is_new = source.words, PagePlace.WHOLE in mark.places
    if not (is_new or mark.words):
        return _Marks(changed="", changes=(), marked=mark.places)
    more = (words("step.changes_more"),) if len(mark.words) > CHANGES_TOLD else ()
    return _Marks(
        changed=words("step.new" if is_new else "step.changed", revision=mark.revision),
        changes=(*mark.words[: CHANGES_TOLD - len(more)], *more),
        marked=tuple(PagePlace) if is_new else mark.places,
    )


def _told_at(source: Source, finding: Finding) -> tuple[str, ...]:
    numbers = tuple(number for _, number in touched_steps(source, finding))
    return numbers if len(numbers) <= TELLING else ()


def _usual_layout(close_ups: Sequence[PictureBox], sheet: SheetSize) -> StepLayout:
    """The layout of a step whose words were not measured."""
    return StepLayout(
        stage_mm=USUAL_STAGE_MM,
        picture_mm=USUAL_STAGE_MM,
        detail_mm=sheet.detail_mm if close_ups else 0.0,
        section_mm=sheet.section_mm if len(close_ups) > 1 else 0.0,
    )


def _gates(source: Source, step: Step) -> tuple[GateLine, ...]:
    """A line with a field for the time for each new wait, joints of one step together."""
    words = source.words
    new, _ = split_gates(source.plan, step)
    closers = sorted({gate.step for gate in new}, key=natural_key)
    return tuple(
        GateLine(
            text=words.count("gate.line", len(joints), joints=words.listed(joints), step=closer),
            anchor=step_anchor(closer),
        )
        for closer in closers
        for joints in ([gate.joint for gate in new if gate.step == closer],)
    )


def _kept(source: Source, step: Step) -> str:
    """The waits that earlier steps have kept already."""
    _, kept = split_gates(source.plan, step)
    return source.words("gate.kept", joints=ranges(gate.joint for gate in kept)) if kept else ""


def _cells(source: Source, step: Step) -> tuple[Pair, ...]:
    words = source.words
    cells = [
        (words("cell.place"), words(f"cell.place_value.{step.place}")),
        (words("cell.bench"), str(step.bench)),
        (words("cell.section"), str(step.section)),
        (words("cell.work"), quantities.duration(step.minutes)),
    ]
    if step.lift:
        value = _lift_value(source, step.lift)
        cells.append((words("cell.lift"), value))
    if step.after:
        cells.append((words("cell.after"), ", ".join(step.after)))
    return tuple(cells)


def _lift_value(source: Source, lift: Lift) -> str:
    """Mass, people or hoist, stands, and how high."""
    words, mass = source.words, source.units.mass(lift.mass_kg)
    value = words("cell.hoist", mass=mass) if lift.people == 0 else words.count("cell.people", lift.people, mass=mass)
    if lift.by is LiftedBy.STANDS:
        value = words("cell.on_stands", lift=value)
    if round(lift.height_mm, -1) > 0:
        value = words("cell.lift_height", lift=value, height=source.units.length(round(lift.height_mm, -1)))
    return value


def _main_picture(source: Source, step: Step) -> PictureBox | None:
    pictures = source.pictures.steps.get(step.number, ())
    return picture_box(pictures[0]) if pictures else None


def close_ups_of(source: Source, number: StepNumber) -> list[PictureBox]:
    """Close-ups of a step: flanges square on first, then the wider cut-aways and sections."""
    pictures = source.pictures.steps.get(number, ())[1:]
    faces = [row for row in pictures if row.width_px <= row.height_px]
    others = [row for row in pictures if row.width_px > row.height_px]
    return [box for row in (*faces, *others) if (box := picture_box(row))]


def _view_note(source: Source, step: Step) -> str:
    pictures = source.pictures.steps.get(step.number, ())
    if not pictures or abs(pictures[0].view.turned_deg) < TURNED_DEG or TURNED_WORD in pictures[0].overlay_svg:
        return ""
    return source.words("step.view_turned", angle=f"{abs(pictures[0].view.turned_deg):.0f}°")


def _bags(source: Source, step: Step) -> tuple[StepBag, ...]:
    joints = sorted({line.joint for line in step.hardware}, key=natural_key)
    pictures = source.pictures.steps.get(step.number, ())
    refs = {what: ref for ref, what in pictures[0].legend} if pictures else {}
    return tuple(
        StepBag(
            joint=joint,
            pieces=tuple(
                PieceRow(
                    count=str(line.count),
                    name=_bench_name(source, step, line),
                    item=line.item,
                    ref=refs.get(line.item, ""),
                )
                for line in sorted_lines(line for line in step.hardware if line.joint == joint)
            ),
        )
        for joint in joints
    )


def _bench_name(source: Source, step: Step, line: HardwareLine) -> str:
    """'screws ISO 4017 - M8 x 40 - 8.8': what is read while picking, with all that the standard's designation says."""
    standards = {
        {"screw": row.screw, "nut": row.nut, "washer": row.washer}.get(line.kind, "")
        for row in step.stacks
        if row.joint == line.joint and row.size == line.size and line.length_mm in (0.0, row.length_mm)
    } - {""}
    found = next((name for name in sorted(standards, key=len, reverse=True) if name in line.item), None)
    if found is None:
        return source.words("piece.standard", name=piece_name(source.words, line), standard=line.item)
    kind = source.words.count(f"piece.{line.kind}", line.count)
    designation = line.item[line.item.index(found) :]
    designation = designation.replace(" - ", f"{quantities.NO_BREAK}- ").replace(" x ", _TIMES)
    return f"{kind} {designation}"


def _strips(source: Source, step: Step) -> tuple[Strip, ...]:
    """The bolts of a step in tightening order; joints tightened alike stand side by side, as far as they fit."""
    joints = sorted({row.joint for row in step.stacks}, key=natural_key)
    rows: list[list[JointId]] = []
    for name in joints:
        is_alike = bool(rows) and _rounds(source, step, rows[-1][0]) == _rounds(source, step, name)
        width = sum(len(_ordered_bolts(source, step, other)) for other in (*(rows[-1] if rows else ()), name))
        if is_alike and width <= BOLTS_A_STRIP:
            rows[-1].append(name)
        else:
            rows.append([name])
    return tuple(strip for names in rows for strip in _strips_of(source, step, names))


def _strips_of(source: Source, step: Step, names: Sequence[JointId]) -> list[Strip]:
    """One strip for some joints, or several for one joint with many bolts."""
    words = source.words
    if len(names) > 1:
        groups = [[(name, pair) for name in names for pair in _ordered_bolts(source, step, name)]]
    else:
        pairs = _ordered_bolts(source, step, names[0])
        count = math.ceil(len(pairs) / BOLTS_A_STRIP)
        size = math.ceil(len(pairs) / count)
        groups = [[(names[0], pair) for pair in pairs[i : i + size]] for i in range(0, len(pairs), size)]
    return [
        Strip(
            heads=tuple(
                (words("tighten.joint", joint=name), sum(1 for other, _ in group if other == name))
                for name in dict.fromkeys(name for name, _ in group)
            ),
            bolts=tuple(pair for _, pair in group),
            rounds=_rounds(source, step, names[0]),
        )
        for group in groups
    ]


def _ordered_bolts(source: Source, step: Step, name: JointId) -> list[Pair]:
    fitted = {row.bolt for row in step.stacks if row.joint == name}
    ordered = [bolt for bolt in tightening_order(source.joint(name)) if bolt in fitted]
    ordered += sorted(fitted - set(ordered), key=natural_key)
    return [(str(place), str(bolt)) for place, bolt in enumerate(ordered, start=1)]


def _rounds(source: Source, step: Step, name: JointId) -> tuple[str, ...]:
    words = source.words
    torques = sorted({row.torque_nm for row in step.stacks if row.joint == name})
    return (words("tighten.hand"), *(_round(source, share, torques) for share in TIGHTENING_PASSES))


def _limit(source: Source, step: Step) -> str:
    """What rules the torques of a step, and how to turn those that no common wrench can be set to."""
    words = source.words
    rules = sorted({row.torque_rule for row in step.stacks if row.torque_rule})
    lines = [words("tighten.limit", rules=words.listed(rules))] if rules else []
    preloads = [preload_n(row, source.settings.hardware.nut_factor) for row in step.stacks if row.torque_nm > 0]
    if preloads and min(preloads) < STRUCTURE_N:
        lines.append(words("tighten.clamps"))
    if any(0 < row.torque_nm < LEAST_WRENCH_NM for row in step.stacks):
        lines.append(words("tighten.low", least=source.units.torque(LEAST_WRENCH_NM)))
    return " ".join(lines)


def _round(source: Source, share: float, torques: Sequence[float]) -> str:
    """One pass: its torque, or in words where none may be stated, or no wrench can be set so low."""
    words = source.words
    if not torques or share * min(torques) <= 0 or (share < 1 and share * min(torques) < LEAST_WRENCH_NM):
        # 'Snug' with a lever is 1 to 3 N m, more than such a final torque: it would break what that protects.
        return words("tighten.fingers" if share < 1 else "tighten.firm")
    return " / ".join(source.units.torque(rounded_down_nm(share * value)) for value in torques)


def _access_rows(source: Source, step: Step) -> tuple[AccessRow, ...]:
    """Bolts reached alike share a line, with the range of the distances; the order is that of their first bolts."""
    nut_tools = {row.bolt: row.nut_tool if row.nut else "" for row in step.stacks}
    groups: dict[tuple[object, ...], list[Access]] = {}
    for row in sorted(step.access, key=lambda row: natural_key(row.bolt)):
        key = (row.tool, nut_tools.get(row.bolt), pattern(row.head), pattern(row.nut), row.is_reachable)
        groups.setdefault(key, []).append(row)
    return tuple(_access_row(source, rows, nut_tools.get(rows[0].bolt, "")) for rows in groups.values())


def _access_row(source: Source, rows: Sequence[Access], nut_tool: str) -> AccessRow:
    words = source.words
    reach = max(row.reach_mm for row in rows)
    nut_parts = words.listed(sorted({row.nut_part for row in rows}, key=natural_key))
    nut_way = merged([row.nut for row in rows])
    is_held = bool(nut_tool) and not nut_way.startswith(CAPTIVE)
    return AccessRow(
        bolts=ranges(row.bolt for row in rows),
        head=words(
            "access.head",
            tool=rows[0].tool,
            part=words.listed(sorted({row.head_part for row in rows}, key=natural_key)),
            way=merged([row.head for row in rows]),
        ),
        nut=words("access.nut_held", tool=nut_tool, part=nut_parts, way=nut_way)
        if is_held
        else words("access.nut", part=nut_parts, way=nut_way),
        reach=source.units.length(reach) if reach > 0 else "",
        is_reachable=rows[0].is_reachable,
    )


def _glue(source: Source, step: Step) -> GlueCard | None:
    if not step.adhesive:
        return None
    words = source.words
    rows = sorted(step.adhesive, key=lambda row: natural_key(row.joint))
    names = sorted({row.name for row in rows})
    return GlueCard(
        title=words("glue.title", name=words.listed(names)),
        rows=tuple(
            GlueRow(
                joint=row.joint,
                amount=quantities.volume(row.volume_ml),
                close_within=quantities.span(row.open_min),
                needed=quantities.duration(row.needed_min),
                free_after=quantities.duration(row.handling_min),
            )
            for row in rows
        ),
        notes=glue_notes(source, step),
        warnings=tuple(_too_slow(words, row) for row in rows if row.needed_min > row.open_min),
        temperatures=temperature_rows(source) if step.place is Place.SITE else (),
    )


def _too_slow(words: Words, row: Bonding) -> str:
    needed, open_time = quantities.duration(row.needed_min), quantities.span(row.open_min)
    return words("glue.too_slow", joint=row.joint, needed=needed, open=open_time)


def _blocks(source: Source, step: Step) -> str:
    if step.hold is None or not step.hold.before:
        return ""
    return source.words("step.hold_blocks", steps=source.words.listed(step.hold.before))


def _checks(source: Source, step: Step) -> tuple[str, ...]:
    words = source.words
    names = []
    if step.stacks:
        is_low = all(row.torque_nm < LEAST_WRENCH_NM for row in step.stacks)
        names += ["by_hand", "thread", "torque_low" if is_low else "torque"]
    if step.joints:
        names += ["seam"]
    if step.adhesive:
        names += ["squeeze", "open_time"]
    if step.stability:
        propped = "propped" if step.hold and not step.stability.is_prop_kept else "propped_on"
        names += [propped if step.stability.needs_prop else "stands"]
    tip = quantities.angle(step.stability.tip_deg) if step.stability else ""
    thread = min((row.protrusion_mm for row in step.stacks), default=0.0)
    gaps = {"seam": f"{source.settings.seam_step_mm:g}", "tip": tip, "thread": f"{thread:.0f}"}
    return tuple(words(f"check.{name}", **gaps) for name in names)
