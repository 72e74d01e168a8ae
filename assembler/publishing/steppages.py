"""One or two pages for each step: what it waits for, the picture, the orders, the bolts, the clocks, the checks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypedDict

from assembler.engineering.fastening import LEAST_WRENCH_NM
from assembler.engineering.patterns import TIGHTENING_PASSES, tightening_order
from assembler.engineering.tightening import rounded_down_nm
from assembler.figure.findings import Finding, Level
from assembler.figure.hardware import Bonding
from assembler.figure.ids import BoltId, JointId, PartId, StepNumber, natural_key
from assembler.figure.joints import Place, Seat
from assembler.figure.parts import Part
from assembler.figure.plan import Access, Hold, Lift, LiftedBy, Step
from assembler.publishing import quantities
from assembler.publishing.cautions import is_by_spanner, step_cautions
from assembler.publishing.closures import closure_of
from assembler.publishing.frontpages import temperature_rows, touched_steps
from assembler.publishing.pages import (
    BoltRow,
    GateLine,
    GlueCard,
    GlueRow,
    Pair,
    PictureBox,
    PieceRow,
    StepLayout,
    StepPage,
)
from assembler.publishing.rings import clock_ring
from assembler.publishing.source import (
    STACK_PICTURE,
    Source,
    part_name,
    picture_box,
    piece_name,
    seen_from,
    sorted_lines,
    split_gates,
    step_anchor,
)
from assembler.publishing.stepwords import orders, torque_within
from assembler.publishing.wording import ids_in, merged, pattern, ranges
from assembler.recut.changes import PagePlace
from assembler.words import Words

CHANGES_TOLD = 4
"""Lines of change on the page of a step; the others are on the change sheet."""
TELLING = 3
"""A finding that touches more steps than these is not printed at each of them."""
FINDINGS_TOLD = 2
"""Findings on the page of a step; all of them are in the engineer's file."""
USUAL_MM = 90.0
"""Height of the pictures of a step whose words were not measured."""
GATE_RING_MM, CLOCK_RING_MM, SMALL_RING_MM = 9.5, 11.5, 8.0
MANY_CLOCKS = 3
"""From so many on, clocks are small."""
SPANNER_MM = 100.0
"""From the bolt to where a spring balance pulls at an open-end spanner (common practice, no source)."""
TURNED_DEG = 5.0
"""A view turned by less than this needs no words."""


class _Marks(TypedDict):
    changed: str
    changes: tuple[str, ...]
    marked: tuple[str, ...]


def step_pages(source: Source) -> tuple[StepPage, ...]:
    """All steps in the order of the plan."""
    return tuple(_step_page(source, step) for step in source.plan.steps)


def _step_page(source: Source, step: Step) -> StepPage:
    words, hold = source.words, step.hold
    return StepPage(
        number=step.number,
        anchor=step_anchor(step.number),
        title=words.text(step.title),
        kind=words(f"step.kind.{step.kind.replace(' ', '_')}"),
        layout=StepLayout(is_short=False, picture_mm=USUAL_MM, close_up_mm=USUAL_MM, close_ups=1),
        gates=_gates(source, step),
        kept=_kept(source, step),
        cells=_cells(source, step),
        picture=_main_picture(source, step),
        close_ups=tuple(close_ups_of(source, step.number)),
        revision=source.revisions.get(step.number, source.plan.revision),
        **_marks(source, step),
        closure=closure_of(source, step),
        orders=orders(source, step),
        bring=_bring(source, step),
        cautions=step_cautions(source, step),
        bolts=tuple(_bolt_rows(source, step)),
        glue=_glue(source, step),
        hold=_hold(source, hold) if hold else "",
        hold_blocks=_blocks(source, step),
        checks=_checks(source, step),
        findings=tuple(
            words("step.finding", level=words(f"findings.level.{row.level}"), message=row.message)
            for row in source.plan.findings
            if row.level is not Level.NOTE and step.number in _told_at(source, row)
        )[:FINDINGS_TOLD],
        why=tuple(words.text(line) for line in step.why),
        signs=tuple(words(f"step.sign.{name}") for name in ("done", "checked", "when")),
    )


