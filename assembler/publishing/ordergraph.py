"""The order of the build as a drawing: a lane for each bench, a row for each step, branches and waits in sight."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from assembler.figure.ids import BenchId, PartId, StepNumber, natural_key
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan, Step
from assembler.publishing.pages import Diagram
from assembler.publishing.source import split_gates
from assembler.publishing.wording import ranges
from assembler.publishing.words import Words

WIDTH_MM, COLUMN_MM, TOP_MM = 174.0, 212.0, 11.0
LANE_MAX_MM, LANES_MM, LEFT_MM = 20.0, 60.0, 1.0
"""Width of a lane, of all lanes together, and what the first dot needs beside its lane."""
BENCH_MM = 17.0
"""From this width of a lane its head has room for the word."""
ROW_MIN_MM, ROW_MAX_MM = 6.9, 14.0
ROWS_A_PAGE = 30
DOT_MM, TEXT_MM, SMALL_MM = 3.1, 3.5, 3.36
LETTER_SHARE = 0.49
"""Mean width of a letter as a share of its height, on the wide side."""
THUMBNAILS = 3
INK, QUIET, LANE_FILL, RULE = "#1b1b1b", "#4c4b47", "#f1efea", "#c9c7c0"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Grid:
    """Where lanes and rows are."""

    benches: tuple[BenchId, ...]
    rows: Mapping[StepNumber, int]
    lane_mm: float
    row_mm: float
    a_page: int

    def page(self, number: StepNumber) -> int:
        return self.rows[number] // self.a_page

    def x(self, step: Step) -> float:
        return LEFT_MM + self.lane_mm * (self.benches.index(step.bench) + 0.5)

    def y(self, number: StepNumber) -> float:
        return TOP_MM + self.row_mm * (self.rows[number] % self.a_page + 0.5)

    @property
    def text_x(self) -> float:
        return self.lane_mm * len(self.benches) + 6.0


def order_diagrams(plan: Plan, thumbnails: Mapping[PartId, Picture], words: Words) -> tuple[Diagram, ...]:
    """The order on as many sheets as it takes; none for a plan without steps.

    Parameters
    ----------
    plan
        Steps in the order of the book.
    thumbnails
        By part; shown beside the step that moves it, where it moves few.
    words
        The catalogue.
    """
    if not plan.steps:
        return ()
    benches = tuple(sorted({step.bench for step in plan.steps}, key=natural_key))
    sheets = math.ceil(len(plan.steps) / ROWS_A_PAGE)
    shown = math.ceil(len(plan.steps) / sheets)
    grid = _Grid(
        benches=benches,
        rows={step.number: row for row, step in enumerate(plan.steps)},
        lane_mm=min(LANE_MAX_MM, LANES_MM / len(benches)),
        row_mm=min(max(COLUMN_MM / shown, ROW_MIN_MM), ROW_MAX_MM),
        a_page=shown,
    )
    pages = range(grid.page(plan.steps[-1].number) + 1)
    return tuple(_page(plan, grid, page, thumbnails, words) for page in pages)


def _page(plan: Plan, grid: _Grid, page: int, thumbnails: Mapping[PartId, Picture], words: Words) -> Diagram:
    here = [step for step in plan.steps if grid.page(step.number) == page]
    height = TOP_MM + grid.row_mm * len(here) + 1.0
    pieces = [_lanes(grid, words, height)]
    pieces += [_branches(plan, grid, step, page) for step in here]
    pieces += [_row(plan, grid, step, thumbnails, words) for step in here]
    return Diagram(
        width_mm=WIDTH_MM,
        height_mm=height,
        body_svg="".join(pieces),
        alt=words("order.alt", first=here[0].number, last=here[-1].number, benches=", ".join(grid.benches)),
    )


def _lanes(grid: _Grid, words: Words, height: float) -> str:
    pieces = []
    for lane, bench in enumerate(grid.benches):
        x = LEFT_MM + grid.lane_mm * (lane + 0.5)
        head = words("order.bench", bench=bench) if grid.lane_mm > BENCH_MM else str(bench)
        pieces.append(
            f'<rect x="{x - grid.lane_mm / 2 + 0.6:.2f}" y="{TOP_MM - 3:.2f}" width="{grid.lane_mm - 1.2:.2f}" '
            f'height="{height - TOP_MM + 3:.2f}" fill="{LANE_FILL}"/>'
            f'<text x="{x:.2f}" y="5.2" font-size="{TEXT_MM}" font-weight="bold" text-anchor="middle" fill="{INK}">'
            f"{escape(head)}</text>"
        )
    return "".join(pieces)


def _branches(plan: Plan, grid: _Grid, step: Step, page: int) -> str:
    """A line from each step that has to be done before, dashed where a hold lies between.

    Waits that an earlier step has kept already are left out: they would cover the page with lines.
    """
    steps = {other.number: other for other in plan.steps}
    waits = {gate.step for gate in split_gates(plan, step)[0]}
    pieces = []
    for name in sorted({*step.after, *waits} & set(steps), key=natural_key):
        x1, x2, y2 = grid.x(steps[name]), grid.x(step), grid.y(step.number)
        y1 = grid.y(name) if grid.page(name) == page else TOP_MM - 3
        dash = ' stroke-dasharray="1.6 1.1"' if name in waits else ""
        way = f"M{x1:.2f} {y1:.2f} L{x2:.2f} {y2:.2f}"
        if x1 != x2:
            bend = max(y1, y2 - grid.row_mm * 0.8)
            middle = (x1 + x2) / 2
            way = f"M{x1:.2f} {y1:.2f} V{bend:.2f} Q{x1:.2f} {y2:.2f} {middle:.2f} {y2:.2f} H{x2:.2f}"
        pieces.append(f'<path d="{way}" fill="none" stroke="{INK}" stroke-width="0.6"{dash}/>')
    return "".join(pieces)


def _row(plan: Plan, grid: _Grid, step: Step, thumbnails: Mapping[PartId, Picture], words: Words) -> str:
    x, y = grid.x(step), grid.y(step.number)
    fill, ink = (INK, "#ffffff") if step.is_critical else ("#ffffff", INK)
    pictures = [thumbnails[name] for name in step.moves if name in thumbnails]
    pictures = pictures if len(pictures) <= THUMBNAILS else []
    side = grid.row_mm - 1.0
    right = WIDTH_MM - side * len(pictures)
    letters = int((right - grid.text_x) / (TEXT_MM * LETTER_SHARE))
    small = int((right - grid.text_x) / (SMALL_MM * LETTER_SHARE))
    lines = (
        f'<line x1="{x + DOT_MM:.2f}" y1="{y:.2f}" x2="{grid.text_x - 2:.2f}" y2="{y:.2f}" '
        f'stroke="{RULE}" stroke-width="0.25"/>'
        f'<line x1="{grid.text_x:.2f}" y1="{y + grid.row_mm / 2:.2f}" x2="{WIDTH_MM}" y2="{y + grid.row_mm / 2:.2f}" '
        f'stroke="{RULE}" stroke-width="0.2"/>'
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{DOT_MM}" fill="{fill}" stroke="{INK}" stroke-width="0.5"/>'
        f'<text x="{x:.2f}" y="{y + 1.35:.2f}" font-size="{TEXT_MM}" font-weight="bold" text-anchor="middle" '
        f'fill="{ink}">{escape(step.number)}</text>'
        f'<text x="{grid.text_x:.2f}" y="{y - 0.3:.2f}" font-size="{TEXT_MM}" font-weight="bold" fill="{INK}">'
        f"{escape(_clipped(step.title, letters))}</text>"
        f'<text x="{grid.text_x:.2f}" y="{y + 3.1:.2f}" font-size="{SMALL_MM}" fill="{QUIET}">'
        f"{escape(_clipped(_second_line(plan, step, words), small))}</text>"
    )
    images = "".join(
        f'<image href={quoteattr(picture.file)} x="{WIDTH_MM - side * (i + 1):.2f}" y="{y - side / 2:.2f}" '
        f'width="{side:.2f}" height="{side:.2f}"/>'
        for i, picture in enumerate(reversed(pictures))
    )
    return lines + images


def _second_line(plan: Plan, step: Step, words: Words) -> str:
    """Joints that the step closes, and what it waits for."""
    new, _ = split_gates(plan, step)
    pieces = []
    if step.joints:
        pieces.append(words("order.closes", joints=ranges(step.joints)))
    if new:
        pieces.append(words("order.waits", steps=ranges(gate.step for gate in new)))
    return " · ".join(pieces)


def _clipped(text: str, letters: int) -> str:
    return text if len(text) <= letters else f"{text[: max(letters - 1, 1)].rstrip()}…"
