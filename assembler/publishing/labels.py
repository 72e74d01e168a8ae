"""Labels for parts and bags as sheets to cut: the number large, and a square code that says the same words.

Goes in: the plan and its hardware. Comes out: labels.pdf. The code holds words, not an address: figure, revision,
number, file, step; any reader shows it without a network. segno makes the codes.

A label keeps the revision in which it last changed: the one that sticks on a part is good as long as the part is. Each
sheet is set on its own, so that a re-cut sets only those that differ.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

import segno

from assembler.cache import Cache
from assembler.figure.hardware import HardwareLine
from assembler.figure.ids import JointId, natural_key
from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.publishing import quantities
from assembler.publishing.binding import Leaves, bound
from assembler.publishing.hardwarepages import piece_name, sorted_lines
from assembler.publishing.pages import Diagram
from assembler.publishing.pdf import Typesetter, save_pdf, set_all
from assembler.publishing.printed import Printed
from assembler.publishing.sheets import sheet_size
from assembler.publishing.source import Earlier, Source
from assembler.publishing.templating import Templates
from assembler.publishing.wording import by_tens
from assembler.words import Words

PDF = "labels.pdf"
CODE_MM = 26.0
ON_A_SHEET = 10
"""Five rows of two, on A4 and on Letter."""
_DARK = re.compile(b"\x01+")
QUIET_MODULES = 4
"""White border that a reader needs round the code (ISO/IEC 18004, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One label.

    Parameters
    ----------
    id
        Printed large.
    kind
        'part' or 'bag' as printed.
    lines
        Below the number.
    step
        Where it is first needed; empty when nowhere.
    what
        What the code calls it: the file of a part, the kind of a bag.
    revision
        Since which it reads so.
    """

    id: str
    kind: str
    lines: tuple[str, ...]
    step: str
    what: str
    revision: str


def part_labels(plan: Plan, words: Words) -> tuple[Label, ...]:
    """One label for each part, in the order of the ids."""
    rows = []
    for part in sorted(plan.parts, key=lambda part: natural_key(part.id)):
        step = next((step.number for step in plan.steps if part.id in (*step.moves, *step.onto)), "")
        rows.append(
            Label(
                id=part.id,
                kind=words("labels.part"),
                lines=(part.file, quantities.mass(part.mass_kg)),
                step=step,
                what=part.file,
                revision=plan.revision,
            )
        )
    return tuple(rows)


def bag_labels(plan: Plan, hardware: Sequence[HardwareLine], words: Words) -> tuple[Label, ...]:
    """One label for the bag of each joint that has hardware, in the order of the ids."""
    rows = []
    for joint in sorted({line.joint for line in hardware if line.joint}, key=natural_key):
        step = next((step.number for step in plan.steps if JointId(joint) in step.joints), "")
        lines = sorted_lines(line for line in hardware if line.joint == joint)
        rows.append(
            Label(
                id=joint,
                kind=words("labels.bag"),
                lines=tuple(f"{line.count} {piece_name(words, line)}" for line in lines),
                step=step,
                what=words("labels.bag"),
                revision=plan.revision,
            )
        )
    return tuple(rows)


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


def _code(text: str) -> Diagram:
    return Diagram(width_mm=CODE_MM, height_mm=CODE_MM, body_svg=square_code(text), alt=text)


def dated(labels: Sequence[Label], printed: Printed, again: Collection[str]) -> tuple[Label, ...]:
    """Labels with the revision in which each last changed.

    Parameters
    ----------
    labels
        Of this book.
    printed
        Knows those of the book before.
    again
        Ids of those that stick on something else than before, however they read.
    """
    found = []
    for label in labels:
        text = repr(replace(label, revision=""))
        since = printed.revision_of(f"label {label.id}", text, is_new=label.id in again)
        found.append(replace(label, revision=since))
    return tuple(found)


def _sheets(labels: Sequence[Label]) -> Iterator[tuple[Label, ...]]:
    """Labels of one kind by tens: one more or less leaves the other sheets as they are."""
    for kind in dict.fromkeys(label.kind for label in labels):
        for run in by_tens((label for label in labels if label.kind == kind), lambda label: label.id).values():
            for start in range(0, len(run), ON_A_SHEET):
                yield run[start : start + ON_A_SHEET]


def write_labels(
    source: Source, out_dir: Path, earlier: Earlier, kept: Cache | None = None, executor: Executor | None = None
) -> Mapping[str, PrintedPiece]:
    """The labels as `labels.pdf`; parameters are those of `write_book`.

    Returns
    -------
    mapping
        What is on each label, by its name, for the book after this one.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken.
    BookFolderError
        If the file cannot be written.
    """
    plan, words, changes = source.plan, source.words, earlier.changes
    templates = Templates(source.overrides, {"w": words})
    printed = Printed(out_dir, earlier.printed, plan.revision)
    again = {label.about for label in changes.labels if label.action == "make"} if changes else set()
    labels = dated((*part_labels(plan, words), *bag_labels(plan, source.hardware, words)), printed, again)
    spans, htmls = [], []
    for on_it in _sheets(labels):
        codes = [_code(code_words(label, plan.figure_name, words)) for label in on_it]
        spans.append(words.span(on_it[0].id, on_it[-1].id))
        htmls.append(
            templates.filled(
                "labels.html",
                labels=zip(on_it, codes, strict=True),
                span=spans[-1],
                figure=plan.figure_name,
                language=words("book.language"),
                sheet=sheet_size(source.settings.sheet),
            )
        )
    results = set_all(Typesetter(base=out_dir, is_piece=True), htmls, kept, executor)
    sheets = [
        Leaves(content=result.content, bookmarks=result.bookmarks, label=span, is_numbered=False)
        for span, result in zip(spans, results, strict=True)
    ]
    if sheets:
        save_pdf(bound(sheets, out_dir), out_dir / PDF)
    return printed.now