def _bring(source: Source, step: Step) -> tuple[Pair, ...]:
    """Parts that are new on the bench, then the bags."""
    parts = (*source.first_laid(step), *sorted(step.moves, key=natural_key))
    bags = sorted({line.joint for line in step.hardware}, key=natural_key)
    return (
        *((str(name), _brought(source, source.part(name))) for name in parts),
        *((str(joint), source.words("step.a_bag")) for joint in bags),
    )


def _brought(source: Source, part: Part) -> str:
    return f"{part_name(part)}, {source.units.mass(part.mass_kg)}"


def _hold(source: Source, hold: Hold) -> str:
    """How long; why, and by which clock time, stands once for the whole book."""
    words = source.words
    return words("step.hold", joints=words.listed(hold.joints), time=quantities.duration(hold.minutes))


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
        changes=(*(words.text(line) for line in mark.words[: CHANGES_TOLD - len(more)]), *more),
        marked=tuple(PagePlace) if is_new else mark.places,
    )


def _told_at(source: Source, finding: Finding) -> tuple[str, ...]:
    numbers = tuple(number for _, number in touched_steps(source, finding))
    return numbers if len(numbers) <= TELLING else ()


def _gates(source: Source, step: Step) -> tuple[GateLine, ...]:
    """A line with a field for the time for each new wait, joints of one step together."""
    words = source.words
    new, _ = split_gates(source.plan, step)
    closers = sorted({gate.step for gate in new}, key=natural_key)
    return tuple(
        GateLine(
            text=words.count("gate.line", len(joints), joints=words.listed(joints), step=closer),
            anchor=step_anchor(closer),
            rings=tuple(clock_ring(joint, source.hold_min(joint), GATE_RING_MM, words) for joint in joints),
        )
        for closer in closers
        for joints in ([gate.joint for gate in new if gate.step == closer],)
    )


def _kept(source: Source, step: Step) -> str:
    """The waits that earlier steps have kept already."""
    _, kept = split_gates(source.plan, step)
    return source.words("gate.kept", joints=ranges(gate.joint for gate in kept)) if kept else ""


def _cells(source: Source, step: Step) -> tuple[Pair, ...]:
    """What the strip says; what is the same in every step is left out. What comes before a step stands in the order."""
    words, steps = source.words, source.plan.steps
    cells = []
    if len({other.place for other in steps}) > 1:
        cells.append((words("cell.place"), words(f"cell.place_value.{step.place}")))
    cells.append((words("cell.bench"), str(step.bench)))
    if len({other.section for other in steps}) > 1:
        cells.append((words("cell.section"), str(step.section)))
    cells.append((words("cell.work"), quantities.duration(step.minutes)))
    if step.lift:
        cells.append((words("cell.lift"), _lift_value(source, step.lift)))
    turned = _turned(source, step)
    if turned:
        cells.append((words("cell.view"), turned))
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
    return picture_box(pictures[0], source.words) if pictures else None


def close_ups_of(source: Source, number: StepNumber) -> list[PictureBox]:
    """Close-ups of a step: flanges square on first, then cuts; how a bolt is stacked stands on a page of its own."""
    pictures = [row for row in source.pictures.steps.get(number, ())[1:] if STACK_PICTURE not in row.file]
    faces = [row for row in pictures if row.width_px <= row.height_px]
    others = [row for row in pictures if row.width_px > row.height_px]
    return [box for row in (*faces, *others) if (box := picture_box(row, source.words))]


