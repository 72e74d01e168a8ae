"""What lies beside the book in its folder: plan, hardware lists, labels, the change sheet alone.

In: records that can be handed to another process, which writes these files while this one sets the book.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembler.figure.hardware import BuyLine, HardwareLine
from assembler.figure.ids import PartId
from assembler.figure.pictures import Picture
from assembler.figure.plan import Plan
from assembler.figure.printed import PrintedPiece
from assembler.figure.settings import Settings
from assembler.figure.shelf import Shelf
from assembler.projectfiles.planfile import plan_json
from assembler.projectfiles.writing import write_whole
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.labels import write_labels
from assembler.publishing.spreadsheet import hardware_xlsx
from assembler.publishing.tables import hardware_csv
from assembler.publishing.words import load_words
from assembler.recut.changes import Changes


@dataclass(frozen=True, slots=True, kw_only=True)
class Besides:
    """All that these files are made from.

    Parameters
    ----------
    plan, settings, hardware, buy
        As handed to `write_book`.
    out_dir
        Folder of the book; pictures lie in it.
    is_draft
        Marks every page.
    overrides
        Folder beside the project whose templates and words win.
    changes
        What differs from an earlier issue; None: no change sheet.
    was, now
        Small pictures of parts as they were and as they are.
    before
        What the last issue printed: labels that read the same keep their revision.
    shelf
        Asked for what was made before.
    """

    plan: Plan
    settings: Settings
    hardware: Sequence[HardwareLine]
    buy: Sequence[BuyLine]
    out_dir: Path
    is_draft: bool
    overrides: Path | None
    changes: Changes | None
    was: Mapping[PartId, Picture]
    now: Mapping[PartId, Picture]
    before: Mapping[str, PrintedPiece]
    shelf: Shelf


def write_besides(what: Besides) -> dict[str, PrintedPiece]:
    """Write plan.json, hardware.csv, hardware.xlsx, labels.pdf and, after an earlier issue, change-sheet.pdf.

    Returns
    -------
    dict
        What is on each label, by its name.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken; names file and line.
    BookFolderError
        If a picture is missing, or a file cannot be written.
    """
    folder = what.out_dir
    write_whole(folder / "plan.json", plan_json(what.plan))
    write_whole(folder / "hardware.csv", hardware_csv(what.hardware, what.buy))
    write_whole(folder / "hardware.xlsx", hardware_xlsx(what.hardware, what.buy, load_words(what.overrides)))
    if what.changes is not None:
        write_change_sheet(
            what.changes,
            what.settings,
            folder,
            was=what.was,
            now=what.now,
            is_draft=what.is_draft,
            overrides=what.overrides,
        )
    labels = write_labels(
        plan=what.plan,
        settings=what.settings,
        hardware=what.hardware,
        out_dir=folder,
        changes=what.changes,
        before=what.before,
        overrides=what.overrides,
        shelf=what.shelf,
    )
    return dict(labels)
