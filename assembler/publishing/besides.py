"""What lies beside the book in its folder: plan, hardware lists, labels, the change sheet alone."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from pathlib import Path

from assembler.cache import Cache
from assembler.figure.printed import PrintedPiece
from assembler.projectfiles.planfile import plan_json
from assembler.projectfiles.writing import write_whole
from assembler.publishing.changesheet import write_change_sheet
from assembler.publishing.labels import write_labels
from assembler.publishing.source import Earlier, Source
from assembler.publishing.spreadsheet import hardware_xlsx
from assembler.publishing.tables import hardware_csv


def write_besides(
    source: Source, out_dir: Path, earlier: Earlier, kept: Cache | None = None, executor: Executor | None = None
) -> Mapping[str, PrintedPiece]:
    """Write plan.json, hardware.csv, hardware.xlsx, labels.pdf and, after an earlier issue, change-sheet.pdf.

    Parameters are those of `write_book`.

    Returns
    -------
    mapping
        What is on each label, by its name.

    Raises
    ------
    TemplateError
        If an override, or the catalogue, is broken; names file and line.
    BookFolderError
        If a picture is missing, or a file cannot be written.
    """
    write_whole(out_dir / "plan.json", plan_json(source.plan))
    write_whole(out_dir / "hardware.csv", hardware_csv(source.hardware, source.buy))
    write_whole(out_dir / "hardware.xlsx", hardware_xlsx(source.hardware, source.buy, source.words))
    if earlier.changes is not None:
        write_change_sheet(
            earlier.changes,
            source.settings,
            out_dir,
            was=earlier.was,
            now=source.pictures.thumbnails,
            is_draft=source.is_draft,
            overrides=source.overrides,
        )
    return write_labels(source, out_dir, earlier, kept, executor)
