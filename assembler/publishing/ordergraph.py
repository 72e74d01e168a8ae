"""The order of the build as a drawing: one lane for each bench, one row for each step, branches and waits in sight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from assembler.figure.ids import StepNumber, natural_key
from assembler.figure.plan import Plan, Step
from assembler.publishing.pages import Diagram
from assembler.publishing.words import Words

WIDTH_MM = 168.0
LANE_MM = 21.0
ROW_MIN_MM, ROW_MAX_MM, COLUMN_MM = 9.5, 15.0, 200.0
ROWS_A_PAGE = 21
TOP_MM = 11.0
DOT_MM = 3.3
TEXT_MM = 3.7
INK = "#1b1b1b"
ACCENT = "#0072B2"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spot:
    """Where a step is drawn."""

    page: int
    x: float
    y: float


def order_diagrams(plan: Plan, words: Words) -> tuple[Diagram, ...]:
    """The order on as many sheets as it takes; none for a plan without steps."""
    rows = min(max(len(plan.steps), 1), ROWS_A_PAGE)
    row_mm = min(max(COLUMN_MM / rows, ROW_MIN_MM), ROW_MAX_MM)
    benches = sorted({step.bench for step in plan.steps}, key=natural_key)
    spots = {
        step.number: _Spot(
            page=row // ROWS_A_PAGE,
            x=LANE_MM * (benches.index(step.bench) + 0.5),
            y=TOP_MM + row_mm * (row % ROWS_A_PAGE + 0.5),
        )
        for row, step in enumerate(plan.steps)
    }
    pages = max((spot.page for spot in spots.values()), default=-1) + 1
    return tuple(_page(plan, words, benches, spots, page, row_mm) for page in range(pages))


def _page(
    plan: Plan, words: Words, benches: Sequence[str], spots: Mapping[StepNumber, _Spot], page: int, row_mm: float
) -> Diagram:
    here = [step for step in plan.steps if spots[step.number].page == page]
    height = TOP_MM + row_mm * len(here) + 2
    text_x = LANE_MM * len(benches) + 6
    pieces = [_lanes(benches, words, height)]
    for step in here:
        pieces.extend(_branches(step, spots, page, row_mm))
    for step in here:
        pieces.append(_row(step, spots[step.number], text_x, words))
    return Diagram(
        width_mm=WIDTH_MM,
        height_mm=height,
        body_svg="".join(pieces),
        alt=words("order.alt", first=here[0].number, last=here[-1].number, benches=", ".join(benches)),
    )


def _lanes(benches: Sequence[str], words: Words, height: float) -> str:
    pieces = []
    for lane, bench in enumerate(benches):
        x = LANE_MM * (lane + 0.5)
        pieces.append(
            f'<rect x="{x - LANE_MM / 2 + 0.8:.2f}" y="{TOP_MM - 3:.2f}" width="{LANE_MM - 1.6:.2f}" '
            f'height="{height - TOP_MM + 2:.2f}" fill="#f1efea"/>'
            f'<text x="{x:.2f}" y="4.4" font-size="{TEXT_MM}" font-weight="bold" text-anchor="middle" fill="{INK}">'
            f"{escape(words('order.bench', bench=bench))}</text>"
        )
    return "".join(pieces)


def _branches(step: Step, spots: Mapping[StepNumber, _Spot], page: int, row_mm: float) -> list[str]:
    """Lines from each step that has to be done before: straight in a lane, bent between lanes, dashed for a wait."""
    waits = {gate.step for gate in step.gates}
    end = spots[step.number]
    pieces = []
    for earlier in sorted({*step.after, *waits}, key=natural_key):
        start = spots[earlier]
        y = start.y if start.page == page else TOP_MM - 3
        dash = ' stroke-dasharray="1.6 1.1"' if earlier in waits else ""
        if start.x == end.x:
            way = f"M{start.x:.2f} {y:.2f} L{end.x:.2f} {end.y:.2f}"
        else:
            bend = end.y - row_mm * 0.9
            way = (
                f"M{start.x:.2f} {y:.2f} L{start.x:.2f} {max(y, bend):.2f} "
                f"C{start.x:.2f} {end.y:.2f} {start.x:.2f} {end.y:.2f} {end.x:.2f} {end.y:.2f}"
            )
        pieces.append(f'<path d="{way}" fill="none" stroke="{INK}" stroke-width="0.55"{dash}/>')
    return pieces


def _row(step: Step, spot: _Spot, text_x: float, words: Words) -> str:
    fill, ink = (INK, "#ffffff") if step.is_critical else ("#ffffff", INK)
    moved = ", ".join(step.moves)
    title = _clipped(step.title, 62)
    waits = sorted({gate.step for gate in step.gates}, key=natural_key)
    second = words("order.moves", parts=_clipped(moved, 40)) if moved else ""
    if waits:
        wait = words("order.waits", steps=", ".join(waits))
        second = f"{second} · {wait}" if second else wait
    return (
        f'<line x1="{spot.x + DOT_MM:.2f}" y1="{spot.y:.2f}" x2="{text_x - 2:.2f}" y2="{spot.y:.2f}" '
        f'stroke="#9a9a94" stroke-width="0.2"/>'
        f'<circle cx="{spot.x:.2f}" cy="{spot.y:.2f}" r="{DOT_MM}" fill="{fill}" stroke="{INK}" stroke-width="0.5"/>'
        f'<text x="{spot.x:.2f}" y="{spot.y + 1.35:.2f}" font-size="{TEXT_MM}" font-weight="bold" text-anchor="middle" '
        f'fill="{ink}">{escape(step.number)}</text>'
        f'<text x="{text_x:.2f}" y="{spot.y - 0.2:.2f}" font-size="{TEXT_MM}" fill="{INK}">{escape(title)}</text>'
        f'<text x="{text_x:.2f}" y="{spot.y + 3.5:.2f}" font-size="3.1" fill="#55554f">{escape(second)}</text>'
    )


def _clipped(text: str, letters: int) -> str:
    return text if len(text) <= letters else f"{text[: letters - 1].rstrip()}…"