def _turned(source: Source, step: Step) -> str:
    """By how much the view has turned against the picture before, where that picture does not say so itself."""
    words, pictures = source.words, source.pictures.steps.get(step.number, ())
    if not pictures or abs(pictures[0].view.turned_deg) < TURNED_DEG or pictures[0].is_turn_told:
        return ""
    side = seen_from(source, pictures[0].view.eye, step.up)
    angle = f"{abs(pictures[0].view.turned_deg):.0f}°"
    return words("step.view_from", side=side, angle=angle) if side else words("step.view_turned", angle=angle)


def _pieces(source: Source, step: Step, joint: JointId) -> tuple[PieceRow, ...]:
    """What the bag of a joint holds, with the references of the picture."""
    pictures = source.pictures.steps.get(step.number, ())
    refs = {what: ref for ref, what in pictures[0].legend} if pictures else {}
    return tuple(
        PieceRow(count=str(line.count), name=piece_name(source.words, line), ref=refs.get(str(line.item), ""))
        for line in sorted_lines(line for line in step.hardware if line.joint == joint)
    )


def _ordered_bolts(source: Source, step: Step, name: JointId) -> list[tuple[str, BoltId]]:
    fitted = {row.bolt for row in step.stacks if row.joint == name}
    ordered = [bolt for bolt in tightening_order(source.joint(name)) if bolt in fitted]
    ordered += sorted(fitted - set(ordered), key=natural_key)
    return [(str(place), bolt) for place, bolt in enumerate(ordered, start=1)]


def _rounds(source: Source, step: Step, name: JointId) -> tuple[str, ...]:
    words = source.words
    torques = sorted({row.torque_nm for row in step.stacks if row.joint == name})
    return (words("tighten.hand"), *(_round(source, share, torques) for share in TIGHTENING_PASSES))


def _round(source: Source, share: float, torques: Sequence[float]) -> str:
    """One pass: its torque, or in words where none may be stated, or no wrench can be set so low."""
    words = source.words
    if not torques or share * min(torques) <= 0 or (share < 1 and share * min(torques) < LEAST_WRENCH_NM):
        # 'Snug' with a lever is 1 to 3 N m, more than such a final torque: it would break what that protects.
        return words("tighten.fingers" if share < 1 else "tighten.firm")
    return " / ".join(source.units.torque(rounded_down_nm(share * value)) for value in torques)


def _bolt_rows(source: Source, step: Step) -> Iterable[BoltRow]:
    """Bolts by joint, those with their heads on one part on one line, each line in the order of tightening.

    Bolts whose heads lie on different parts never share a line: nobody could tell which way round they go.
    """
    access, text = {row.bolt: row for row in step.access}, source.words.text
    for joint in sorted({row.joint for row in step.stacks}, key=natural_key):
        groups: dict[tuple[object, ...], list[tuple[str, BoltId]]] = {}
        for place, bolt in _ordered_bolts(source, step, joint):
            row = access.get(bolt)
            key = (row.head_part, row.nut_part, row.is_reachable) if row else ()
            groups.setdefault(key, []).append((place, bolt))
        pieces, rounds = _pieces(source, step, joint), _rounds(source, step, joint)
        for bolts in groups.values():
            ways = [access[name] for _, name in bolts if name in access]
            reach = max((row.reach_mm for row in ways), default=0.0)
            yield BoltRow(
                joint=joint,
                pieces=pieces,
                head=_ends(source, ways, [(text(row.tool), row.head_part, text(row.head)) for row in ways]),
                nut=_ends(source, ways, [(_nut_tool(source, step, row), row.nut_part, text(row.nut)) for row in ways]),
                nut_title=_nut_title(source, [_nut_tool(source, step, row) for row in ways]),
                reach=source.units.length(reach) if reach > 0 else "",
                rounds=rounds,
                bolts=tuple(bolts),
                is_reachable=all(row.is_reachable for row in ways),
            )
            pieces, rounds = (), ()


