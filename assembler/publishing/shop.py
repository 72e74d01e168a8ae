"""The shop file: what to buy, what goes into which bag, what to pick on which day, joints face-on, labels.

Goes in: what the crew book is composed from. Comes out: page records for shop.html. A label keeps the revision in which
it last changed: the one that sticks on a part is good as long as the part is. Its square code holds words, not an
address, so any reader shows it without a network; segno makes the codes.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from xml.sax.saxutils import escape

import segno

from assembler.figure.ids import natural_key
from assembler.figure.parts import Part
from assembler.figure.plan import Step
from assembler.publishing import quantities
from assembler.publishing.carpentry import CrateTimber, crate_timber
from assembler.publishing.contactsheet import Card, contact_cards
from assembler.publishing.days import shorter
from assembler.publishing.pages import Diagram, PictureBox
from assembler.publishing.pieces import Printed
from assembler.publishing.rings import clock_ring
from assembler.publishing.source import Source, part_name, picture_box, piece_name, sorted_lines
from assembler.publishing.supplies import Supply, supply_rows, to_buy
from assembler.publishing.workdays import day_and_hour
from assembler.words import Words

CODE_MM, RING_MM, UP_MM = 17.0, 15.0, 12.0
QUIET_MODULES = 4
"""White border that a reader needs round the code (ISO/IEC 18004, from memory)."""
_DARK = re.compile(b"\x01+")


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelStock:
    """A sheet of labels of one size, as it is sold: rows and columns, and where the first one lies, mm."""

    width_mm: float
    height_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    gap_mm: float = 0.0


STOCK = {
    "99.1 x 67.7": LabelStock(width_mm=99.1, height_mm=67.7, columns=2, rows=4, left_mm=4.65, top_mm=13.1, gap_mm=2.5),
    "99.1 x 57": LabelStock(width_mm=99.1, height_mm=57.0, columns=2, rows=5, left_mm=4.65, top_mm=6.0, gap_mm=2.5),
    "105 x 74": LabelStock(width_mm=105.0, height_mm=74.0, columns=2, rows=4, left_mm=0.0, top_mm=0.5),
    "101.6 x 84.7": LabelStock(width_mm=101.6, height_mm=84.7, columns=2, rows=3, left_mm=4.0, top_mm=12.7, gap_mm=4.7),
}
"""Sizes of label sheets by their name in figure.toml (from memory: hold a printed sheet against the stock first)."""
USUAL_STOCK = {"A4": "99.1 x 57", "Letter": "101.6 x 84.7"}
"""What is taken where figure.toml names none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label.

    Parameters
    ----------
    id, kind
        Printed large, and 'part' or 'bag' above it.
    lines
        Below the number.
    mass
        Printed large; empty on a bag.
    side
        Left or right of the figure, in words; empty for neither.
    unit
        Section and bench.
    step
        Where it is first needed; empty when nowhere.
    warning
        What is not to be touched; empty where nothing is.
    what
        What the code calls it: the name of a part, the kind of a bag.
    picture, ring, up, code
        The part; the clock of the joint; which way is up; the square code.
    revision
        Since which it reads so.
    """

    id: str
    kind: str
    lines: tuple[str, ...]
    mass: str
    side: str
    unit: str
    step: str
    warning: str
    what: str
    picture: PictureBox | None
    ring: Diagram | None
    up: Diagram | None
    code: Diagram | None = None
    revision: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyRow:
    """One line of the buying list."""

    item: str
    detail: str
    count: str
    spare: str
    total: str
    packs: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PickRow:
    """What one step of a day takes from the shelf."""

    step: str
    bench: str
    parts: str
    bags: str
    adhesive: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopFile:
    """The file page by page.

    Parameters
    ----------
    buy
        The buying list.
    heads, matrix
        Pieces across, bags down: name of the bag, step, count of each.
    days
        Title of each day with what it picks.
    shorter_lead, shorter
        What would make the building shorter: the change, the end it leads to, what it asks for.
    cards
        Joints face-on.
    crates
        What is sawn for each crate.
    labels, stock
        Labels by sheets, and their size.
    notes
        Below the buying list.
    """

    buy: tuple[BuyRow, ...]
    heads: tuple[str, ...]
    matrix: tuple[tuple[str, str, tuple[str, ...]], ...]
    days: tuple[tuple[str, tuple[PickRow, ...]], ...]
    shorter_lead: str
    shorter: tuple[tuple[str, str, str], ...]
    cards: tuple[Card, ...]
    crates: tuple[CrateTimber, ...]
    labels: tuple[tuple[Label, ...], ...]
    stock: LabelStock
    notes: tuple[str, ...]


def shop_file(source: Source, labels: Sequence[Label]) -> ShopFile:
    """Everything that the shop prepares.

    Parameters
    ----------
    source
        What its pages are composed from.
    labels
        Dated, see `dated`.
    """
    stock = STOCK[source.settings.labels or USUAL_STOCK[source.settings.sheet]]
    rows = supply_rows(source)
    heads, matrix = _matrix(source, rows)
    choice, words = source.settings.hardware, source.words
    a_sheet, calendar = stock.columns * stock.rows, source.plan.calendar
    return ShopFile(
        buy=tuple(_buy_rows(source, rows)),
        heads=heads,
        matrix=matrix,
        days=tuple(_days(source)),
        shorter_lead=words(
            "days.shorter_lead", days=words.count("before.days_value", calendar.days if calendar else 0)
        ),
        shorter=shorter(source),
        cards=contact_cards(source.plan.joints, source.plan.parts, source.faces, source.settings, words),
        crates=crate_timber(source),
        labels=tuple(tuple(labels[at : at + a_sheet]) for at in range(0, len(labels), a_sheet)),
        stock=stock,
        notes=(
            words("hardware.spares", percent=f"{choice.spares_percent:g}", least=choice.spares_least),
            *([words("hardware.surface", corrosion=choice.corrosion)] if choice.corrosion else []),
            *([words("hardware.locking", locking=choice.locking)] if choice.locking else []),
            words("hardware.estimate"),
        ),
    )


def _buy_rows(source: Source, rows: Sequence[Supply]) -> Iterator[BuyRow]:
    words = source.words
    for row in to_buy(rows):
        one = row.first
        size = f"{one.size} × {one.length_mm:g}" if one.length_mm else one.size
        unit = "" if one.unit == "pieces" else f"{quantities.NO_BREAK}{one.unit}"
        yield BuyRow(
            item=one.item,
            detail=" · ".join(text for text in (one.standard, size, one.grade) if text),
            count=_amount(row.count, unit) or words("supply.as_needed"),
            spare=_amount(row.spare, unit),
            total=_amount(row.count + row.spare, unit),
            packs=str(row.packs) if row.packs else "",
        )


def _amount(value: float, unit: str) -> str:
    return f"{value:.10g}{unit}" if value else ""


def _matrix(
    source: Source, rows: Sequence[Supply]
) -> tuple[tuple[str, ...], tuple[tuple[str, str, tuple[str, ...]], ...]]:
    """Counts of each kind of piece in each bag."""
    bags = [row for row in rows if row.joint and row.bag == row.joint]
    names = {(row.item, row.size, row.length_mm): _short_name(row) for row in bags}
    counts: dict[tuple[str, str], dict[tuple[str, str, float], float]] = {}
    for row in bags:
        cell = counts.setdefault((row.bag, row.step), {})
        key = (row.item, row.size, row.length_mm)
        cell[key] = cell.get(key, 0.0) + row.count
    lines = tuple(
        (bag, step, tuple(_amount(cell.get(key, 0.0), "") for key in names)) for (bag, step), cell in counts.items()
    )
    return tuple(names.values()), lines


def _short_name(row: Supply) -> str:
    size = f"{row.size} × {row.length_mm:g}" if row.length_mm else row.size
    return f"{row.standard or row.item} {size}"


def _days(source: Source) -> Iterator[tuple[str, tuple[PickRow, ...]]]:
    """What is picked on each day, in the order in which the steps begin."""
    words = source.words
    begun: dict[int, list[Step]] = {}
    for step in sorted(
        source.plan.steps, key=lambda step: (source.shifts[step.number].start, natural_key(step.number))
    ):
        begun.setdefault(day_and_hour(source.shifts[step.number].start)[0], []).append(step)
    for day, steps in sorted(begun.items()):
        rows = tuple(_pick_row(source, step) for step in steps)
        yield words("days.day", day=day), tuple(row for row in rows if row.parts or row.bags or row.adhesive)


def _pick_row(source: Source, step: Step) -> PickRow:
    fresh = [name for name in (*source.first_laid(step), *step.moves) if source.arrival(name) is step]
    bags = sorted({line.joint for line in step.hardware}, key=natural_key)
    return PickRow(
        step=step.number,
        bench=step.bench,
        parts=", ".join(f"{name} {part_name(source.part(name))}" for name in sorted(fresh, key=natural_key)),
        bags=", ".join(bags),
        adhesive=", ".join(quantities.volume(row.volume_ml) for row in step.adhesive),
    )


def part_labels(source: Source) -> tuple[Label, ...]:
    """One label for each part, in the order of the ids."""
    words, plan = source.words, source.plan
    bonded = {name for joint in plan.joints if joint.method.is_bonded for name in joint.parts}
    up = up_arrow(words)
    rows = []
    for part in sorted(plan.parts, key=lambda part: natural_key(part.id)):
        step = source.arrival(part.id)
        rows.append(
            Label(
                id=part.id,
                kind=words("labels.part"),
                lines=(part_name(part),),
                mass=source.units.mass(part.mass_kg),
                side=side_of(part, source),
                unit=words("labels.unit", bench=step.bench, section=step.section) if step else "",
                step=step.number if step else "",
                warning=words("labels.glue_face") if part.id in bonded else "",
                what=part_name(part),
                picture=picture_box(source.pictures.thumbnails.get(part.id), words),
                ring=None,
                up=up,
                revision=plan.revision,
            )
        )
    return tuple(rows)


def side_of(part: Part, source: Source) -> str:
    """Whether a part lies left or right in the figure, by its name where that says so.

    A ring half lies on both sides of the middle, so only a shop that writes it into the name of the file is believed.
    """
    names = set(re.split(r"[\W_]+", part_name(part).lower()))
    found = [side for side in ("left", "right") if side in names]
    return source.words(f"labels.{found[0]}") if len(found) == 1 else ""


def bag_labels(source: Source) -> tuple[Label, ...]:
    """One label for the bag of each joint that has hardware or adhesive, in the order of the ids."""
    words, rows = source.words, []
    supplies = [row for row in supply_rows(source) if row.joint]
    for joint in sorted({row.joint for row in supplies}, key=natural_key):
        own = [row for row in supplies if row.joint == joint]
        step = next((step for step in source.plan.steps if joint in step.joints), None)
        lines = sorted_lines(line for line in source.hardware if line.joint == joint)
        bonded = [row for row in own if row.unit == "ml"]
        rows.append(
            Label(
                id=joint,
                kind=words("labels.bag"),
                lines=(
                    *(f"{line.count} {piece_name(words, line)}" for line in lines),
                    *(words("labels.adhesive", volume=quantities.volume(row.count), name=row.item) for row in bonded),
                    *_tools(source, own),
                ),
                mass="",
                side="",
                unit=words("labels.between", parts=words.listed(source.joint(joint).parts)),  # type: ignore[arg-type]
                step=step.number if step else "",
                warning="",
                what=words("labels.bag"),
                picture=None,
                ring=clock_ring(joint, source.hold_min(joint), RING_MM, words),
                up=None,
                revision=source.plan.revision,
            )
        )
    return tuple(rows)


def _tools(source: Source, rows: Sequence[Supply]) -> Iterator[str]:
    """Torque and tool of each screw of a bag."""
    for row in rows:
        if row.torque_nm:
            yield source.words("labels.torque", torque=source.units.torque(row.torque_nm), tool=row.tool)
        elif row.tool and row.grade:
            yield source.words("labels.tool", tool=row.tool)


def up_arrow(words: Words) -> Diagram:
    """Which way is up when the figure stands: the label is stuck on with its arrow upwards."""
    middle = UP_MM / 2.0
    body = (
        f'<path d="M{middle} 0.4 L{UP_MM - 1.5:.2f} {middle} H{middle + 1.8:.2f} V{UP_MM - 3.6:.2f} '
        f'H{middle - 1.8:.2f} V{middle} H1.5 Z" fill="#1b1b1b"/>'
        f'<text x="{middle}" y="{UP_MM:.2f}" font-size="3.4" font-weight="bold" text-anchor="middle" '
        f'fill="#1b1b1b">{escape(words("labels.up"))}</text>'
    )
    return Diagram(width_mm=UP_MM, height_mm=UP_MM + 0.6, body_svg=body, alt=words("labels.up_alt"))


def code_words(label: Label, figure: str, words: Words) -> str:
    """What the square code of a label says."""
    return words(
        "labels.code",
        figure=figure,
        revision=label.revision,
        name=label.id,
        what=label.what,
        step=label.step or words("labels.no_step"),
    )


def square_code(text: str) -> str:
    """The square code of a text, as SVG."""
    rows = [bytes(map(bool, row)) for row in segno.make(text, error="m", micro=False).matrix]
    size = len(rows) + 2 * QUIET_MODULES
    # One stroke for each run of dark modules: drawing square by square takes most of the time of the sheet.
    dark = "".join(
        f"M{found.start() + QUIET_MODULES} {y + QUIET_MODULES + 0.5}h{len(found[0])}"
        for y, row in enumerate(rows)
        for found in _DARK.finditer(row)
    )
    stroke = f'<path d="{dark}" fill="none" stroke="#000000" stroke-width="1"/>'
    return f'<g transform="scale({CODE_MM / size:.5f})">{stroke}</g>'


def dated(
    labels: Sequence[Label], printed: Printed, again: Collection[str], figure: str, words: Words
) -> tuple[Label, ...]:
    """Labels with the revision in which each last changed, and their codes.

    Parameters
    ----------
    labels
        Of this book.
    printed
        Knows those of the book before.
    again
        Ids of those that stick on something else than before, however they read.
    figure, words
        For the codes.
    """
    found = []
    for label in labels:
        # A picture is told by its file and size: its pixels may differ where nobody sees it.
        text = repr(replace(label, revision="", picture=None))
        since = printed.revision_of(f"label {label.id}", text, is_new=label.id in again)
        one = replace(label, revision=since)
        said = code_words(one, figure, words)
        code = Diagram(width_mm=CODE_MM, height_mm=CODE_MM, body_svg=square_code(said), alt=said)
        found.append(replace(one, code=code))
    return tuple(found)
