"""Labels for parts and bags as a sheet to cut: the number large, and a square code that says the same words.

Goes in: the plan and its hardware. Comes out: labels.pdf. The code holds words, not an address: figure, revision,
number, file, step; any reader shows it without a network. segno makes the codes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import segno

from assembler.figure.hardware import HardwareLine
from assembler.figure.ids import JointId, natural_key
from assembler.figure.plan import Plan
from assembler.figure.settings import Settings
from assembler.figure.shelf import Shelf
from assembler.publishing import quantities
from assembler.publishing.hardwarepages import piece_name, sorted_lines
from assembler.publishing.pages import Diagram
from assembler.publishing.pdf import write_pdf
from assembler.publishing.sheets import sheet_size
from assembler.publishing.templating import Templates
from assembler.publishing.words import Words, load_words

PDF = "labels.pdf"
CODE_MM = 26.0
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
    code
        The square code.
    """

    id: str
    kind: str
    lines: tuple[str, ...]
    step: str
    code: Diagram


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
                step=words("labels.step", step=step) if step else "",
                code=_code(plan, words, part.id, part.file, step),
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
                step=words("labels.step", step=step) if step else "",
                code=_code(plan, words, joint, words("labels.bag"), step),
            )
        )
    return tuple(rows)


def _code(plan: Plan, words: Words, name: str, what: str, step: str) -> Diagram:
    text = words("labels.code", figure=plan.figure_name, revision=plan.revision, name=name, what=what, step=step or "–")
    matrix = tuple(tuple(bool(dark) for dark in row) for row in segno.make(text, error="m", micro=False).matrix)
    size = len(matrix) + 2 * QUIET_MODULES
    dark = "".join(
        f"M{x + QUIET_MODULES} {y + QUIET_MODULES}h1v1h-1z"
        for y, row in enumerate(matrix)
        for x, is_dark in enumerate(row)
        if is_dark
    )
    return Diagram(
        width_mm=CODE_MM,
        height_mm=CODE_MM,
        body_svg=f'<g transform="scale({CODE_MM / size:.5f})"><path d="{dark}" fill="#000000"/></g>',
        alt=text,
    )


def write_labels(
    *,
    plan: Plan,
    settings: Settings,
    hardware: Sequence[HardwareLine],
    out_dir: Path,
    overrides: Path | None = None,
    shelf: Shelf | None = None,
) -> Path:
    """The labels as `labels.pdf`.

    Parameters
    ----------
    plan, settings, hardware
        As handed to `write_book`.
    out_dir
        Folder that exists.
    overrides
        Folder beside the project whose templates and words win.
    shelf
        Asked for pages that were set before.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken.
    BookFolderError
        If the file cannot be written.
    """
    words = load_words(overrides)
    html = Templates(overrides, {"w": words}).filled(
        "labels.html",
        labels=(*part_labels(plan, words), *bag_labels(plan, hardware, words)),
        figure=plan.figure_name,
        revision=plan.revision,
        language=words("book.language"),
        sheet=sheet_size(settings.sheet),
    )
    write_pdf(html, out_dir / PDF, base=out_dir, shelf=shelf)
    return out_dir / PDF