def _nut_tool(source: Source, step: Step, row: Access) -> str:
    """What holds the nut; empty for one that sits in its part and needs nothing."""
    seats = next(bolt.seats for joint in source.plan.joints for bolt in joint.bolts if bolt.id == row.bolt)
    if seats[1 - row.head_end] is Seat.CAPTIVE:
        return ""
    tools = (stack.nut_tool for stack in step.stacks if stack.bolt == row.bolt and stack.nut)
    return next((source.words.text(tool) for tool in tools), "")


def _nut_title(source: Source, tools: Sequence[str]) -> str:
    """A nut that has to be held takes somebody else's hands, where there is somebody."""
    is_second = any(tools) and source.settings.crew.people > 1
    return source.words("access.nut_second" if is_second else "access.nut_title")


def _ends(source: Source, ways: Sequence[Access], ends: Sequence[tuple[str, PartId, str]]) -> str:
    """How one end of some bolts is reached: each tool once, and each way with its bolts where there are several.

    What differs in numbers only is one way. All ends lie on one part.
    """
    words = source.words
    groups: dict[str, dict[tuple[str, tuple[str, ...]], list[int]]] = {}
    for place, (tool, _, way) in enumerate(ends):
        groups.setdefault(tool, {}).setdefault((pattern(way), ids_in(way)), []).append(place)
    is_one_way = sum(map(len, groups.values())) == 1
    lines = []
    for tool, found in groups.items():
        said = [merged([ends[place][2] for place in places]) for places in found.values()]
        if not is_one_way:
            bolts = [ranges(ways[place].bolt for place in places) for places in found.values()]
            said = [words("access.for", line=way, bolts=some) for way, some in zip(said, bolts, strict=True)]
        key = "access.with_tool" if tool else "access.without"
        lines.append(words(key, tool=tool, part=ends[0][1], way="; ".join(said)))
    return "; ".join(lines)


def _glue(source: Source, step: Step) -> GlueCard | None:
    if not step.adhesive:
        return None
    words = source.words
    rows = sorted(step.adhesive, key=lambda row: natural_key(row.joint))
    ring_mm = CLOCK_RING_MM if len(rows) < MANY_CLOCKS else SMALL_RING_MM
    return GlueCard(
        rows=tuple(
            GlueRow(
                joint=row.joint,
                ring=clock_ring(row.joint, row.handling_min, ring_mm, words),
                amount=quantities.volume(row.volume_ml),
                close_within=quantities.span(row.open_min),
                torque_within=torque_within(source, step, row),
                free_after=quantities.duration(row.handling_min),
            )
            for row in rows
        ),
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


def _spanner_checks(source: Source, step: Step, by_spanner: set[BoltId]) -> list[str]:
    """How a torque is felt where only an open-end spanner comes to the head: no wrench clicks there."""
    pulls: dict[float, list[BoltId]] = {}
    for row in step.stacks:
        if row.bolt in by_spanner and row.torque_nm > 0:
            pulls.setdefault(row.torque_nm, []).append(row.bolt)
    return [
        source.words(
            "check.spanner",
            bolts=ranges(bolts),
            pull=quantities.pull(torque_nm / (SPANNER_MM / 1000.0)),
            arm=source.units.length(SPANNER_MM),
        )
        for torque_nm, bolts in sorted(pulls.items())
    ]


def _checks(source: Source, step: Step) -> tuple[str, ...]:
    """What is checked here; what is the same at every joint stands on the page on bonding."""
    words = source.words
    checks = []
    if step.stacks:
        by_spanner = {row.bolt for row in step.access if is_by_spanner(row)}
        torques = [row.torque_nm for row in step.stacks if row.bolt not in by_spanner]
        if torques:
            checks.append(words("check.torque_low" if max(torques) < LEAST_WRENCH_NM else "check.torque"))
        checks += _spanner_checks(source, step, by_spanner)
    if step.joints:
        checks.append(words("check.usual"))
    return tuple(checks)
